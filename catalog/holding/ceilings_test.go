package holding

import (
	"math"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
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
	a, b := advise(t, p, c, Options{}), advise(t, q, c, Options{})
	la, lb := a.Limits[len(a.Limits)-1], b.Limits[len(b.Limits)-1]
	if lb.Reason != catalog.LimitFoot || math.Abs(la.SpeedMPS/lb.SpeedMPS-math.Sqrt2) > 1e-9 {
		t.Errorf("stop at the foot: %+v, without: %+v", lb, la)
	}
}
