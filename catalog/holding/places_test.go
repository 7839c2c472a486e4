package holding

import (
	"math"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
)

// Where the gear must be in lies the crest's bound and the slowing distance before the
// crest, where to slow that distance before it; by hand from 65 mph at 0.5 m/s² or by the
// retarder. Neither lies before the route begins or beyond its end.
func TestWhereTheGearMustBeIn(t *testing.T) {
	c := mustClass(t, "us-5axle")
	hill := Hill{StationM: []float64{0, 4000}, DowngradePct: []float64{6}, StartErrM: 50}
	for _, k := range []struct {
		name           string
		startM, routeM float64
		dir            routes.Direction
	}{
		{"far from both ends", 5000, 20000, routes.Forward}, {"backward", 15000, 20000, routes.Backward}, {"no length known", 5000, 0, routes.Forward},
		{"near the begin", 300, 20000, routes.Forward}, {"backward near the end", 19700, 20000, routes.Backward},
	} {
		h := hill
		h.StartM, h.RouteM, h.Direction = k.startM, k.routeM, k.dir
		got := advise(t, h, c, Options{})
		p, err := newProblem(&h, &c, Options{})
		if err != nil {
			t.Fatal(err)
		}
		slowM := p.slowingM(65*0.44704, got.SpeedMPS)
		if slowM < (65*65*0.44704*0.44704-got.SpeedMPS*got.SpeedMPS)/(2*0.5)-0.5 {
			t.Errorf("%s: slows in %.0f m", k.name, slowM)
		}
		sign := 1.0
		if k.dir == routes.Backward {
			sign = -1
		}
		gear, slow := k.startM-sign*(50+slowM), k.startM-sign*(50+2*slowM)
		if k.routeM > 0 {
			gear, slow = math.Max(0, math.Min(gear, k.routeM)), math.Max(0, math.Min(slow, k.routeM))
		}
		if math.Abs(got.GearByM-gear) > 0.5 || math.Abs(got.SlowFromM-slow) > 0.5 {
			t.Errorf("%s: gear by %.1f, slow from %.1f; by hand %.1f and %.1f", k.name, got.GearByM, got.SlowFromM, gear, slow)
		}
	}
}

// At the crest the retarder has its whole power where no height is known, and what the
// altitude leaves where one is: 9.84 % less a kilometre above 1,500 m.
func TestTheRetarderAtTheCrest(t *testing.T) {
	c := mustClass(t, "us-5axle")
	for _, k := range []struct {
		heightM []float64
		share   float64
	}{{nil, 1}, {[]float64{1000, 700}, 1}, {[]float64{3500, 3200}, 1 - 2*0.0984}} {
		h := Hill{StationM: []float64{0, 5000}, DowngradePct: []float64{6}, ElevationM: k.heightM}
		p, err := newProblem(&h, &c, Options{})
		if err != nil {
			t.Fatal(err)
		}
		v := c.Truck.SpeedFromRPM(7, 2100)
		want := 0.0
		for g := 1; g <= c.Truck.GearCount(); g++ {
			want = max(want, c.Truck.TopWheelPower(g, v, vehicle.Air{}).EngineW)
		}
		if got := p.mostWheelW(v); math.Abs(got-k.share*want) > 1e-6*want {
			t.Errorf("heights %v: %.0f W, want %.0f", k.heightM, got, k.share*want)
		}
	}
}

// The sight distance counts on the steepest part: v²/(2·(3.4 − g·sin θ)) + 2.5·v = d, by
// AASHTO's reaction and braking (from memory), 7 % at 2 km.
func TestSightCountsOnTheSteepestPart(t *testing.T) {
	c := mustClass(t, "us-5axle")
	h := Hill{StationM: []float64{0, 2000, 3000, 5000}, DowngradePct: []float64{4, 7, 4}, StartM: 100, RouteM: 10000}
	got := advise(t, h, c, Options{SightM: 60})
	a := 3.4 - 9.80665*math.Sin(math.Atan(0.07))
	want := a * (math.Sqrt(2.5*2.5+2*60/a) - 2.5)
	found := false
	for _, l := range got.Limits {
		if l.LengthM != 60 {
			continue
		}
		found = true
		if l.Reason != catalog.LimitStopping || math.Abs(l.SpeedMPS-want) > 1e-6 || l.StationM < 2000 || l.StationM > 3100 {
			t.Errorf("%+v, by hand %.3f m/s", l, want)
		}
	}
	if !found {
		t.Errorf("no limit by sight: %+v", got.Limits)
	}
}

// The grades on which a class file is tried out.
func TestTheStandardGrades(t *testing.T) {
	const mileM = 1609.344
	want := []StandardGrade{{6, 6 * mileM}, {8, 3 * mileM}, {4, 10 * mileM}}
	for i, w := range want {
		if len(StandardGrades) != len(want) || math.Abs(StandardGrades[i].LengthM-w.LengthM) > 1e-6 || StandardGrades[i].DowngradePct != w.DowngradePct {
			t.Errorf("%+v", StandardGrades)
		}
	}
}

// Where the service brakes leave their working range, and where they fade, is the first
// place past which they are that hot.
func TestWhereServiceBrakesLeaveTheirRange(t *testing.T) {
	c := mustClass(t, "us-5axle")
	got := advise(t, PlainHill(6, 8000), c, Options{})
	f := got.HeatFacts
	if f.WorkingM == nil || f.FadeM == nil || *f.FadeM <= *f.WorkingM {
		t.Fatalf("%+v", f)
	}
	if math.Abs(f.WorkingToC-204.4444) > 0.01 || math.Abs(f.FadeFromC-315.5556) > 0.01 {
		t.Errorf("%+v", f)
	}
	for _, s := range got.Heat {
		hotC := max(s.TempC, s.BalanceC)
		if s.StationM < *f.WorkingM && hotC > f.WorkingToC || s.StationM > *f.WorkingM && hotC < f.WorkingToC {
			t.Errorf("%.0f °C at %.0f m, out of their range from %.0f m", hotC, s.StationM, *f.WorkingM)
		}
		if s.StationM < *f.FadeM && hotC >= f.FadeFromC || s.StationM > *f.FadeM && hotC < f.FadeFromC {
			t.Errorf("%.0f °C at %.0f m, fading from %.0f m", hotC, s.StationM, *f.FadeM)
		}
	}
}

// The changes of the sensitivity table are those that they say: the speed of each is that
// of the changed truck, asked for by itself.
func TestTheSensitivityTableByItself(t *testing.T) {
	c := mustClass(t, "us-5axle")
	for _, pct := range []float64{4, 5, 6, 7} {
		hill := PlainHill(pct, 6000)
		base := advise(t, hill, c, Options{MassKg: c.MassMaxKg * 0.9})
		half := c
		half.Truck.Retarders = []vehicle.Retarder{}
		for _, r := range c.Truck.Retarders {
			var stages []vehicle.Curve
			for _, s := range r.Stages {
				stages = append(stages, s.Scaled(0.5))
			}
			r.Stages = stages
			half.Truck.Retarders = append(half.Truck.Retarders, r)
		}
		want := map[string]catalog.Hold{
			"5 % lighter": advise(t, hill, c, Options{MassKg: c.MassMaxKg * 0.9 * 0.95}), "5 % heavier": advise(t, hill, c, Options{MassKg: c.MassMaxKg * 0.9 * 1.05}),
			"one point steeper": advise(t, PlainHill(pct+1, 6000), c, Options{MassKg: c.MassMaxKg * 0.9}), ChangeHalfRetarder: advise(t, hill, half, Options{MassKg: c.MassMaxKg * 0.9}),
		}
		for _, s := range base.Sensitivity {
			w, ok := want[s.Change]
			if ok && (s.Holds != w.Holds || math.Abs(s.SpeedMPS-w.SpeedMPS) > 1e-9) {
				t.Errorf("%g %%, %s: %.2f m/s, by itself %.2f", pct, s.Change, s.SpeedMPS, w.SpeedMPS)
			}
		}
	}
}
