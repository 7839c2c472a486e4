package stationing

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// The height on the line is the middle one of a cross-section.
func TestHeightOnTheLine(t *testing.T) {
	g := &routes.Ground{OffsetM: []float64{-20, -10, 0, 10, 20}, SectionM: []float32{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}}
	if heightAt(g, 0) != 3 || heightAt(g, 1) != 8 {
		t.Errorf("%g, %g", heightAt(g, 0), heightAt(g, 1))
	}
}

// A quadratic has no roughness; a single height out of line keeps 18/35 of itself there
// (1 less the weight 17/35); the two at each end are unknown.
func TestRoughness(t *testing.T) {
	z := make([]float64, 9)
	for i := range z {
		z[i] = 3 + 2*float64(i) - .5*float64(i*i)
	}
	for i, r := range roughness(z) {
		if isEnd := i < 2 || i > 6; math.IsNaN(r) != isEnd || !isEnd && math.Abs(r) > 1e-12 {
			t.Errorf("place %d of a quadratic: %g", i, r)
		}
	}
	z[4]++
	if r := roughness(z); math.Abs(r[4]-18.0/35) > 1e-12 || math.Abs(r[3]+12.0/35) > 1e-12 || math.Abs(r[2]-3.0/35) > 1e-12 {
		t.Errorf("%v", r)
	}
}

// A slip at the far end of a line of three vertices leaves two.
func TestASpikeLeavesTwoVertices(t *testing.T) {
	a := orb.Point{10, 46}
	line, notes, _ := cleanLine(orb.LineString{a, Direct(a, 0, 60), Direct(a, 0, 40)}, []int{0})
	if len(line) != 2 || len(notes) != 1 || math.Abs(DistanceM(line[0], line[1])-40) > .01 {
		t.Errorf("%v, %v", line, notes)
	}
}
