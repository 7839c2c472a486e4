package survey_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog/survey"
	"gradeline/routes"
	"gradeline/routes/descent"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// madeGround is a raster in memory for the cases that a road drawn from a seed
// does not hold: heights by a formula of x east and y north in metres from
// 11° E 46° N, averaged over each cell, with the noise usual at its cell size.
type madeGround struct {
	cellM   float64
	heightM func(x, y float64) float64
	sigmaM  float64 // 30 % white, the rest correlated over tauM
	tauM    float64
	seed    uint64
}

const madeEastM, madeNorthM = 77463.0, 111147.0 // of a degree at 46° N

func madeAt(x, y float64) orb.Point { return orb.Point{11 + x/madeEastM, 46 + y/madeNorthM} }

// usualNoise is the noise that goes with a cell size of the measure.
var usualNoise = map[float64][2]float64{1: {0.15, 40}, 10: {1, 60}, 30: {2.5, 120}, 90: {4, 300}}

func noisyGround(cellM float64, seed uint64, heightM func(x, y float64) float64) *madeGround {
	n := usualNoise[cellM]
	return &madeGround{cellM, heightM, n[0], n[1], seed}
}

// normal is a standard normal value of a lattice point.
func (g *madeGround) normal(i, j int, salt uint64) float64 {
	var p rand.PCG
	p.Seed(g.seed<<8|salt, uint64(int64(i))*0x9e3779b97f4a7c15^uint64(int64(j)))
	p.Uint64()
	return rand.New(&p).NormFloat64()
}

func onLattice(x, y, spacing float64, node func(i, j int) float64) float64 {
	u, v := x/spacing, y/spacing
	i, j := math.Floor(u), math.Floor(v)
	u, v = u-i, v-j
	a, b := int(i), int(j)
	return (1-v)*((1-u)*node(a, b)+u*node(a+1, b)) + v*((1-u)*node(a, b+1)+u*node(a+1, b+1))
}

func (g *madeGround) cell(i, j int) float64 {
	x, y := float64(i)*g.cellM, float64(j)*g.cellM
	const part = 3 // parts of a cell each way, averaged
	h := 0.0
	for a := range part {
		for b := range part {
			h += g.heightM(x+g.cellM*((float64(a)+0.5)/part-0.5), y+g.cellM*((float64(b)+0.5)/part-0.5)) / part / part
		}
	}
	if g.sigmaM == 0 {
		return h
	}
	slow := onLattice(x, y, g.tauM, func(i, j int) float64 { return g.normal(i, j, 1) })
	// Bilinear mixing of four leaves 2/3 of a standard deviation on average.
	return h + g.sigmaM*(math.Sqrt(0.3)*g.normal(i, j, 2)+math.Sqrt(0.7)*1.5*slow)
}

func (g *madeGround) Sample(ctx context.Context, points []terrain.Point, out []terrain.Sample) error {
	nodes := map[[2]int]float64{}
	node := func(i, j int) float64 {
		h, ok := nodes[[2]int{i, j}]
		if !ok {
			h = g.cell(i, j)
			nodes[[2]int{i, j}] = h
		}
		return h
	}
	for k, p := range points {
		x, y := (p.LonDeg-11)*madeEastM, (p.LatDeg-46)*madeNorthM
		out[k] = terrain.Sample{ElevationM: onLattice(x, y, g.cellM, node), CellM: float32(g.cellM)}
	}
	return ctx.Err()
}

func (g *madeGround) Sources() []terrain.Raster { return nil }
func (g *madeGround) Warnings() []string        { return nil }

// surveyed takes features through the whole pipeline; it wants one route.
func surveyed(t *testing.T, s terrain.Surface, features ...routes.Feature) survey.Result {
	t.Helper()
	rs, notes := stationing.Assemble(features)
	if len(rs) != 1 {
		t.Fatalf("%d routes, %v", len(rs), notes)
	}
	res := survey.One(context.Background(), s, &rs[0], survey.Options{Descent: descent.Options{}.WithDefaults()})
	if res.Err != nil {
		t.Fatal(res.Err)
	}
	return res
}

func madeWay(n int, line orb.LineString, tags ...string) routes.Feature {
	m := map[string]string{}
	for i := 0; i+1 < len(tags); i += 2 {
		m[tags[i]] = tags[i+1]
	}
	return routes.Feature{Line: line, Tags: m, Place: routes.Place{File: "made", Feature: n}}
}

// eastward is a straight line from x = 0, a vertex every 50 m, offsetM(x) right of it.
func eastward(lengthM float64, offsetM func(x float64) float64) orb.LineString {
	var line orb.LineString
	for x := 0.0; x <= lengthM+1e-6; x += 50 {
		line = append(line, madeAt(x, -offsetM(x)))
	}
	return line
}

func onTheRoad(float64) float64 { return 0 }

// madeHill is level, falls eastward over lengthM from x = 2 km with parabolic
// curves of 150 m, and is level again.
func madeHill(gradePct, lengthM float64) func(x, y float64) float64 {
	fall := func(x, at float64) float64 {
		switch d := x - at + 75; {
		case d <= 0:
			return 0
		case d < 150:
			return d * d / 300
		}
		return x - at
	}
	return func(x, _ float64) float64 {
		return 1500 - gradePct/100*(fall(x, 2000)-fall(x, 2000+lengthM))
	}
}
