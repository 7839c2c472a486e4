package stationing

import (
	"math"
	"testing"

	"gradeline/routes"
	"gradeline/terrain"
)

// Fill values that are no longer exactly equal: resampled, compressed with loss, or zeros that were
// moved by a geoid. Each limit has a case on either side of it, within 5 %.
func TestNearLevelStretches(t *testing.T) {
	noise := func(xM float64) float64 { return math.Mod(math.Abs(math.Sin(xM*12.9898)*43758.5453), 2) - 1 } // from −1 to 1
	// A hill of 5 % down from 1400 m with another surface from a to b.
	hill := func(a, b float64, fill func(xM float64) float64) func(xM float64) float64 {
		return func(xM float64) float64 {
			if xM >= a && xM <= b {
				return fill(xM)
			}
			return 1400 - .05*xM
		}
	}
	level := func(z, slope, roughM float64) func(xM float64) float64 {
		return func(xM float64) float64 { return z + slope*xM + roughM*noise(xM) }
	}
	bridged := func(a, b, before, after float64) func(xM float64) float64 {
		return func(xM float64) float64 {
			switch {
			case xM >= a && xM <= b:
				return 200 + .01*noise(xM)
			case xM < a:
				return 200 + before + .02*(a-xM)
			}
			return 200 + after + .02*(xM-b)
		}
	}
	flagged := []routes.Structure{{Kind: routes.Bridge, FromM: 1990, ToM: 3010, Flagged: true}}
	for _, c := range []struct {
		name    string
		s       levels
		flagged []routes.Structure
		isLost  bool
	}{
		{"zeros moved by a geoid", levels{f: hill(2000, 3000, level(47, 5e-5, 0))}, nil, true},
		{"700 m with a centimetre of noise", levels{f: hill(2000, 3000, level(700, 0, .01))}, nil, true},
		{"the same, said to be real", levels{f: hill(2000, 3000, level(700, 0, .01)), isFlat: true}, nil, false},
		{"the same under a tagged bridge", levels{f: hill(2000, 3000, level(700, 0, .01))}, flagged, false},
		{"to the line's end", levels{f: hill(2000, 9000, level(700, 0, .01))}, nil, true},
		{"noise of .14 m", levels{f: hill(2000, 3000, level(700, 0, .14))}, nil, true},
		{"noise of .7 m", levels{f: hill(2000, 3000, level(700, 0, .7))}, nil, false},
		{"1 in 2,100", levels{f: hill(2000, 3200, level(700, 1/2100., 0))}, nil, true},
		{"1 in 400", levels{f: hill(2000, 3200, level(700, 1/400., 0))}, nil, false},
		{"312 m", levels{f: hill(2000, 2312, level(700, 0, .01))}, nil, true},
		{"285 m", levels{f: hill(2000, 2285, level(700, 0, .01))}, nil, false},
		{"500 m of 60 m cells", levels{f: hill(2000, 2500, level(700, 0, .01)), cellM: 60}, nil, true},
		{"465 m of 60 m cells", levels{f: hill(2000, 2465, level(700, 0, .01)), cellM: 60}, nil, false},
		{"a leap of 21 m", levels{f: hill(2000, 9000, level(1280, 0, .01))}, nil, true},
		{"a leap of 19 m", levels{f: hill(2000, 9000, level(1282, 0, .01))}, nil, false},
		{"a leap of 38 m of 60 m cells", levels{f: hill(2000, 9000, level(1268, 0, .01)), cellM: 60}, nil, true},
		{"a leap of 34 m of 60 m cells", levels{f: hill(2000, 9000, level(1272, 0, .01)), cellM: 60}, nil, false},
		{"water of 760 m between banks", levels{f: bridged(2000, 2760, 30, 40)}, nil, false},
		{"water of 840 m between banks", levels{f: bridged(2000, 2840, 30, 40)}, nil, true},
		{"water of 760 m by a cliff", levels{f: bridged(2000, 2760, 30, 70)}, nil, true},
		{"a plain", levels{f: func(xM float64) float64 { return 100 + .02*noise(xM) }}, nil, false},
		{"a plain that ends at a hill", levels{f: func(xM float64) float64 { return 100 + .02*noise(xM) + .2*max(0, xM-3000) }}, nil, false},
	} {
		c.s.kind = terrain.PatchFiller
		g := sampledLevels(t, &c.s, c.flagged...)
		if isLost := missing(g) > 50; isLost != c.isLost || missing(g) > 0 && !c.isLost {
			t.Errorf("%s: %d stations missing", c.name, missing(g))
		}
		for i, m := range g.Miss {
			if z := heightAt(g, i); (m == terrain.Hit) == math.IsNaN(z) {
				t.Fatalf("%s: station %d: %v, %g m", c.name, i, m, z)
			}
		}
	}
}
