package grade

import (
	"context"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gradeline/routes"
)

// mirrored is the same ground digitised the other way.
func mirrored(g *routes.Ground) *routes.Ground {
	n, cols := g.Count(), len(g.OffsetM)
	m := *g
	m.SectionM = make([]float32, len(g.SectionM))
	for i := 0; i < n; i++ {
		for c := 0; c < cols; c++ {
			m.SectionM[i*cols+c] = g.SectionM[(n-1-i)*cols+cols-1-c]
		}
	}
	m.OffsetM = slices.Clone(g.OffsetM)
	slices.Reverse(m.OffsetM)
	for c := range m.OffsetM {
		m.OffsetM[c] = -m.OffsetM[c]
	}
	m.Miss, m.CellM, m.Source, m.Points = slices.Clone(g.Miss), slices.Clone(g.CellM), slices.Clone(g.Source), slices.Clone(g.Points)
	slices.Reverse(m.Miss)
	slices.Reverse(m.CellM)
	slices.Reverse(m.Source)
	slices.Reverse(m.Points)
	m.Structures = nil
	for _, s := range slices.Backward(g.Structures) {
		s.FromM, s.ToM = g.LengthM-s.ToM, g.LengthM-s.FromM
		m.Structures = append(m.Structures, s)
	}
	return &m
}

// Case 18: a line digitised the other way gives the same road.
func TestReversedLineMirrors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.SampledFrom([]float64{1, 10, 30, 90}).Draw(t, "cell")
		g := makeRoad(rapid.Uint64Range(1, 1e6).Draw(t, "seed"), genOptions{cell: cell, lengthM: 3000, structures: true, noise: 1, wanderM: -1}).ground
		a, err := Recover(context.Background(), g, Options{})
		if err != nil {
			t.Fatal(err)
		}
		b, err := Recover(context.Background(), mirrored(g), Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i, n := 0, a.Count(); i < n; i++ {
			if d := math.Abs(a.ElevationM[i] - b.ElevationM[n-1-i]); d > 1e-9 {
				t.Fatalf("station %d differs by %g m", i, d)
			}
		}
	})
}

// Case 18, and heights in another datum.
func TestConstantAddedToHeightsOnlyShifts(t *testing.T) {
	g := makeRoad(5, genOptions{cell: 10, lengthM: 4000, structures: true, noise: 1, wanderM: -1}).ground
	for i := range g.SectionM {
		g.SectionM[i] = float32(math.Round(float64(g.SectionM[i])*64) / 64) // exact in float32 up to 131 km
	}
	a := mustRecover(t, g, Options{})
	for i := range g.SectionM {
		g.SectionM[i] += 1024
	}
	b := mustRecover(t, g, Options{})
	for i := range a.ElevationM {
		if d := math.Abs(b.ElevationM[i] - a.ElevationM[i] - 1024); d > 1e-9 {
			t.Fatalf("station %d: off by %g m", i, d)
		}
	}
}

// Case 18: where the line starts matters only near its start.
func TestStartStationShiftChangesOnlyTheStart(t *testing.T) {
	truth := heights(5, rolling...)
	z := spoil(truth, 5, 10, 1, 21)
	a := mustRecover(t, lineGround(z, 5, 10), Options{})
	for _, cut := range []int{7, 60} {
		b := mustRecover(t, lineGround(z[cut:], 5, 10), Options{})
		ss, m := gradeSquares(a.ElevationM[cut+400:], b.ElevationM[400:], 5)
		atMost(t, "2 km past the start, grades differ by points", math.Sqrt(ss/float64(m)), 0.12)
	}
}

// Case 21: 1,000 km at 5 m stays positive definite. Cases 23 and 24: the same
// input gives the same bits, and time grows with length.
func TestThousandKilometres(t *testing.T) {
	var per [2]time.Duration
	for k, n := range []int{20001, 200001} {
		z := make([]float64, n)
		for i := range z {
			z[i] = 300 * math.Sin(float64(i)*5/9000)
		}
		g := lineGround(spoil(z, 5, 10, 1, 22), 5, 10)
		t0 := time.Now()
		q := mustRecover(t, g, Options{})
		per[k] = time.Since(t0) / time.Duration(n)
		for i, e := range q.ElevationM {
			if math.IsNaN(e) || math.Abs(e-z[i]) > 15 {
				t.Fatalf("%d stations: station %d is %g, truth %g", n, i, e, z[i])
			}
		}
		if k == 0 {
			if again := mustRecover(t, g, Options{}); !slices.Equal(again.ElevationM, q.ElevationM) {
				t.Error("two runs differ")
			}
		}
	}
	t.Logf("per station: %v at 100 km, %v at 1,000 km", per[0], per[1])
	if per[1] > 4*per[0] {
		t.Errorf("time per station grew from %v to %v", per[0], per[1])
	}
}
