package descent

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

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

// endBoundRecounted is endBound with what rests on no ground counted afresh from the
// end at each step.
func (t *track) endBoundRecounted(s span, isFoot bool, levelPct float64) (errM, meanPct float64) {
	at, out := s.from, -1
	if isFoot {
		at, out = s.to, 1
	}
	mean, lengthM := t.meanPct(s), t.lengthM(s)
	errM = max(t.stepM, endLeast*t.p.Bound.EndM)
	for _, side := range []int{1, insideOut} {
		for n := 1; float64(n)*t.stepM <= endMostM; n++ {
			j := at + side*out*n
			if j < 0 || j >= len(t.heightM) || side == insideOut && (j <= s.from || j >= s.to) {
				break
			}
			l := float64(n) * t.stepM
			gradePct := t.meanPct(span{min(at, j), max(at, j)})
			e := endShare * t.p.Bound.MeanErrPct(l, t.p.InterpolatedM(t.stationM(at), t.stationM(j)))
			if side == 1 && gradePct+e < levelPct || side == insideOut && gradePct-e > levelPct {
				break
			}
			errM = math.Max(errM, l)
			meanPct = math.Max(meanPct, math.Abs(gradePct-mean)*l/(lengthM+float64(side)*l))
		}
	}
	return errM, meanPct
}

// Counted on from step to step or afresh, an end's bound is the same: on random
// roads with structures and voids, in both directions, on steps of any size.
func TestAnEndsBoundIsTheSameCountedOnAsAfresh(t *testing.T) {
	widened := 0
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		stepM := 3 + 22*r.Float64()
		p := &routes.Profile{StepM: stepM, Reliable: true, Bound: routes.ErrorModel{EndM: 20, SpanM: []float64{500, 5000}, SpanPct: []float64{0.2, 0.05}}}
		height, gradePct, state := 1000.0, 0.0, routes.Measured
		n := 50 + r.IntN(1000)
		for i := 0; i <= n; i++ {
			if r.IntN(30) == 0 {
				gradePct = 10*r.Float64() - 9
			}
			if r.IntN(15) == 0 {
				state = routes.Measured
				if r.IntN(2) == 0 {
					state = routes.StationState(r.IntN(int(routes.OutsideTerrain) + 1))
				}
			}
			p.ElevationM, p.State = append(p.ElevationM, height), append(p.State, state)
			height += gradePct / 100 * stepM
		}
		p.LengthM = float64(n) * stepM
		for _, dir := range []routes.Direction{routes.Forward, routes.Backward} {
			tr := tracks(p, dir)[0]
			for range 20 {
				from := r.IntN(len(tr.heightM) - 1)
				s := span{from, from + 1 + r.IntN(len(tr.heightM)-1-from)}
				isFoot, levelPct := r.IntN(2) == 0, 8*r.Float64()
				e := tr.endBound(s, isFoot, levelPct)
				errM, meanPct := e.errM, e.meanPct
				wantM, wantPct := tr.endBoundRecounted(s, isFoot, levelPct)
				if errM != wantM || meanPct != wantPct {
					t.Errorf("%v, %+v, foot %v, level %v %%: %v m and %v points, want %v and %v", dir, s, isFoot, levelPct, errM, meanPct, wantM, wantPct)
				}
				onGround := *p
				onGround.State = make([]routes.StationState, len(p.State))
				bare := tr
				bare.p = &onGround
				if bare.endBound(s, isFoot, levelPct).errM != errM {
					widened++
				}
			}
		}
	})
	if widened == 0 {
		t.Error("no structure or void changed an end: nothing was compared")
	}
}
