package stationing

import (
	"context"
	"math"
	"testing"

	"github.com/paulmach/orb"
)

// Terrain of two vertical datums steps along a straight line; the road over it is in doubt there. Slopes,
// valleys, steps that bend away and embankments are no seams.
func TestSeamSteps(t *testing.T) {
	origin := orb.Point{10, 47}
	hill := func(e, n float64) float64 { // of 6 %, on rough ground
		return 1500 - .06*e + .15*n + 2*math.Sin(e/37)*math.Cos(n/53) + 3*math.Sin(n/71+e/310)
	}
	// A step at 3 km, along a line that is turned from north.
	step := func(byM, turnDeg float64) func(e, n float64) float64 {
		return func(e, n float64) float64 {
			if (e-3000)*math.Cos(turnDeg*math.Pi/180)-n*math.Sin(turnDeg*math.Pi/180) > 0 {
				return hill(e, n) + byM
			}
			return hill(e, n)
		}
	}
	even := func(slope float64) func(e, n float64) float64 { // with a step of 30 m at 3 km
		return func(e, n float64) float64 {
			if e > 3000 {
				return 1530 - slope*e
			}
			return 1500 - slope*e
		}
	}
	for _, c := range []struct {
		name  string
		z     func(e, n float64) float64
		cellM float32
		model bool
		want  bool
	}{
		{"none", hill, 10, false, false},
		{"30 m up", step(30, 0), 10, false, true},
		{"30 m down", step(-30, 0), 10, false, true},
		{"30 m, oblique", step(30, 50), 10, false, true},
		{"30 m on cells of 30 m", step(30, 20), 30, false, true},
		{"12 m", step(12, 0), 10, false, true},
		{"8 m", step(8, 0), 10, false, false},
		{"12 m on cells of 30 m", step(12, 0), 30, false, false},
		{"30 m, on a slope of 13.6 %", even(.136), 10, false, true},
		{"30 m, on a slope of 14.4 %", even(.144), 10, false, false},
		{"trees in a surface model", step(30, 0), 10, true, false},
		{"a valley", func(e, n float64) float64 { return hill(e, n) - 40*math.Exp(-math.Pow((e-3000)/60, 2)) }, 10, false, false},
		{"an embankment", func(e, n float64) float64 {
			if math.Abs(e-3000) < 20 {
				return hill(e, n) + 12
			}
			return hill(e, n)
		}, 10, false, false},
		{"a cliff round a hill of 100 m radius", func(e, n float64) float64 {
			if math.Hypot(e-3100, n) < 100 {
				return hill(e, n) + 30
			}
			return hill(e, n)
		}, 10, false, false},
		{"a step that fades beside the road", func(e, n float64) float64 {
			if e > 3000 {
				return hill(e, n) + 30*math.Exp(-math.Pow(n/60, 2))
			}
			return hill(e, n)
		}, 10, false, false},
	} {
		s := &across{origin: origin, z: c.z, cellM: c.cellM}
		var line orb.LineString
		for x := 0.0; x <= 6000; x += 40 {
			line = append(line, Direct(origin, 90, x))
		}
		g, err := Sample(context.Background(), s, routeOf(t, line), Options{HalfWidthM: -1, SurfaceModel: c.model})
		if err != nil {
			t.Fatal(err)
		}
		if len(g.Doubtful) > 0 != c.want {
			t.Errorf("%s: %v", c.name, g.Doubtful)
		}
		for _, d := range g.Doubtful {
			if d.FromM < 2400 || d.FromM > 2600 || d.ToM < 3400 || d.ToM > 3600 {
				t.Errorf("%s: %v", c.name, d)
			}
		}
	}
}
