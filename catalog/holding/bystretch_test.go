package holding

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
)

// One tight curve in 15 km of gentle hill: it slows its own stretch and the way into it,
// and not the rest; the single answer stays the curve's.
func TestACurveSlowsItsOwnStretch(t *testing.T) {
	c := mustClass(t, "us-5axle")
	h := Hill{StationM: []float64{0}, RadiusM: []float64{math.Inf(1)}}
	for i := 1; i <= 150; i++ {
		h.StationM = append(h.StationM, float64(i)*100)
		h.DowngradePct = append(h.DowngradePct, 4)
		h.RadiusM = append(h.RadiusM, math.Inf(1))
	}
	h.RadiusM[60] = 60 // 36 km/h
	a := advise(t, h, c, Options{})
	if a.LimitedBy != catalog.LimitCurve || len(a.Stretches) < 3 {
		t.Fatalf("%s, %d stretches: %+v", a.LimitedBy, len(a.Stretches), a.Stretches)
	}
	slow, timeS := 0.0, 0.0
	for _, s := range a.Stretches {
		timeS += (s.ToM - s.FromM) / s.SpeedMPS
		if s.SpeedMPS < a.SpeedMPS*1.2 {
			slow += s.ToM - s.FromM
		}
		if s.FromM <= 6000 && s.ToM >= 6000 && s.SpeedMPS > a.SpeedMPS+1e-9 {
			t.Errorf("%.1f m/s at the curve, advised %.1f", s.SpeedMPS, a.SpeedMPS)
		}
	}
	if slow > 2000 {
		t.Errorf("%.0f m at the curve's speed", slow)
	}
	if math.Abs(timeS-a.TimeS) > 1e-6*timeS || a.TimeS >= h.LengthM()/a.SpeedMPS {
		t.Errorf("%.0f s, by stretch %.0f s", a.TimeS, timeS)
	}
}

// A steep part after a gentle one is entered already in its gear, unless a shift before it
// leaves the engine under its governed speed after five seconds with nothing to hold it.
func TestAShiftOnTheGradeStaysUnderTheGovernedSpeed(t *testing.T) {
	shifts := 0
	for range 200 { // of drawn sets of twenty, the short form, one in eight has a shift
		if checkShifts(t, &shifts); shifts > 0 {
			return
		}
	}
	t.Error("no shift was ever advised")
}

// checkShifts follows the advice by stretch over a set of drawn hills and counts shifts.
func checkShifts(t *testing.T, shifts *int) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h := genHill(t, true)
		o := genOptions(t, c)
		a := advise(t, h, c, o)
		if !a.Holds {
			return
		}
		at, slowest := 0.0, math.Inf(1)
		for i, s := range a.Stretches {
			if math.Abs(s.FromM-at) > 1e-6 || s.ToM <= s.FromM || s.SpeedMPS < a.SpeedMPS-1e-9 && s.Gear == a.Gear {
				t.Fatalf("stretch %d: %+v after %.1f m, advised %.2f m/s", i, s, at, a.SpeedMPS)
			}
			at, slowest = s.ToM, math.Min(slowest, s.SpeedMPS)
			governed := c.Truck.SpeedFromRPM(s.Gear, c.Truck.EngineMaxRPM)
			if !c.Truck.HasEngineSpeed(s.Gear, s.SpeedMPS) || s.SpeedMPS > governed {
				t.Fatalf("stretch %d: %.2f m/s in gear %d", i, s.SpeedMPS, s.Gear)
			}
			if i == 0 || s.Gear == a.Stretches[i-1].Gear {
				continue
			}
			*shifts++
			if s.Slowing != nil { // with the foot on the brake
				continue
			}
			// By hand: the steepest 20 m within 500 m either way, its drag left out of the count.
			v := math.Min(s.SpeedMPS, a.Stretches[i-1].SpeedMPS)
			pull := 0.0
			for x := math.Max(0, s.FromM-20); x < math.Min(h.LengthM()-20, s.FromM+20); x += 5 {
				pct := 100 * (heightAt(h, x) - heightAt(h, x+20)) / 20
				pull = math.Max(pull, vehicle.PullMPS2(pct, c.Truck.RollingResistance)-0.6*c.Truck.DragAreaM2*v*v/a.MassKg)
			}
			if v+5*pull > governed*(1+1e-6) {
				t.Fatalf("shift into gear %d at %.2f m/s: %.2f m/s after five seconds, governed %.2f", s.Gear, v, v+5*pull, governed)
			}
		}
		if math.Abs(at-h.LengthM()) > 1e-6 {
			t.Fatalf("the stretches end at %.1f of %.1f m", at, h.LengthM())
		}
	})
}

// Backward along the line the stretches fall with the stations, and the same hill has the
// same stretches.
func TestStretchesRunInTravel(t *testing.T) {
	c := mustClass(t, "ca-tridem")
	h := Hill{StationM: []float64{0, 3000, 6000, 9000}, DowngradePct: []float64{4, 7, 3}}
	b := h
	b.Direction, b.StartM, b.RouteM = routes.Backward, 9000, 9000
	x, y := advise(t, h, c, Options{}), advise(t, b, c, Options{})
	if len(x.Stretches) < 2 || len(x.Stretches) != len(y.Stretches) {
		t.Fatalf("%d and %d stretches", len(x.Stretches), len(y.Stretches))
	}
	for i := range x.Stretches {
		s, r := x.Stretches[i], y.Stretches[i]
		if math.Abs(9000-r.FromM-s.FromM) > 1e-6 || r.SpeedMPS != s.SpeedMPS || !slices.Equal(r.Levers, s.Levers) {
			t.Errorf("%+v, backward %+v", s, r)
		}
	}
}
