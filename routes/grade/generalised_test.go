package grade

import (
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain/synth"
)

// arcLine is a line of vertices everyM apart on a circle of radiusM, sampled each 10 m
// along its chords.
func arcLine(everyM, radiusM, lengthM float64) *routes.Ground {
	const mPerDeg = 111195.0
	g := &routes.Ground{StepM: 10, LengthM: lengthM}
	for s := 0.0; s <= lengthM; s += 10 {
		k := math.Floor(s / everyM)
		a, b := k*everyM/radiusM, (k+1)*everyM/radiusM
		t := (s - k*everyM) / everyM
		x := radiusM * ((1-t)*math.Sin(a) + t*math.Sin(b))
		y := radiusM * ((1-t)*(1-math.Cos(a)) + t*(1-math.Cos(b)))
		g.Points = append(g.Points, orb.Point{x / mPerDeg, y / mPerDeg})
	}
	return g
}

// By hand: chords of 300 m on a circle of 600 m turn by .5 rad and miss it by
// 300 · tan(.125)/2 = 18.8 m; on one of 2 km by 5.6 m; chords of 60 m on 150 m by 3 m.
func TestALineThatCutsItsBendsIsToldByItsTurns(t *testing.T) {
	for _, c := range []struct {
		everyM, radiusM float64
		cuts            bool
	}{{300, 600, true}, {300, 1700, true}, {300, 2000, false}, {60, 150, false}, {100, 250, false}} {
		if why := generalised(arcLine(c.everyM, c.radiusM, 6000)); (why != "") != c.cuts {
			t.Errorf("a vertex each %.0f m on a radius of %.0f m: %q", c.everyM, c.radiusM, why)
		}
	}
	// Street corners are none of it: a staircase of 300 m blocks.
	g := &routes.Ground{StepM: 10, LengthM: 6000}
	x, y := 0.0, 0.0
	for s := 0; s <= 600; s++ {
		g.Points = append(g.Points, orb.Point{x, y})
		if s/30%2 == 0 {
			x += 1e-4
		} else {
			y += 1e-4
		}
	}
	if why := generalised(g); why != "" {
		t.Error(why)
	}
}

// A drawn road with a vertex each 600 m is unreliable at any cell size, as it stands not.
func TestAGeneralisedRoadIsUnreliable(t *testing.T) {
	for _, everyM := range []float64{0, 600} {
		rc := synthCase(t, synth.Options{Seed: 32003, CellM: 30, LengthM: 8000, VertexEveryM: everyM})
		p := mustRecover(t, rc.ground, Options{})
		if p.Reliable != (everyM == 0) {
			t.Errorf("a vertex each %.0f m: reliable %v: %s", everyM, p.Reliable, p.Unreliable)
		}
	}
}

// Between the measured cell sizes the limit lies between theirs, and at 1 m it is the old one.
func TestResidualLimit(t *testing.T) {
	for cellM, want := range map[float64]float64{1: 3, 3: 3, 10: 1.45, 30: 1.6, 90: 1.06, 200: 1.06} {
		if got := residualLimit(cellM); math.Abs(got-want) > 1e-12 {
			t.Errorf("%g m cells: %v, want %v", cellM, got, want)
		}
	}
	if v := residualLimit(math.Sqrt(30 * 90)); math.Abs(v-(1.6+1.06)/2) > 1e-12 {
		t.Errorf("half way in log: %v", v)
	}
}

// A line 100 m beside its road at 10 and 30 m cells; the same road's own line passes, with
// 1.8 times the usual noise too.
func TestALineBesideItsRoadIsUnreliable(t *testing.T) {
	for _, cellM := range []float64{10, 30} {
		for _, c := range []struct {
			o        synth.Options
			reliable bool
		}{
			{synth.Options{}, true}, {synth.Options{NoiseScale: 1.8}, true}, {synth.Options{LateralConstM: 100}, false},
		} {
			c.o.Seed, c.o.CellM, c.o.LengthM = 32005, cellM, 8000
			p := mustRecover(t, synthCase(t, c.o).ground, Options{})
			if p.Reliable != c.reliable {
				t.Errorf("%g m cells, %+v: reliable %v: %s", cellM, c.o, p.Reliable, p.Unreliable)
			}
			if !p.Reliable && !strings.Contains(p.Unreliable, "next to") && !strings.Contains(p.Unreliable, "rougher") {
				t.Errorf("%g m cells: %s", cellM, p.Unreliable)
			}
		}
	}
}
