package descent

import (
	"math"
	"testing"

	"gradeline/routes"
)

// The figures are computed by hand from the bound of road: 0.2 points over 500 m,
// in inverse proportion below, so 100/L points over L metres.

func TestASharpEndIsKnownWell(t *testing.T) {
	// Level ground joins if 0.8·100/L reaches 3 %, road at 6 % drops out if it
	// reaches 6 - 3 %: L is 26.7 m either way, two steps of 10 m.
	d := find(road(leg{1000, 0}, leg{2000, -6}, leg{1000, 0}), routes.Forward)
	if len(d) != 1 || d[0].StartErrM != 20 || d[0].EndErrM != 20 {
		t.Fatalf("%+v", d)
	}
	// Either end moved 20 m: 6 points · 20/2020 out, 0 points in; twice, and the
	// bound of 2,000 m as it stands.
	want := d[0].MeanDowngradeErrPct
	ends := 6 * 20.0 / 2020
	whole := math.Sqrt(want*want - 2*ends*ends)
	if p := road(leg{1000, 0}, leg{2000, -6}, leg{1000, 0}); math.Abs(whole-p.Bound.MeanErrPct(2000, 0)) > 1e-9 {
		t.Errorf("mean %v, of it the stretch %v, want %v", want, whole, p.Bound.MeanErrPct(2000, 0))
	}
}

func TestAnEndThatTapersIsKnownBadly(t *testing.T) {
	// 2.9 % over 400 m, then level: L metres on, the mean is 1160/L and its bound
	// between 500/L and the calibrated row; with 0.8 of it 3 % is kept up to 410 m.
	d := find(road(leg{1000, 0}, leg{2000, -6}, leg{400, -2.9}, leg{1000, 0}), routes.Forward)
	if len(d) != 1 || d[0].StartErrM != 20 || d[0].EndErrM != 410 {
		t.Fatalf("%+v", d)
	}
	back := find(road(leg{1000, 0}, leg{400, 2.9}, leg{2000, 6}, leg{1000, 0}), routes.Backward)
	if len(back) != 1 || back[0].StartErrM != 20 || back[0].EndErrM != 410 {
		t.Fatalf("backward: %+v", back)
	}
}

func TestAnEndOverAStructureIsKnownWorse(t *testing.T) {
	p := road(leg{1000, 0}, leg{2000, -6}, leg{1000, 0})
	for i := range p.State {
		if s := p.StationM(i); s > 2900 && s < 3300 {
			p.State[i] = routes.InTunnel
		}
	}
	d := find(p, routes.Forward)
	if len(d) != 1 || d[0].StartErrM != 20 || d[0].EndErrM != 50 { // twice the bound: 53.3 m
		t.Fatalf("%+v", d)
	}
}

func TestADescentInADoubtfulStretchIsUnreliable(t *testing.T) {
	p := road(leg{1000, 0}, leg{2000, -6}, leg{2000, 0}, leg{2000, -6}, leg{1000, 0})
	p.Doubtful = []routes.Doubt{{FromM: 6900, ToM: 7500, Why: "cannot be"}}
	d := find(p, routes.Forward)
	if len(d) != 2 || d[0].HasFlag(routes.FlagUnreliable) || !d[1].HasFlag(routes.FlagUnreliable) {
		t.Fatalf("%+v", d)
	}
}
