package holding

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// onHeldHills calls f for drawn trucks on drawn hills that they hold, in the air that
// the classes are stated for; too few are a fault.
func onHeldHills(t *testing.T, f func(t *rapid.T, c vehicle.Class, h Hill, a catalog.Hold)) {
	held := 0
	for range 6 { // sets of drawn hills, until enough of them are held
		if held < 30 {
			drawHeldHills(t, &held, f)
		}
	}
	if held < 30 {
		t.Errorf("only %d hills were held", held)
	}
}

func drawHeldHills(t *testing.T, held *int, f func(t *rapid.T, c vehicle.Class, h Hill, a catalog.Hold)) {
	rapid.Check(t, func(t *rapid.T) {
		for range 4 { // two drawn trucks in three do not hold the drawn hill
			c := genClass(t)
			h, o := genHill(t, true), genOptions(t, c)
			o.TempC = nil
			if a := advise(t, h, c, o); a.Holds {
				*held++
				f(t, c, h, a)
				return
			}
		}
	})
}

// The advice for a mass is safe for every lighter one: worked out again from the
// figures that classes publish, with code of the test's own, over every 200, 100
// and 20 m window of the hill.
func TestAdviceIsSafeForEveryLighterMass(t *testing.T) {
	onHeldHills(t, func(t *rapid.T, c vehicle.Class, h Hill, a catalog.Hold) {
		m := rapid.Float64Range(1000, a.MassKg).Draw(t, "lighter")
		for _, w := range []struct{ lengthM, keep, errPct float64 }{
			{200, 1 - a.ReservePct/100, math.Max(h.LocalErrPct, h.GradeErrPct)}, {100, 1 - a.ReservePct/100, 0}, {20, 1, 0},
		} {
			for at := 0.0; at+w.lengthM <= h.LengthM(); at += 3.7 {
				z0, z1 := heightAt(h, at), heightAt(h, at+w.lengthM)
				pct := 100*(z0-z1)/w.lengthM + w.errPct
				demand := demandW(c.View(), m, pct, z0, a.SpeedMPS)
				// The lower end of the span: its air is thicker, its engine stronger.
				if have := w.keep * haveW(c.View(), a.Ratio, a.SpeedMPS, z0, slices.Max(h.ElevationM)); demand > have*(1+3e-3)+1 {
					t.Fatalf("%.0f kg at %.0f m: demand %.0f W over %.0f W", m, at, demand, have)
				}
			}
		}
	})
}

// A truck that enters at the advised speed, with its retarder governed to it,
// runs down the hill without ever gaining speed (pitches of 20 m and longer).
func TestTheRunDownNeverGainsSpeed(t *testing.T) {
	onHeldHills(t, func(t *rapid.T, c vehicle.Class, h Hill, a catalog.Hold) {
		view := c.View()
		v, at, k := a.SpeedMPS, 0.0, 0
		for at < h.LengthM() {
			for k < len(h.DowngradePct)-1 && at >= h.StationM[k+1] {
				k++
			}
			pct, z := h.DowngradePct[k], h.ElevationM[k]-h.DowngradePct[k]/100*(at-h.StationM[k])
			// The governor takes what keeps or brings back the speed, if it has it.
			pull := demandW(view, a.MassKg, pct, z, v) / v / a.MassKg
			most := haveW(view, a.Ratio, v, z, slices.Max(h.ElevationM)) / v / a.MassKg
			net := pull - most
			if v <= a.SpeedMPS {
				net = pull // it lets the truck gain up to its speed, and no further
			}
			dx := math.Min(5, 0.01*v*v/math.Max(1e-9, math.Abs(net)))
			if v2 := v*v + 2*net*dx; v <= a.SpeedMPS && v2 > a.SpeedMPS*a.SpeedMPS && pull <= most {
				v = a.SpeedMPS
			} else {
				v = math.Max(0.2*a.SpeedMPS, math.Sqrt(math.Max(0, v2)))
			}
			at += dx
			if v > a.SpeedMPS*1.015 {
				t.Fatalf("%.3f m/s at %.0f m, advised %.3f", v, at, a.SpeedMPS)
			}
		}
	})
}

func heightAt(h Hill, atM float64) float64 {
	for i := range h.DowngradePct {
		if atM <= h.StationM[i+1] || i == len(h.DowngradePct)-1 {
			return h.ElevationM[i] - h.DowngradePct[i]/100*(atM-h.StationM[i])
		}
	}
	return math.NaN()
}

// demandW is the demand as the published rule states it.
func demandW(c vehicle.ClassView, massKg, pct, elevationM, v float64) float64 {
	theta := math.Atan(pct / 100)
	rho := 1.225 * math.Pow(1-2.25577e-5*elevationM, 4.25588)
	against := max(0, v-5) // of the tail wind that advice counts on
	push := max(0, 5-v)    // on a flat back of 10 m² with a coefficient of 1.17, in air of −20 °C
	return (massKg*9.80665*(math.Sin(theta)-c.RollingResistance*math.Cos(theta)) - rho/2*c.DragAreaM2*against*against + 1.4/2*11.7*push*push) * v
}

// haveW is the retarders' power as the published rule states it, with a straight
// line in power between the points of the curve. Cooling is that of the hill's highest place.
func haveW(c vehicle.ClassView, ratio, v, elevationM, highestM float64) float64 {
	sum := 0.0
	rpm := v / c.RollingRadiusM * ratio * c.FinalDrive * 60 / (2 * math.Pi)
	for _, r := range c.Retarders {
		if r.Kind == "driveline" {
			sum += math.Min(r.TorqueLimitNm*v/c.RollingRadiusM*c.FinalDrive, r.SustainedPowerW*math.Pow(1-2.25577e-5*highestM, 5.25588)*math.Min(1, rpm/math.Max(1, r.CoolingRPM)))
			continue
		}
		for i := 1; i < len(r.PowerWByRPM); i++ {
			a, b := r.PowerWByRPM[i-1], r.PowerWByRPM[i]
			if rpm >= a[0] && rpm <= b[0]*(1+1e-9) {
				share := math.Max(0, 1-math.Max(0, elevationM-c.AltitudeFullM)/1000*c.AltitudeLossPctPerKM/100)
				sum += (a[1] + (rpm-a[0])/(b[0]-a[0])*(b[1]-a[1])) * (1 + (1-c.DrivelineEfficiency)/2) * share
				break
			}
		}
	}
	return sum
}
