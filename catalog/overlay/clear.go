package overlay

import (
	"math"
)

// trimM is the distance from crest and foot at which a polygon ends, in addition to half its width,
// which keeps it from reaching round a corner. It allows for the distance between two drawings of
// one junction (common practice, no source).
func trimM(widthM float64) float64 { return widthM/2 + 5 }

// trimmed cuts off a line's ends; on a short line a third at either end.
func trimmed(p []xy, isFirst, isLast bool, widthM float64) []xy {
	length := 0.0
	for i := 1; i < len(p); i++ {
		length += p[i].minus(p[i-1]).norm()
	}
	cut := math.Min(trimM(widthM), length/3)
	if isFirst {
		p = cutStart(p, cut)
	}
	if isLast {
		p = reversed(cutStart(reversed(p), cut))
	}
	return p
}

func reversed(p []xy) []xy {
	out := make([]xy, len(p))
	for i, a := range p {
		out[len(p)-1-i] = a
	}
	return out
}

// cutStart drops the first metres of a line.
func cutStart(p []xy, cutM float64) []xy {
	for i := 1; i < len(p); i++ {
		d := p[i].minus(p[i-1])
		if n := d.norm(); n > cutM {
			return append([]xy{p[i-1].plus(d, cutM/n)}, p[i:]...)
		} else {
			cutM -= n
		}
	}
	return p[len(p)-1:]
}

// piece is a stretch of a line that is covered at one width.
type piece struct {
	points []xy
	halfM  float64
}

// clearStepM is the step in which a line is checked for other roads.
const clearStepM = 5

// leastHalfM is the least half width; narrower polygons are left out.
const leastHalfM = 0.5

// clearPieces divides a line by the distance of other roads: full width where none is near; half of
// it, a quarter and so on where one is; nothing where that would be under a metre wide.
func clearPieces(p []xy, others [][2]xy, halfM float64) []piece {
	if len(others) == 0 {
		return []piece{{p, halfM}}
	}
	fine := refined(p, clearStepM)
	var out []piece
	for i := 1; i < len(fine); i++ {
		half := clearHalfM(fine[i-1], fine[i], others, halfM)
		n := len(out)
		switch {
		case half < leastHalfM:
		case n > 0 && out[n-1].halfM == half && out[n-1].points[len(out[n-1].points)-1] == fine[i-1]:
			out[n-1].points = append(out[n-1].points, fine[i])
		default:
			out = append(out, piece{[]xy{fine[i-1], fine[i]}, half})
		}
	}
	return out
}

// refined adds vertices so that none is farther from the next than stepM.
func refined(p []xy, stepM float64) []xy {
	out := []xy{p[0]}
	for i := 1; i < len(p); i++ {
		d := p[i].minus(p[i-1])
		n := int(math.Ceil(d.norm() / stepM))
		for k := 1; k < n; k++ {
			out = append(out, p[i-1].plus(d, float64(k)/float64(n)))
		}
		out = append(out, p[i])
	}
	return out
}

// clearHalfM is the half width, by repeated halving of the full one, at which a
// segment's polygon stays clear of other roads. A mitre reaches up to twice the half
// width at a bend, and thinning may move the line; both are allowed for.
func clearHalfM(a, b xy, others [][2]xy, halfM float64) float64 {
	nearest := math.Inf(1)
	for _, o := range others {
		nearest = math.Min(nearest, segmentsApartM(a, b, o[0], o[1]))
	}
	for halfM >= leastHalfM && nearest < 2.2*halfM {
		halfM /= 2
	}
	return halfM
}

// segmentsApartM is the distance between two segments; 0 where they cross.
func segmentsApartM(a, b, c, d xy) float64 {
	ab, cd := b.minus(a), d.minus(c)
	if ab.cross(c.minus(a))*ab.cross(d.minus(a)) < 0 && cd.cross(a.minus(c))*cd.cross(b.minus(c)) < 0 {
		return 0
	}
	return math.Min(math.Min(pointApartM(a, c, d), pointApartM(b, c, d)), math.Min(pointApartM(c, a, b), pointApartM(d, a, b)))
}

// pointApartM is the distance of a point from a segment.
func pointApartM(p, a, b xy) float64 {
	d := b.minus(a)
	t := math.Max(0, math.Min(1, p.minus(a).dot(d)/math.Max(d.dot(d), 1e-12)))
	return p.minus(a).plus(d, -t).norm()
}

// near returns the segments of other roads that may be near a line, on its plane.
func (p *plane) near(line []xy, route string, o *AvoidOptions) [][2]xy {
	lo, hi := xy{math.Inf(1), math.Inf(1)}, xy{math.Inf(-1), math.Inf(-1)}
	for _, a := range line {
		lo, hi = xy{math.Min(lo.x, a.x), math.Min(lo.y, a.y)}, xy{math.Max(hi.x, a.x), math.Max(hi.y, a.y)}
	}
	reach := 2 * o.WidthM
	var out [][2]xy
	for _, other := range o.Others {
		if other.Route == route {
			continue
		}
		for i := 1; i < len(other.Line); i++ {
			a, b := p.point(other.Line[i-1]), p.point(other.Line[i])
			if math.Max(a.x, b.x) < lo.x-reach || math.Min(a.x, b.x) > hi.x+reach || math.Max(a.y, b.y) < lo.y-reach || math.Min(a.y, b.y) > hi.y+reach {
				continue
			}
			out = append(out, [2]xy{a, b})
		}
	}
	return out
}
