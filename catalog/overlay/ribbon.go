package overlay

import (
	"math"

	"gradeline/catalog"
)

// xy is a place in metres on a plane that touches the ellipsoid nearby.
type xy struct{ x, y float64 }

func (a xy) minus(b xy) xy { return xy{a.x - b.x, a.y - b.y} }

func (a xy) plus(b xy, k float64) xy { return xy{a.x + k*b.x, a.y + k*b.y} }

func (a xy) cross(b xy) float64 { return a.x*b.y - a.y*b.x }

func (a xy) dot(b xy) float64 { return a.x*b.x + a.y*b.y }

func (a xy) norm() float64 { return math.Hypot(a.x, a.y) }

// thinShare is the part of the width by which thinning may move a line; each ribbon extends that
// much beyond its ends, so that there is no gap to the next.
const thinShare = 20

// plane converts degrees to metres on a plane that touches the ellipsoid at a line. Its scale comes
// from the WGS 84 radii of curvature at the line's middle; over a descent's few kilometres it is
// accurate to a thousandth.
type plane struct {
	origin                 catalog.Vertex
	mPerDegLon, mPerDegLat float64
}

func newPlane(vs []catalog.Vertex) plane {
	lat := vs[len(vs)/2].LatDeg * math.Pi / 180
	const a, e2 = 6378137.0, 0.00669437999014 // WGS 84 (NGA.STND.0036), from memory
	s := 1 - e2*math.Sin(lat)*math.Sin(lat)
	return plane{vs[0], math.Max(1, a/math.Sqrt(s)*math.Cos(lat)*math.Pi/180), // never 0 at a pole
		a * (1 - e2) / math.Pow(s, 1.5) * math.Pi / 180}
}

func (p *plane) point(v catalog.Vertex) xy {
	return xy{math.Remainder(v.LonDeg-p.origin.LonDeg, 360) * p.mPerDegLon, (v.LatDeg - p.origin.LatDeg) * p.mPerDegLat}
}

func (p *plane) position(a xy) position {
	lon := p.origin.LonDeg + a.x/p.mPerDegLon
	return position{math.Max(-180, math.Min(180, lon)), math.Max(-90, math.Min(90, p.origin.LatDeg+a.y/p.mPerDegLat))}
}

// points are a line's vertices on the plane, without repeated ones.
func (p *plane) points(vs []catalog.Vertex) []xy {
	pts := make([]xy, 0, len(vs))
	for _, v := range vs {
		x := xy{(v.LonDeg - p.origin.LonDeg) * p.mPerDegLon, (v.LatDeg - p.origin.LatDeg) * p.mPerDegLat} // a part does not cross the antimeridian
		if n := len(pts); n == 0 || x.minus(pts[n-1]).norm() > 0.02 {
			pts = append(pts, x)
		}
	}
	return pts
}

// closingRings covers a part of a line with simple counter-clockwise rings that touch no other
// road. They end short of the line's own ends, are narrower where another road is near, and have a
// gap where one meets or crosses the line.
func closingRings(vs []catalog.Vertex, route string, isFirst, isLast bool, o *AvoidOptions) [][]position {
	p := newPlane(vs)
	pts := p.points(vs)
	if len(pts) < 2 {
		return nil // shorter than two centimetres
	}
	pts = trimmed(pts, isFirst, isLast, o.WidthM)
	west, east := (-180-p.origin.LonDeg)*p.mPerDegLon, (180-p.origin.LonDeg)*p.mPerDegLon
	var out [][]position
	for _, piece := range clearPieces(pts, p.near(pts, route, o), o.WidthM/2) {
		for _, ring := range simpleRings(thin(piece.points, piece.halfM*2/thinShare), piece.halfM, west, east) {
			r := make([]position, 0, len(ring)+1)
			for _, a := range ring {
				r = append(r, p.position(a))
			}
			out = append(out, append(r, r[0]))
		}
	}
	return out
}

// thin drops vertices within tolM of the chord (Douglas and Peucker, 1973).
func thin(p []xy, tolM float64) []xy {
	if len(p) < 3 {
		return p
	}
	d := p[len(p)-1].minus(p[0])
	far, at := -1.0, 0
	for i := 1; i < len(p)-1; i++ {
		v := p[i].minus(p[0])
		// Distance to the chord as a segment: a loop's far side is beyond its ends.
		t := math.Max(0, math.Min(1, (v.x*d.x+v.y*d.y)/math.Max(d.x*d.x+d.y*d.y, 1e-12)))
		if e := v.plus(d, -t).norm(); e > far {
			far, at = e, i
		}
	}
	if far <= tolM {
		return []xy{p[0], p[len(p)-1]}
	}
	left := thin(p[:at+1], tolM)
	return append(left[:len(left)-1:len(left)-1], thin(p[at:], tolM)...)
}

// simpleRings makes one ring of the line, cut off at the antimeridian's sides, or
// halves the line until every ring is simple; the ring of a single segment is convex,
// so it is simple however it is cut.
func simpleRings(p []xy, halfM, west, east float64) [][]xy {
	ring, ok := ribbon(p, halfM)
	ring = cutAt(cutAt(ring, 1, east), -1, -west)
	if len(p) == 2 || ok && isSimple(ring) {
		return [][]xy{ring}
	}
	m := len(p) / 2
	return append(simpleRings(p[:m+1], halfM, west, east), simpleRings(p[m:], halfM, west, east)...)
}

// cutAt returns the part of a ring where sign·x is at most limit (Sutherland and
// Hodgman, 1974).
func cutAt(ring []xy, sign, limit float64) []xy {
	var out []xy
	for i, b := range ring {
		a := ring[(i+len(ring)-1)%len(ring)]
		da, db := sign*a.x-limit, sign*b.x-limit
		if da > 0 != (db > 0) {
			out = append(out, a.plus(b.minus(a), da/(da-db)))
		}
		if db <= 0 {
			out = append(out, b)
		}
	}
	return out
}

// ribbon offsets a line to both sides: out along the right, back along the left, which
// is counter-clockwise. It is not ok where the line turns by more than 120 degrees at
// one vertex, which no mitre can follow, nor where an edge on the inside of a bend is
// reversed.
func ribbon(p []xy, halfM float64) (ring []xy, ok bool) {
	n := len(p)
	right, left := make([]xy, n), make([]xy, n)
	ok = true
	for i := range p {
		var before, after xy // unit directions of the segments that meet here
		if i > 0 {
			before = unitVector(p[i].minus(p[i-1]))
		}
		if i < n-1 {
			after = unitVector(p[i+1].minus(p[i]))
		}
		if i == 0 {
			before = after
		}
		if i == n-1 {
			after = before
		}
		mid := unitVector(before.plus(after, 1))
		cosHalfTurn := mid.x*after.x + mid.y*after.y
		ok = ok && cosHalfTurn > 0.5
		k := halfM / math.Max(0.5, cosHalfTurn)
		at := p[i]
		if i == 0 {
			at = at.plus(after, -2*halfM/thinShare)
		}
		if i == n-1 {
			at = at.plus(after, 2*halfM/thinShare)
		}
		right[i] = at.plus(xy{mid.y, -mid.x}, k)
		left[n-1-i] = at.plus(xy{mid.y, -mid.x}, -k)
	}
	for i := 1; i < n; i++ {
		d := p[i].minus(p[i-1])
		ok = ok && d.dot(right[i].minus(right[i-1])) > 0 && d.dot(left[n-1-i].minus(left[n-i])) > 0
	}
	return append(right, left...), ok
}

func unitVector(v xy) xy {
	if n := v.norm(); n > 0 {
		return xy{v.x / n, v.y / n}
	}
	return xy{1, 0}
}

// isSimple reports whether no two edges of a closed ring meet, except neighbours at their common
// corner, and the ring runs counter-clockwise.
func isSimple(r []xy) bool {
	n := len(r)
	area := 0.0
	for i := range r {
		area += r[i].cross(r[(i+1)%n])
	}
	if area <= 0 {
		return false
	}
	for i := range r {
		a, b := r[i], r[(i+1)%n]
		for j := i + 1; j < n; j++ {
			c, d := r[j], r[(j+1)%n]
			if math.Max(a.x, b.x) < math.Min(c.x, d.x) || math.Max(c.x, d.x) < math.Min(a.x, b.x) ||
				math.Max(a.y, b.y) < math.Min(c.y, d.y) || math.Max(c.y, d.y) < math.Min(a.y, b.y) {
				continue
			}
			if j == i+1 || (i == 0 && j == n-1) {
				continue // they share a corner; a fold back appears as a crossing of its neighbours
			}
			if crosses(a, b, c, d) {
				return false
			}
		}
	}
	return true
}

func crosses(a, b, c, d xy) bool {
	ab, cd := b.minus(a), d.minus(c)
	s, t := ab.cross(c.minus(a)), ab.cross(d.minus(a))
	u, v := cd.cross(a.minus(c)), cd.cross(b.minus(c))
	return s*t <= 0 && u*v <= 0 // a touch counts: the boxes of a and b, c and d overlap
}
