package grade

import (
	"context"
	"math"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// benchGround is 3 km of a clean road on a 10 m wide bench in a hillside of 50 %, 1 m
// cells; the stations that isMissing names have no ground.
func benchGround(heightM func(m float64) float64, isMissing func(i int) bool) *routes.Ground {
	g := &routes.Ground{StepM: 5, LengthM: 3000}
	for c := -20; c <= 20; c++ {
		g.OffsetM = append(g.OffsetM, float64(c))
	}
	for i := range 601 {
		miss, cellM := terrain.Hit, float32(1)
		if isMissing(i) {
			miss, cellM = terrain.Outside, 0
		}
		for _, o := range g.OffsetM {
			z := heightM(5*float64(i)) + 0.5*math.Copysign(math.Max(0, math.Abs(o)-5), o)
			if miss != terrain.Hit {
				z = math.NaN()
			}
			g.SectionM = append(g.SectionM, float32(z))
		}
		g.Miss, g.CellM = append(g.Miss, miss), append(g.CellM, cellM)
		g.Points = append(g.Points, orb.Point{-105 + float64(i)*5e-5, 40})
	}
	return g
}

// A missing station says nothing about a bench: stations near it keep their weight, so
// the grade line runs on as without it. With missing cross-sections counted as rough
// ones, two stations beyond the raster bent the first 60 m by 0.21 m and 0.21 points.
func TestMissingStationsDontBendTheGradeLine(t *testing.T) {
	wavy := func(m float64) float64 { return 500 - 0.05*m + 8*math.Sin(m/400) }
	for name, isMissing := range map[string]func(i int) bool{
		"none":         func(int) bool { return false },
		"first":        func(i int) bool { return i < 1 },
		"first two":    func(i int) bool { return i < 2 },
		"last":         func(i int) bool { return i >= 600 },
		"last two":     func(i int) bool { return i >= 599 },
		"one each 100": func(i int) bool { return i%20 == 10 },
	} {
		q, err := Recover(context.Background(), benchGround(wavy, isMissing), Options{})
		if err != nil {
			t.Fatal(err)
		}
		worstM, worstPct := 0.0, 0.0
		for i, z := range q.ElevationM {
			m := 5 * float64(i)
			worstM = math.Max(worstM, math.Abs(z-wavy(m)))
			if i+20 < len(q.ElevationM) { // 100 m, so metres of rise are per cent
				worstPct = math.Max(worstPct, math.Abs(q.ElevationM[i+20]-z-(wavy(m+100)-wavy(m))))
			}
		}
		t.Logf("%s: heights off by %.3f m at most, grades over 100 m by %.3f points", name, worstM, worstPct)
		if !(worstM <= 0.02) || !(worstPct <= 0.03) {
			t.Errorf("%s missing: heights off by %.3f m, grades over 100 m by %.3f points", name, worstM, worstPct)
		}
	}
}
