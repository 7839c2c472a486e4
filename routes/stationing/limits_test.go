package stationing

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// groundOf is the ground along a straight line, one height each stepM.
func groundOf(stepM float64, cellM float32, count int, heightM func(i int) float64) *routes.Ground {
	g := &routes.Ground{StepM: stepM, LengthM: stepM * float64(count-1), OffsetM: []float64{0}}
	for i := range count {
		g.SectionM, g.CellM, g.Miss = append(g.SectionM, float32(heightM(i))), append(g.CellM, cellM), append(g.Miss, terrain.Hit)
		g.Points, g.Source = append(g.Points, orb.Point{10, 47}), append(g.Source, 0)
	}
	return g
}

// filler is a stretch of 700 m of height from station 200, of some stations, with what its heights differ
// by. The ground falls away from both ends by 8 %, and by a leap that is counted 20 m, or two cells, beyond.
type filler struct {
	cellM               float32
	count               int
	beforeM, afterM     float64
	differ              func(i int) float64
	wantFirst, wantLast int // stations that are lost; none: nothing may be
}

func (f *filler) ground() *routes.Ground {
	last := 200 + f.count - 1
	besideM := max(20, 2*float64(f.cellM))
	side := func(awayM, leapM float64) float64 { return 700 - leapM - .08*(awayM-besideM) }
	return groundOf(5, f.cellM, last+200, func(i int) float64 {
		switch {
		case i < 200:
			return side(float64(200-i)*5, f.beforeM)
		case i > last:
			return side(float64(i-last)*5, f.afterM)
		case f.differ != nil:
			return 700 + f.differ(i-200)
		}
		return 700 + .01*float64(i%2)
	})
}

// Every limit of a stretch that is almost level, from its definition, with a case within a few per cent on
// either side.
func TestLimitsOfNearLevelStretches(t *testing.T) {
	bumps := func(byM float64) func(i int) float64 { // each 150 m one station is higher
		return func(i int) float64 { return byM * float64(i%30/14*(1-i%30/15)) }
	}
	rising := func(slope float64) func(i int) float64 { return func(i int) float64 { return slope * 5 * float64(i) } }
	oneBut := func(k int) func(i int) float64 { // one height but for one station
		return func(i int) float64 { return .1 * float64(1-min(1, (i-k)*(i-k))) }
	}
	for _, c := range []struct {
		name string
		filler
	}{
		{"300 m", filler{10, 61, 100, 100, nil, 197, 263}},
		{"295 m", filler{10, 60, 100, 100, nil, 0, 0}},
		{"8 cells of 60 m", filler{60, 97, 100, 100, nil, 182, 314}},
		{"475 m of 60 m cells", filler{60, 96, 100, 100, nil, 0, 0}},
		{"297 mm off a straight line", filler{10, 61, 100, 100, bumps(.297), 197, 263}},
		{"303 mm", filler{10, 61, 100, 100, bumps(.303), 0, 0}},
		{"447 mm from end to end, .3 and 1 in 2,000", filler{10, 61, 100, 100, rising(1.49e-3), 197, 263}},
		{"453 mm", filler{10, 61, 100, 100, rising(1.51e-3), 0, 0}},
		{"a leap of 20.4 m before it", filler{10, 61, 20.4, 1.6, nil, 197, 263}},
		{"19.6 m", filler{10, 61, 19.6, 1.6, nil, 0, 0}},
		{"a leap of 20.4 m after it", filler{10, 61, 1.6, 20.4, nil, 197, 263}},
		{"19.6 m after", filler{10, 61, 1.6, 19.6, nil, 0, 0}},
		{"36.7 m in two cells of 60 m, .3 of that", filler{60, 97, 36.7, 9.6, nil, 182, 314}},
		{"35.3 m", filler{60, 97, 35.3, 9.6, nil, 0, 0}},
		{"a cell and a half of 10.2 m around it", filler{10.2, 61, 100, 100, nil, 196, 264}},
		// One height in all but the 15 m, or 20 of larger cells, that are mixed at both ends: seen to elsewhere.
		{"one height", filler{10, 61, 100, 100, rising(0), 0, 0}},
		{"but 10 m from its begin", filler{10, 61, 100, 100, oneBut(2), 0, 0}},
		{"but 15 m from its begin", filler{10, 61, 100, 100, oneBut(3), 197, 263}},
		{"but 15 m from its end", filler{10, 61, 100, 100, oneBut(57), 197, 263}},
		{"but 15 m, of larger cells", filler{10.2, 61, 100, 100, oneBut(3), 0, 0}},
	} {
		g := c.ground()
		dropNearLevel(g)
		for i, m := range g.Miss {
			isLost := c.wantLast > 0 && i >= c.wantFirst && i <= c.wantLast
			if (m == terrain.NoGround) != isLost || isLost != math.IsNaN(heightAt(g, i)) {
				t.Errorf("%s: station %d is %v, lost are to be %d to %d", c.name, i, m, c.wantFirst, c.wantLast)
				break
			}
		}
	}
}

// By hand, with heights at a turn and 100 m before and after it: at least 3 % from one far end to the other,
// and half of all rise and fall.
func TestASteadyTurn(t *testing.T) {
	for _, c := range []struct {
		a, b, c  float64
		isSteady bool
	}{
		{1000, 997, 993.9, true}, {1000, 997, 994.1, false}, // 6.1 and 5.9 of 200 m
		{993.9, 997, 1000, true}, {994.1, 997, 1000, false},
		{1000, 1004.9, 990, true}, {1000, 1005.1, 990, false}, // 10 of 19.8 and of 20.2 m
		{1000, 985.1, 990, true}, {1000, 984.9, 990, false},
	} {
		g := groundOf(5, 10, 101, func(i int) float64 {
			if i <= 50 {
				return c.a + (c.b-c.a)*float64(i-30)/20
			}
			return c.b + (c.c-c.b)*float64(i-50)/20
		})
		if isSteady(g, 250, 100) != c.isSteady {
			t.Errorf("%g, %g, %g m: steady is %v", c.a, c.b, c.c, !c.isSteady)
		}
	}
}

// Legs of 100 m, and of 2.5 times the median of the line's segments.
func TestLegsOfATurnBack(t *testing.T) {
	origin := orb.Point{10, 47}
	at := func(eastM, northM float64) orb.Point { return Direct(Direct(origin, 90, eastM), 0, northM) }
	for _, c := range []struct {
		spacingM, legM float64
		isDoubt        bool
	}{{30, 102, true}, {30, 98, false}, {60, 153, true}, {60, 147, false}} {
		var line orb.LineString
		for x := 0.0; x <= 2400; x += c.spacingM {
			line = append(line, at(x, 0))
		}
		// Two long segments do not change the median.
		line = append(line, at(2405, c.legM), at(2410, 0), at(3000, 0), at(3600, 0))
		r := routeOf(t, line)
		g := groundOf(5, 10, int(r.VertexM[len(r.VertexM)-1]/5)+1, func(i int) float64 { return 1000 })
		if got := turnBacks(r, g); len(got) > 0 != c.isDoubt {
			t.Errorf("legs of %g m, segments of %g: %v", c.legM, c.spacingM, got)
		}
	}
}
