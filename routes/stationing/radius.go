package stationing

import (
	"math"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

const (
	thinM        = 1.0    // a vertex closer than this to the line without it is ignored for curves
	drawnM       = 3.0    // no drawn line cuts a curve by more
	windowM      = 20.0   // curvature is the mean over this length
	straightM    = 5000.0 // a larger radius counts as straight
	chunkVerts   = 2048   // limits the work of thinning
	chunkExtentM = 20_000
)

// bend is a stretch of constant curvature, 1/m, left positive.
type bend struct{ fromM, toM, curvature float64 }

// bends finds the curvature of a line at the vertices that remain after thinning. It is that of the
// circle through a vertex and its neighbours, which is exact where the vertices are on one circle,
// at any spacing. A line is drawn within drawnM of its road, which limits the distance of a
// neighbour for the angle. Neighbours beyond that distance are moved nearer along their segments: a
// corner of 90° between long segments is a tight curve, not a wide one.
func bends(line orb.LineString, vertexM []float64) []bend {
	keep := thin(line)
	var out []bend
	for k := 1; k+1 < len(keep); k++ {
		a, b, c := line[keep[k-1]], line[keep[k]], line[keep[k+1]]
		m := metricAt(b[1])
		e1, n1 := m.deltaM(a, b)
		e2, n2 := m.deltaM(b, c)
		l1, l2 := math.Hypot(e1, n1), math.Hypot(e2, n2)
		if l1 == 0 || l2 == 0 {
			continue
		}
		turn := math.Atan2(e1*n2-n1*e2, e1*e2+n1*n2)
		if turn == 0 {
			continue
		}
		// A chord c of a circle turns by θ = c/R and lies c²/(8R) = cθ/8 off it.
		far := 8 * drawnM / math.Abs(turn)
		s1, s2 := min(1, far/l1), min(1, far/l2)
		e1, n1, e2, n2 = e1*s1, n1*s1, e2*s2, n2*s2
		cross := e1*n2 - n1*e2
		chord := math.Hypot(e1+e2, n1+n2)
		if chord < 1e-6 {
			chord = 1e-6
		}
		at := vertexM[keep[k]]
		before, after := l1*s1/2, l2*s2/2
		if k == 1 && s1 == 1 { // the first half segment is unknown: the curve continues
			before *= 2
		}
		if k+2 == len(keep) && s2 == 1 {
			after *= 2
		}
		out = append(out, bend{at - before, at + after, 2 * cross / (l1 * s1 * l2 * s2 * chord)})
	}
	return out
}

// RadiiM returns the radius of a route's curve at each of n stations stepM apart, metres,
// +Inf where it is straight.
func RadiiM(r *routes.Route, n int, stepM float64) []float64 {
	return radiiM(r.Line, r.VertexM, n, stepM)
}

// radiiM returns the radius at each of n stations stepM apart: the tightest
// within half a step of it, so that a curve between two stations is not lost.
// At each place it is the inverse of the mean curvature over windowM, so that a
// kink and its opposite cancel.
func radiiM(line orb.LineString, vertexM []float64, n int, stepM float64) []float64 {
	lengthM := vertexM[len(vertexM)-1]
	bs := bends(line, vertexM)
	behind, ahead := turning{bends: bs}, turning{bends: bs}
	sub := int(math.Ceil(stepM / (windowM / 8)))
	sub += sub % 2 // so that half steps are covered from both sides
	out := make([]float64, n)
	for k := range out {
		out[k] = math.Inf(1)
	}
	for j := 0; j <= (n-1)*sub; j++ {
		s := float64(j) * stepM / float64(sub)
		from, to := max(0, s-windowM/2), min(lengthM, s+windowM/2)
		r := (to - from) / math.Abs(ahead.upTo(to)-behind.upTo(from))
		if !(r <= straightM) {
			continue
		}
		k := j / sub
		if 2*(j%sub) <= sub {
			out[k] = min(out[k], r)
		}
		if 2*(j%sub) >= sub {
			out[k+1] = min(out[k+1], r)
		}
	}
	return out
}

// turning sums the angle by which a line has turned up to stations that never
// go back, radians, left positive.
type turning struct {
	bends []bend
	i     int
	sum   float64 // of the bends before i
}

func (t *turning) upTo(stationM float64) float64 {
	for t.i < len(t.bends) && t.bends[t.i].toM <= stationM {
		b := t.bends[t.i]
		t.sum += b.curvature * (b.toM - b.fromM)
		t.i++
	}
	if t.i < len(t.bends) && t.bends[t.i].fromM < stationM {
		return t.sum + t.bends[t.i].curvature*(stationM-t.bends[t.i].fromM)
	}
	return t.sum
}

// thin returns the indices of the vertices that a line needs to stay within
// thinM of itself (Douglas and Peucker 1973), worked out chunk by chunk.
func thin(line orb.LineString) []int {
	keep := []int{0}
	for from := 0; from < len(line)-1; {
		to := from + 1
		m := metricAt(line[from][1])
		for to < len(line)-1 && to-from < chunkVerts {
			if e, n := m.deltaM(line[from], line[to+1]); math.Hypot(e, n) > chunkExtentM {
				break
			}
			to++
		}
		keep = thinChunk(line, from, to, keep)
		from = to
	}
	return keep
}

// thinChunk appends the vertices to keep after from, up to to.
func thinChunk(line orb.LineString, from, to int, keep []int) []int {
	m := metricAt(line[(from+to)/2][1])
	type span struct{ a, b int }
	stack := []span{{from, to}}
	for len(stack) > 0 {
		s := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		ex, ny := m.deltaM(line[s.a], line[s.b])
		l2 := ex*ex + ny*ny
		worst, at := thinM*thinM, -1
		for i := s.a + 1; i < s.b; i++ {
			x, y := m.deltaM(line[s.a], line[i])
			t := 0.0
			if l2 > 0 {
				t = max(0, min(1, (x*ex+y*ny)/l2))
			}
			dx, dy := x-t*ex, y-t*ny
			if d := dx*dx + dy*dy; d > worst {
				worst, at = d, i
			}
		}
		if at < 0 {
			keep = append(keep, s.b)
			continue
		}
		stack = append(stack, span{at, s.b}, span{s.a, at})
	}
	return keep
}
