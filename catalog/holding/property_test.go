package holding

import (
	"encoding/json"
	"math"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

func TestHeavierIsNeverFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h, o := genHill(t, rapid.Bool().Draw(t, "heights")), genOptions(t, c)
		a := advise(t, h, c, o)
		o.MassKg = rapid.Float64Range(o.MassKg, c.MassMaxKg).Draw(t, "heavier")
		slower(t, "heavier", a, advise(t, h, c, o))
	})
}

func TestSteeperIsNeverFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h := genHill(t, false)
		o := genOptions(t, c)
		a := advise(t, h, c, o)
		s := h
		s.DowngradePct = append([]float64{}, h.DowngradePct...)
		for i := range s.DowngradePct {
			s.DowngradePct[i] += rapid.Float64Range(0, 2).Draw(t, "steeper")
		}
		slower(t, "steeper", a, advise(t, s, c, o))
		b := h
		b.LocalErrPct += 0.5
		slower(t, "less certain", a, advise(t, b, c, o))
	})
}

func TestLongerIsNeverFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h := genHill(t, true)
		h.RadiusM = nil
		o := genOptions(t, c)
		// Cut below some node: the whole is never faster than the part above it.
		if n := len(h.DowngradePct); n > 1 {
			k := rapid.IntRange(1, n-1).Draw(t, "cut")
			part := h
			part.StationM, part.DowngradePct, part.ElevationM = h.StationM[:k+1], h.DowngradePct[:k], h.ElevationM[:k+1]
			// A part under 100 m is judged over its own length, the whole is not.
			if part.LengthM() >= windowM {
				slower(t, "longer", advise(t, part, c, o), advise(t, h, c, o))
			}
		}
		g, m := rapid.Float64Range(1, 12).Draw(t, "plain grade"), rapid.Float64Range(100, 20000).Draw(t, "plain length")
		slower(t, "longer plain", advise(t, PlainHill(g, m), c, o), advise(t, PlainHill(g, 2*m), c, o))
	})
}

func TestHigherIsNeverFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h := genHill(t, true)
		o := genOptions(t, c)
		a := advise(t, h, c, o)
		up := rapid.Float64Range(0, 1400).Draw(t, "higher")
		b := h
		b.ElevationM = append([]float64{}, h.ElevationM...)
		for i := range b.ElevationM {
			b.ElevationM[i] += up
		}
		slower(t, "higher", a, advise(t, b, c, o))
	})
}

func TestMoreRetarderIsNeverSlower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h := genHill(t, rapid.Bool().Draw(t, "heights"))
		o := genOptions(t, c)
		b := advise(t, h, c, o)
		more := c
		more.Truck.Retarders = nil
		for _, r := range c.Truck.Retarders {
			k := rapid.Float64Range(1, 1.5).Draw(t, "more")
			var stages []vehicle.Curve
			for _, s := range r.Stages {
				stages = append(stages, s.Scaled(k))
			}
			r.Stages, r.TorqueLimitNm, r.SustainedPowerW = stages, r.TorqueLimitNm*k, r.SustainedPowerW*k
			more.Truck.Retarders = append(more.Truck.Retarders, r)
		}
		slower(t, "less retarder", advise(t, h, more, o), b)
		o.ReservePct = math.Min(60, c.Truck.ReservePct+10)
		slower(t, "more reserve", b, advise(t, h, c, o))
	})
}

func TestSplittingAHillChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		o := genOptions(t, c)
		h := genHill(t, false)
		h.RadiusM = nil
		s := h
		s.StationM, s.DowngradePct = []float64{0}, nil
		for i, g := range h.DowngradePct {
			at := h.StationM[i] + rapid.Float64Range(0.2, 0.8).Draw(t, "at")*(h.StationM[i+1]-h.StationM[i])
			s.StationM = append(s.StationM, at, h.StationM[i+1])
			s.DowngradePct = append(s.DowngradePct, g, g)
		}
		a, b := advise(t, h, c, o), advise(t, s, c, o)
		if a.SpeedMPS != b.SpeedMPS || a.Gear != b.Gear || a.Holds != b.Holds || math.Abs(a.HeaviestMassKg-b.HeaviestMassKg) > 0.01 {
			t.Fatalf("gear %d %.3f m/s %.3f kg, split: gear %d %.3f m/s %.3f kg", a.Gear, a.SpeedMPS, a.HeaviestMassKg, b.Gear, b.SpeedMPS, b.HeaviestMassKg)
		}
	})
}

// The advice is what it says: a whole speed, in the band, within the reserve,
// under every ceiling, in the highest gear, at no more than the heaviest mass.
func TestAdviceKeepsItsOwnRules(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h, o := genHill(t, rapid.Bool().Draw(t, "heights")), genOptions(t, c)
		a := advise(t, h, c, o)
		if _, err := json.Marshal(a); err != nil {
			t.Fatalf("no JSON: %v", err)
		}
		if a.Words.US == "" || a.Words.Metric == "" || a.LimitedBy == "" || len(a.Sensitivity) < 5 || len(a.Gears) != len(c.Truck.GearRatios) {
			t.Fatalf("incomplete: %+v", a)
		}
		if a.Holds != (a.HeaviestMassKg >= a.MassKg) {
			t.Fatalf("holds %v at %.1f kg, heaviest %.1f kg", a.Holds, a.MassKg, a.HeaviestMassKg)
		}
		if !a.Holds {
			if a.Gear != 0 || a.SpeedMPS != 0 || a.Stage != 0 || a.ServiceBrakeTempC == nil || a.MissingPowerW < 0 {
				t.Fatalf("not held, yet %+v", a)
			}
			return
		}
		whole := a.SpeedMPS / o.Units.SpeedUnitMPS()
		if math.Abs(whole-math.Round(whole)) > 1e-9 {
			t.Fatalf("%.6f is no whole speed", whole)
		}
		if a.EngineRPM < c.Truck.EngineMinRPM*(1-1e-6) || a.EngineRPM > c.Truck.EngineMaxRPM*(1+1e-6) {
			t.Fatalf("%.0f rpm outside the band", a.EngineRPM)
		}
		if a.RetarderUsePct > 100-a.ReservePct+1e-9 || a.DemandPowerW > a.AvailablePowerW*(1+1e-9) {
			t.Fatalf("%.2f %% of the retarder, reserve %.2f %%", a.RetarderUsePct, a.ReservePct)
		}
		for _, l := range a.Limits {
			if a.SpeedMPS > l.SpeedMPS*(1+1e-6) {
				t.Fatalf("%.3f m/s over %s at %.3f", a.SpeedMPS, l.Reason, l.SpeedMPS)
			}
		}
		best := 0.0
		for _, g := range a.Gears {
			best = math.Max(best, g.SpeedMPS)
		}
		if best != a.SpeedMPS {
			t.Fatalf("a gear holds %.3f m/s, advised %.3f", best, a.SpeedMPS)
		}
	})
}

// At the heaviest mass it holds, a gram more it doesn't.
func TestHeaviestMassIsTheEdge(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h, o := genHill(t, false), genOptions(t, c)
		a := advise(t, h, c, o)
		if a.HeaviestMassKg >= c.MassMaxKg || a.HeaviestMassKg < 1000 {
			return // the class can't be loaded so, or no mass holds
		}
		o.MassKg = a.HeaviestMassKg
		if !advise(t, h, c, o).Holds {
			t.Fatalf("%.3f kg is said to hold and doesn't", o.MassKg)
		}
		o.MassKg += 0.01
		if o.MassKg <= c.MassMaxKg && advise(t, h, c, o).Holds {
			t.Fatalf("%.3f kg holds, heaviest was %.3f", o.MassKg, a.HeaviestMassKg)
		}
	})
}

// The advice for a mass is safe for every lighter one: worked out again from the
// figures that classes publish, with code of the test's own, over every 100 m
// and 20 m window of the hill.
func TestAdviceIsSafeForEveryLighterMass(t *testing.T) {
	held := 0
	defer func() {
		if held < 30 {
			t.Errorf("only %d hills were held", held)
		}
	}()
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h, o := genHill(t, true), genOptions(t, c)
		o.TempC = nil
		a := advise(t, h, c, o)
		if !a.Holds {
			return
		}
		held++
		m := rapid.Float64Range(1000, a.MassKg).Draw(t, "lighter")
		for _, w := range []struct{ lengthM, keep, errPct float64 }{
			{100, 1 - a.ReservePct/100, math.Max(h.LocalErrPct, h.GradeErrPct)}, {20, 1, 0},
		} {
			for at := 0.0; at+w.lengthM <= h.LengthM(); at += 3.7 {
				z0, z1 := heightAt(h, at), heightAt(h, at+w.lengthM)
				pct := 100*(z0-z1)/w.lengthM + w.errPct
				demand := demandW(c.View(), m, pct, z0, a.SpeedMPS)
				// The lower end of the span: its air is thicker, its engine stronger.
				if have := w.keep * haveW(c.View(), a.Ratio, a.SpeedMPS, z0); demand > have*(1+3e-3)+1 {
					t.Fatalf("%.0f kg at %.0f m: demand %.0f W over %.0f W", m, at, demand, have)
				}
			}
		}
	})
}

// A truck that enters at the advised speed, with its retarder governed to it,
// runs down the hill without ever gaining speed (pitches of 20 m and longer).
func TestTheRunDownNeverGainsSpeed(t *testing.T) {
	held := 0
	defer func() {
		if held < 30 {
			t.Errorf("only %d hills were held", held)
		}
	}()
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h, o := genHill(t, true), genOptions(t, c)
		o.TempC = nil
		a := advise(t, h, c, o)
		if !a.Holds {
			return
		}
		held++
		view := c.View()
		v, at, k := a.SpeedMPS, 0.0, 0
		for at < h.LengthM() {
			for k < len(h.DowngradePct)-1 && at >= h.StationM[k+1] {
				k++
			}
			pct, z := h.DowngradePct[k], h.ElevationM[k]-h.DowngradePct[k]/100*(at-h.StationM[k])
			// The governor takes what keeps or brings back the speed, if it has it.
			pull := demandW(view, a.MassKg, pct, z, v) / v / a.MassKg
			most := haveW(view, a.Ratio, v, z) / v / a.MassKg
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
	return (massKg*9.80665*(math.Sin(theta)-c.RollingResistance*math.Cos(theta)) - rho/2*c.DragAreaM2*v*v) * v
}

// haveW is the retarders' power as the published rule states it, with a straight
// line in power between the points of the curve.
func haveW(c vehicle.ClassView, ratio, v, elevationM float64) float64 {
	sum := 0.0
	rpm := v / c.RollingRadiusM * ratio * c.FinalDrive * 60 / (2 * math.Pi)
	for _, r := range c.Retarders {
		if r.Kind == "driveline" {
			sum += math.Min(r.TorqueLimitNm*v/c.RollingRadiusM*c.FinalDrive, r.SustainedPowerW)
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

// A plain grade agrees with the closed form. With nothing but a driveline
// retarder at its sustained power P, the highest speed v solves the cubic
// ½ρCdA·v³ − m·A·v + (1 − r)·P = 0: the smaller of its two positive roots.
func TestPlainGradeAgreesWithTheClosedForm(t *testing.T) {
	compared := 0
	defer func() {
		if compared < 10 {
			t.Errorf("only %d grades were compared", compared)
		}
	}()
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		P := rapid.Float64Range(60e3, 300e3).Draw(t, "P")
		c.Truck.Retarders = []vehicle.Retarder{{Kind: vehicle.DrivelineRetarder, CoolingTempC: 40, StageSharePct: []float64{100}, TorqueLimitNm: 20000, SustainedPowerW: P}}
		c.SpeedMaxMPS = 40
		g := rapid.Float64Range(3, 9).Draw(t, "grade")
		o := Options{Units: catalog.Metric}
		if rapid.Bool().Draw(t, "us") {
			o.Units = catalog.US
		}
		theta := math.Atan(g / 100)
		mA := c.MassMaxKg * 9.80665 * (math.Sin(theta) - c.Truck.RollingResistance*math.Cos(theta))
		B := vehicle.AirDensityKgM3(PlainAltitudeM, nil) / 2 * c.Truck.DragAreaM2
		q := (1 - c.Truck.ReservePct/100) * P
		// v³ − 3a²·v + 2b = 0, a² = mA/3B, 2b = q/B: v = 2a·cos((arccos(−b/a³) + 4π)/3).
		a := math.Sqrt(mA / (3 * B))
		if q/(2*B) >= a*a*a {
			return // the drag and the retarder hold it at any speed
		}
		third := math.Acos(-q/(2*B)/(a*a*a)) / 3
		v := 2 * a * math.Cos(third+4*math.Pi/3)
		if 2*a*math.Cos(third) < 45 {
			return // beyond the largest root drag alone holds it again
		}
		top := c.Truck.SpeedFromRPM(len(c.Truck.GearRatios), c.Truck.EngineMaxRPM)
		low := c.Truck.SpeedFromRPM(1, c.Truck.EngineMinRPM)
		torqueV := P / (20000 * c.Truck.FinalDrive / c.Truck.RollingRadiusM) // above it the power is the sustained one
		u := o.Units.SpeedUnitMPS()
		want := math.Floor(v/u) * u
		if v > top || v > 40 || want < math.Max(low, torqueV)+u || math.Abs(v/u-math.Round(v/u)) < 1e-6 {
			return
		}
		// Between two gears whose bands don't meet nothing can be held.
		held := false
		for i := range c.Truck.GearRatios {
			held = held || c.Truck.HasEngineSpeed(i+1, want)
		}
		h := advise(t, PlainHill(g, 5000), c, o)
		if grips := (math.Sin(theta)-c.Truck.RollingResistance*math.Cos(theta))/math.Cos(theta) <= vehicle.DryFriction()*c.Truck.RetardedShare(); !grips {
			if h.Holds {
				t.Fatal("holds without grip")
			}
			return
		}
		for _, l := range h.Limits {
			if l.SpeedMPS < want {
				return
			}
		}
		compared++
		if held && math.Abs(h.SpeedMPS-want) > 1e-9 {
			t.Fatalf("%.4f m/s, closed form %.4f rounded down to %.4f", h.SpeedMPS, v, want)
		}
	})
}
