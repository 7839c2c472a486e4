package holding

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
)

// What else limits the speed: the lowest rules, and the answer says which.
func TestOtherCeilings(t *testing.T) {
	c := mustClass(t, "eu-5axle")
	plain := PlainHill(4, 5000)
	for _, k := range []struct {
		name   string
		h      Hill
		o      Options
		reason string
		most   float64
	}{
		{"nothing else", plain, Options{}, catalog.LimitTruckSpeed, 25},
		{"posted", WithPosted(plain, 50/3.6), Options{}, catalog.LimitPosted, 50 / 3.6},
		{"curve", Hill{StationM: []float64{0, 100, 5000}, DowngradePct: []float64{4, 4}, RadiusM: []float64{math.Inf(1), 60, math.Inf(1)}}, Options{}, catalog.LimitCurve, 10.01},
		{"sight", plain, Options{SightM: 60}, catalog.LimitStopping, 15},
		{"posted under curve", WithPosted(Hill{StationM: []float64{0, 5000}, DowngradePct: []float64{4}, RadiusM: []float64{60, 60}}, 5), Options{}, catalog.LimitPosted, 5},
	} {
		h := advise(t, k.h, c, k.o)
		if !h.Holds || h.LimitedBy != k.reason || h.SpeedMPS > k.most {
			t.Errorf("%s: %q at %.2f m/s, want %q under %.2f", k.name, h.LimitedBy, h.SpeedMPS, k.reason, k.most)
		}
	}
	if h := advise(t, PlainHill(0.3, 5000), c, Options{}); h.LimitedBy != catalog.LimitFreeRolling || h.Stage != 0 || h.RetarderUsePct != 0 {
		t.Errorf("0.3 %%: %q, stage %d, %.0f %%", h.LimitedBy, h.Stage, h.RetarderUsePct)
	}
	// The driveline retarder's cooling alone, in reach of its gears.
	cool := c
	cool.Truck.Retarders = []vehicle.Retarder{{Kind: vehicle.DrivelineRetarder, TorqueLimitNm: 6000, SustainedPowerW: 150e3, CoolingTempC: 40, StageSharePct: []float64{100}}}
	if h := advise(t, PlainHill(7, 5000), cool, Options{}); h.LimitedBy != catalog.LimitSustained || !h.Holds {
		t.Errorf("cooling: %q", h.LimitedBy)
	}
	hot := 50.0
	if a, b := advise(t, PlainHill(7, 5000), cool, Options{}), advise(t, PlainHill(7, 5000), cool, Options{TempC: &hot}); b.SpeedMPS >= a.SpeedMPS {
		t.Errorf("hot air does not slow: %.2f m/s, %.2f m/s", a.SpeedMPS, b.SpeedMPS)
	}
	// A stop at the foot halves what an emergency stop may use, so the speed falls by √2.
	p, q := plain, plain
	q.FootStop = true
	ceiling := func(h Hill) catalog.SpeedCeiling {
		k, err := newProblem(&h, &c, Options{})
		if err != nil {
			t.Fatal(err)
		}
		return k.stopCeiling(k.massKg)
	}
	la, lb := ceiling(p), ceiling(q)
	if lb.Reason != catalog.LimitFoot || math.Abs(la.SpeedMPS/lb.SpeedMPS-math.Sqrt2) > 1e-9 {
		t.Errorf("stop at the foot: %+v, without: %+v", lb, la)
	}
	// A stopping ceiling far over what the truck may run at cannot matter, and is left out.
	for _, l := range advise(t, p, c, Options{}).Limits {
		if l.Reason == catalog.LimitStopping {
			t.Errorf("a ceiling of %.0f km/h for a truck of %.0f km/h", l.SpeedMPS*3.6, c.SpeedMaxMPS*3.6)
		}
	}
}

// With two service brakes for 36 t an emergency stop sets the speed, and a
// heavier truck is slower for it: 3.11·10⁻⁷·W·V²·10/2 = 350 °F.
func TestTooFewServiceBrakesLimitTheSpeed(t *testing.T) {
	c := mustClass(t, "us-5axle")
	c.Truck.ServiceBrakes.Count = 2
	c.SpeedMaxMPS = 40
	h := advise(t, PlainHill(1, 5000), c, Options{})
	want := math.Floor(math.Sqrt(350 / (3.11e-7 * 80000 * 5)))
	if h.LimitedBy != catalog.LimitStopping || math.Abs(h.SpeedMPS/catalog.MilePerHourMPS-want) > 1e-9 {
		t.Errorf("%s at %.2f mph, by hand %.0f mph", h.LimitedBy, h.SpeedMPS/catalog.MilePerHourMPS, want)
	}
	light := advise(t, PlainHill(1, 5000), c, Options{MassKg: 20000})
	if light.SpeedMPS <= h.SpeedMPS {
		t.Errorf("a lighter truck stops from no higher speed: %.2f and %.2f m/s", light.SpeedMPS, h.SpeedMPS)
	}
}

// A limit holds in the directions that it is posted for, where it is posted.
func TestPostedLimitsByDirection(t *testing.T) {
	limit := func(fromM, toM float64, forward, backward bool) []routes.SpeedLimit {
		return []routes.SpeedLimit{{FromM: fromM, ToM: toM, SpeedMPS: 8, Forward: forward, Backward: backward}}
	}
	for _, k := range []struct {
		name      string
		limits    []routes.SpeedLimit
		direction routes.Direction
		applies   bool
		atM       float64
	}{
		{"forward, both", limit(1500, 1800, true, true), routes.Forward, true, 1500},
		{"forward, backward only", limit(1500, 1800, false, true), routes.Forward, false, 0},
		{"backward, forward only", limit(500, 800, true, false), routes.Backward, false, 0},
		{"backward, backward only", limit(500, 800, false, true), routes.Backward, true, 800},
		{"forward, behind the crest", limit(0, 1000, true, true), routes.Forward, false, 0},
		{"forward, from before the crest", limit(0, 1100, true, true), routes.Forward, true, 1000},
	} {
		h := PlainHill(4, 1000) // from station 1,000, to 2,000 or to 0
		h.StartM, h.Direction, h.Limits = 1000, k.direction, k.limits
		c, ok := postedCeiling(&h)
		if ok != k.applies || ok && c.StationM != k.atM {
			t.Errorf("%s: applies %v at %.0f m", k.name, ok, c.StationM)
		}
	}
}

// A light truck that air resistance holds back is told about wind from behind.
func TestDragIsWarnedOf(t *testing.T) {
	c := mustClass(t, "us-5axle-60k")
	warned := func(pct, kg float64) bool {
		for _, w := range advise(t, PlainHill(pct, 5000), c, Options{MassKg: kg}).Cautions {
			if strings.Contains(w, "wind from behind") {
				return true
			}
		}
		return false
	}
	if !warned(3, 13000) || warned(6, 27000) {
		t.Errorf("13 t on 3 %%: %v, 27 t on 6 %%: %v", warned(3, 13000), warned(6, 27000))
	}
}
