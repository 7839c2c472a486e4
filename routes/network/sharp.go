package network

import (
	"math"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// sharpDeg is the bend from which a line is assumed to turn back.
const sharpDeg = 90.0

// splitSharp splits lines where they turn sharply at the end of another line: the arms of a
// junction are often drawn as one line, out and back.
func splitSharp(features []routes.Feature) []routes.Feature {
	t := newNodeTable()
	ends := map[int32]bool{}
	for i := range features {
		f := &features[i]
		ends[t.number(f, 0)], ends[t.number(f, len(f.Line)-1)] = true, true
	}
	out := make([]routes.Feature, 0, len(features))
	for i := range features {
		f := features[i]
		if len(f.Structures) > 0 || isRoundabout(f.Tags) {
			out = append(out, f)
			continue
		}
		from := 0
		for k := 1; k+1 < len(f.Line); k++ {
			if ends[t.number(&f, k)] && bendDegAt(f.Line, k) > sharpDeg {
				out = append(out, part(f, from, k))
				from = k
			}
		}
		out = append(out, part(f, from, len(f.Line)-1))
	}
	return out
}

// part is a line from one of its vertices to another.
func part(f routes.Feature, from, to int) routes.Feature {
	if from == 0 && to == len(f.Line)-1 {
		return f
	}
	f.Line = f.Line[from : to+1 : to+1]
	if f.NodeIDs != nil {
		f.NodeIDs = f.NodeIDs[from : to+1 : to+1]
	}
	return f
}

// bendDegAt is the angle by which a line turns at a vertex, over headM on either side.
func bendDegAt(l orb.LineString, k int) float64 {
	m := planeAt(l[k][1])
	x1, y1 := m.vector(l[k], alongLine(k, func(i int) orb.Point { return l[k-i] }))
	x2, y2 := m.vector(l[k], alongLine(len(l)-1-k, func(i int) orb.Point { return l[k+i] }))
	return halfTurn * math.Abs(math.Atan2(-x1*y2+y1*x2, -(x1*x2+y1*y2)))
}

// alongLine is the place headM along a line whose vertices 0 to last are given by at,
// or its last vertex.
func alongLine(last int, at func(i int) orb.Point) orb.Point {
	m := planeAt(at(0)[1])
	gone := 0.0
	for i := 1; i <= last; i++ {
		x, y := m.vector(at(i-1), at(i))
		step := math.Hypot(x, y)
		if gone+step >= headM && step > 0 {
			t := (headM - gone) / step
			p, q := at(i-1), at(i)
			return orb.Point{p[0] + t*(q[0]-p[0]), p[1] + t*(q[1]-p[1])}
		}
		gone += step
	}
	return at(last)
}
