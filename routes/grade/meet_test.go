package grade

import (
	"math"
	"math/rand/v2"
	"testing"

	"gradeline/routes"
	"gradeline/terrain/synth"
)

// meetingErrors collects errors of a grade in points, and how many of their bounds hold.
type meetingErrors struct {
	sum     float64
	n, held int
}

func (e *meetingErrors) add(p *routes.Profile, road *synth.Road, aM, bM, offM float64) {
	pct := 100 * (p.ElevationAtM(bM) - p.ElevationAtM(aM) - road.TruthAtM(offM+bM) + road.TruthAtM(offM+aM)) / (bM - aM)
	e.sum, e.n = e.sum+pct*pct, e.n+1
	if math.Abs(pct) <= p.MeanErrPct(aM, bM) {
		e.held++
	}
}

func (e *meetingErrors) rms() float64 { return math.Sqrt(e.sum / float64(e.n)) }

// A part of a drawn road that ends within the whole road, half of whose structures have no tag, and is
// led through the whole road's height there: the grade of its last 100 m is nearer the truth, and more
// of its bounds hold. The whole road led through the part's height, the wrong way round, hardly changes.
func TestARoadIsLedThroughTheHeightOfAnother(t *testing.T) {
	roads := uint64(5)
	if testing.Short() {
		roads = 3
	}
	for _, cellM := range []float64{10, 30} {
		var alone, led, main, mainLed meetingErrors
		for seed := uint64(47101); seed < 47101+roads; seed++ {
			o := synth.Options{Seed: seed, CellM: cellM, LengthM: 6000}
			rc := synthCase(t, o)
			road, err := synth.NewRoad(o)
			if err != nil {
				t.Fatal(err)
			}
			whole := mustRecover(t, rc.ground, Options{})
			n := rc.ground.Count()
			d := rand.New(rand.NewPCG(seed, 77))
			for range 3 {
				k := n/4 + d.IntN(n/2)
				atM := float64(k) * rc.ground.StepM
				part := mustRecover(t, cutGround(rc.ground, 0, k), Options{})
				z, own := whole.ElevationAtM(atM), part.ElevationAtM(atM)
				if !(math.Abs(z-own) <= max(3, math.Hypot(whole.ElevationErrM(atM), part.ElevationErrM(atM)))) || part.IsDoubtful(atM-100, atM) {
					continue // contradicted or in doubt: not led
				}
				q := Meet(part, []MeetingHeight{{atM, z}})
				if math.Abs(q.ElevationAtM(atM)-z) > 0.3 {
					t.Errorf("%g m cells, seed %d: led to within %.2f m", cellM, seed, q.ElevationAtM(atM)-z)
				}
				alone.add(part, road, atM-100, atM, 0)
				led.add(q, road, atM-100, atM, 0)
				main.add(whole, road, atM-50, atM+50, 0)
				mainLed.add(Meet(whole, []MeetingHeight{{atM, own}}), road, atM-50, atM+50, 0)
			}
		}
		t.Logf("%g m cells, %d nodes: off by %.2f points alone, %d bounds hold; led %.2f and %d; the whole road %.2f and %.2f", cellM, led.n, alone.rms(), alone.held, led.rms(), led.held, main.rms(), mainLed.rms())
		if led.rms() > 0.9*alone.rms() || led.held < alone.held || mainLed.rms() > 1.1*main.rms()+0.03 || led.n < 5 {
			t.Error("a shared height does not help")
		}
	}
}

// Without another road's height, or where the line is too short, the profile stays as it is.
func TestMeetLeavesOthersAlone(t *testing.T) {
	rc := synthCase(t, synth.Options{Seed: 47101, CellM: 30, LengthM: 3000})
	p := mustRecover(t, rc.ground, Options{})
	before := p.ElevationAtM(1500)
	if Meet(p, nil) != p {
		t.Error("a line without meetings is changed")
	}
	q := Meet(p, []MeetingHeight{{1500, before + 1}, {1500, before + 1}})
	if p.ElevationAtM(1500) != before || math.Abs(q.ElevationAtM(1500)-before-1) > 0.2 {
		t.Errorf("%.2f m, led %.2f m to %.2f m", before, p.ElevationAtM(1500), q.ElevationAtM(1500))
	}
	short := *p
	short.ElevationM = p.ElevationM[:3]
	if Meet(&short, []MeetingHeight{{0, 1}}) != &short {
		t.Error("three stations are led")
	}
}

// A fraction of the time of the recovery itself: on 9 km with ten nodes.
func BenchmarkMeet(b *testing.B) {
	rc := synthCase(b, synth.Options{Seed: 47101, CellM: 30, LengthM: 9000})
	p := mustRecover(b, rc.ground, Options{})
	var at []MeetingHeight
	for k := range 10 {
		m := 400 + 900*float64(k)
		at = append(at, MeetingHeight{m, p.ElevationAtM(m) + 0.5})
	}
	b.Run("recover", func(b *testing.B) {
		for b.Loop() {
			mustRecover(b, rc.ground, Options{})
		}
	})
	b.Run("meet", func(b *testing.B) {
		for b.Loop() {
			Meet(p, at)
		}
	})
}
