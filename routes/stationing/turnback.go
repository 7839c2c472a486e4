package stationing

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// A line that turns back at one vertex was drawn wrongly there, or has a hairpin with a single vertex.
// The heights show which: a road falls or climbs steadily through its hairpin, but comes back to the
// height that it had where the line only jumps out and back. Our own limits.
const (
	turnBackDeg    = 140.0 // least turn at the vertex
	turnBackM      = 100.0 // least length of both legs …
	turnBackUsuals = 2.5   // … and that many usual segments of the line
	steadyShare    = 0.5   // of the rise and fall along the legs, that remains between their far ends in a hairpin
	steadyGrade    = 0.03  // and least grade from one far end to the other
)

// turnBacks are the stretches where the line turns back at one vertex without falling or climbing
// steadily. A road driven out and back over itself is none.
func turnBacks(r *routes.Route, g *routes.Ground) []routes.Doubt {
	var out []routes.Doubt
	usualM := 0.0
	for k := 1; k+1 < len(r.Line); k++ {
		legM := min(r.VertexM[k]-r.VertexM[k-1], r.VertexM[k+1]-r.VertexM[k])
		if legM < turnBackM || turnDeg180(r.Line[k-1], r.Line[k], r.Line[k+1]) < turnBackDeg || isRetraced(r, k, legM) {
			continue
		}
		if usualM == 0 {
			usualM = usualSegmentM(r.VertexM)
		}
		if legM < turnBackUsuals*usualM || isSteady(g, r.VertexM[k], legM) {
			continue
		}
		p := r.Line[k]
		out = append(out, routes.Doubt{FromM: r.VertexM[k-1], ToM: r.VertexM[k+1],
			Why: fmt.Sprintf("the line turns back on itself at longitude %.6f, latitude %.6f, and the ground does not fall or climb through that turn: its vertex may be a stray", p[0], p[1])})
	}
	return out
}

// turnDeg180 is the angle by which a line turns at b, 0 to 180 degrees.
func turnDeg180(a, b, c orb.Point) float64 {
	m := metricAt(b[1])
	e1, n1 := m.deltaM(a, b)
	e2, n2 := m.deltaM(b, c)
	return math.Abs(math.Atan2(e1*n2-n1*e2, e1*e2+n1*n2)) * 180 / math.Pi
}

// isRetraced reports whether the two legs at a vertex lie on each other.
func isRetraced(r *routes.Route, k int, legM float64) bool {
	before := between(r.Line[k], r.Line[k-1], legM/(r.VertexM[k]-r.VertexM[k-1]))
	after := between(r.Line[k], r.Line[k+1], legM/(r.VertexM[k+1]-r.VertexM[k]))
	return near(before, after, meetM)
}

// usualSegmentM is the median length of a line's segments.
func usualSegmentM(vertexM []float64) float64 {
	legs := make([]float64, len(vertexM)-1)
	for i := range legs {
		legs[i] = vertexM[i+1] - vertexM[i]
	}
	slices.Sort(legs)
	return legs[len(legs)/2]
}

// isSteady reports whether the ground falls or climbs steadily through a turn.
func isSteady(g *routes.Ground, atM, legM float64) bool {
	at := func(m float64) float64 {
		return heightAt(g, max(0, min(g.Count()-1, int(math.Round(m/g.StepM)))))
	}
	a, b, c := at(atM-legM), at(atM), at(atM+legM)
	return math.Abs(a-c) >= max(steadyGrade*2*legM, steadyShare*(math.Abs(a-b)+math.Abs(b-c)))
}
