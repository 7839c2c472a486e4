package stationing

import (
	"cmp"
	"context"
	"math"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/terrain"
)

// A line that turns back at one vertex is in doubt, unless the ground falls through the turn as through
// a hairpin, or the line goes back over itself.
func TestTurnBacks(t *testing.T) {
	origin := orb.Point{10, 47}
	at := func(eastM, northM float64) orb.Point { return Direct(Direct(origin, 90, eastM), 0, northM) }
	// A road eastwards with a vertex each 40 m, with others in its middle, at 4 km.
	road := func(others ...orb.Point) orb.LineString {
		var out orb.LineString
		for x := 0.0; x <= 8000; x += 40 {
			if x == 4000 {
				out = append(out, others...)
				continue
			}
			out = append(out, at(x, 0))
		}
		return out
	}
	eastFalls := func(eastM, northM float64) float64 { return 1000 - .06*eastM }
	acrossRises := func(eastM, northM float64) float64 { return 1000 - .06*eastM + .2*northM }
	hairpin := func(eastM, northM float64) float64 { // falls by 7 % out along one leg and back along the other
		return 1000 - .07*math.Abs(northM) - map[bool]float64{true: 0, false: .14}[eastM < 4000]*(300-northM)
	}
	for _, c := range []struct {
		name string
		line orb.LineString
		z    func(eastM, northM float64) float64
		want int
	}{
		{"no stray", road(at(4000, 0)), eastFalls, 0},
		{"450 m aside, along the contour", road(at(4000, 450)), eastFalls, 1},
		{"450 m aside, up the hill", road(at(4000, 450)), acrossRises, 1},
		{"120 m aside", road(at(4000, 120)), acrossRises, 1},
		{"96 m aside", road(at(4000, 90)), acrossRises, 0},
		{"a turn of 141 degrees", orb.LineString{at(0, 0), at(500, 0), at(1000, 0), at(2500, 0), at(2500-1500*math.Cos(39*math.Pi/180), 1500*math.Sin(39*math.Pi/180)), at(1334, 1500), at(1334, 2000)}, eastFalls, 1},
		{"a turn of 138 degrees", orb.LineString{at(0, 0), at(500, 0), at(1000, 0), at(2500, 0), at(2500-1500*math.Cos(42*math.Pi/180), 1500*math.Sin(42*math.Pi/180)), at(1334, 1500), at(1334, 2000)}, acrossRises, 0},
		{"out and back over itself", append(road(at(4000, 0)), at(7600, 0), at(7000, 0)), eastFalls, 0},
		{"a hairpin with one vertex", road(at(3980, 0), at(4000, 300), at(4020, 0)), hairpin, 0},
		{"the same legs on a level hill", road(at(3980, 0), at(4000, 300), at(4020, 0)), acrossRises, 1},
	} {
		s := &across{origin: origin, z: c.z}
		g, err := Sample(context.Background(), s, routeOf(t, c.line), Options{StepM: 5})
		if err != nil {
			t.Fatal(err)
		}
		if len(g.Doubtful) != c.want {
			t.Errorf("%s: %v", c.name, g.Doubtful)
		}
		for _, d := range g.Doubtful {
			if d.ToM-d.FromM < 2*turnBackM || d.FromM < 900 || d.ToM > 5000 {
				t.Errorf("%s: %v", c.name, d)
			}
		}
	}
}

// across is a surface whose height is known by metres east and north of a place.
type across struct {
	origin orb.Point
	z      func(eastM, northM float64) float64
	cellM  float32 // 0: 10 m
}

func (s *across) Sample(ctx context.Context, points []terrain.Point, out []terrain.Sample) error {
	m := metricAt(s.origin[1])
	for i, p := range points {
		e, n := m.deltaM(s.origin, orb.Point{p.LonDeg, p.LatDeg})
		out[i] = terrain.Sample{ElevationM: s.z(e, n), CellM: cmp.Or(s.cellM, 10)}
	}
	return ctx.Err()
}

func (s *across) Sources() []terrain.Raster { return []terrain.Raster{{Name: "across.tif"}} }
func (s *across) Warnings() []string        { return nil }
