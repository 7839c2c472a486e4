package synth

import "math"

// bucketM is the side of the road index's cells.
const bucketM = 64.0

// roadIndex finds the nearest place on any road. Point i and i+1 are joined
// unless last[i].
type roadIndex struct {
	x, y, z  []float64
	residual []float64 // remaining height from the surface to natural ground at the point
	benchM   []float64
	free     []bool // on a structure: no bench, no slopes
	last     []bool
	buckets  map[[2]int32][]int32
}

// hit is the nearest place on a road.
type hit struct {
	distM, elevM, residualM, benchM float64
	free                            bool
}

func newRoadIndex(roads []*alignment) *roadIndex {
	r := &roadIndex{buckets: map[[2]int32][]int32{}}
	for _, a := range roads {
		for i := range a.x {
			k := int32(len(r.x))
			r.x, r.y, r.z = append(r.x, a.x[i]), append(r.y, a.y[i]), append(r.z, a.z[i])
			r.benchM = append(r.benchM, a.benchM)
			r.last = append(r.last, i == len(a.x)-1)
			if i < len(a.x)-1 {
				b := bucketOf(a.x[i], a.y[i])
				r.buckets[b] = append(r.buckets[b], k)
			}
		}
	}
	r.residual = make([]float64, len(r.x))
	r.free = make([]bool, len(r.x))
	return r
}

func bucketOf(x, y float64) [2]int32 {
	return [2]int32{int32(math.Floor(x / bucketM)), int32(math.Floor(y / bucketM))}
}

// candidates returns the segments that can be nearest to any point within
// radiusM of (x, y), and the distance from (x, y) to the nearest segment. Beyond
// limitM it returns none and +Inf.
func (r *roadIndex) candidates(x, y, radiusM, limitM float64, buf []int32) ([]int32, float64) {
	reach := int32(math.Ceil((limitM+2*radiusM+planStepM)/bucketM)) + 1
	c := bucketOf(x, y)
	best := math.Inf(1)
	for ring := int32(0); ring <= reach; ring++ {
		if float64(ring-1)*bucketM > best {
			break
		}
		r.eachInRing(c, ring, func(k int32) {
			best = math.Min(best, r.dist(x, y, k))
		})
	}
	if best > limitM {
		return buf[:0], math.Inf(1)
	}
	buf = buf[:0]
	far := best + 2*radiusM
	for ring := int32(0); float64(ring-1)*bucketM <= far+planStepM; ring++ {
		r.eachInRing(c, ring, func(k int32) {
			if r.dist(x, y, k) <= far {
				buf = append(buf, k)
			}
		})
	}
	return buf, best
}

func (r *roadIndex) eachInRing(c [2]int32, ring int32, f func(int32)) {
	for dy := -ring; dy <= ring; dy++ {
		step := 2 * ring
		if dy == -ring || dy == ring || ring == 0 {
			step = 1
		}
		for dx := -ring; dx <= ring; dx += step {
			for _, k := range r.buckets[[2]int32{c[0] + dx, c[1] + dy}] {
				f(k)
			}
		}
	}
}

func (r *roadIndex) foot(x, y float64, k int32) (d2, t float64) {
	dx, dy := r.x[k+1]-r.x[k], r.y[k+1]-r.y[k]
	px, py := x-r.x[k], y-r.y[k]
	t = clamp((px*dx+py*dy)/(dx*dx+dy*dy), 0, 1)
	px -= t * dx
	py -= t * dy
	return px*px + py*py, t
}

func (r *roadIndex) dist(x, y float64, k int32) float64 {
	d2, _ := r.foot(x, y, k)
	return math.Sqrt(d2)
}

func (r *roadIndex) nearest(x, y float64, among []int32) hit {
	best, bk, bt := math.Inf(1), int32(0), 0.0
	for _, k := range among {
		if d2, t := r.foot(x, y, k); d2 < best {
			best, bk, bt = d2, k, t
		}
	}
	return hit{
		distM:     math.Sqrt(best),
		elevM:     r.z[bk] + bt*(r.z[bk+1]-r.z[bk]),
		residualM: r.residual[bk] + bt*(r.residual[bk+1]-r.residual[bk]),
		benchM:    r.benchM[bk],
		free:      r.free[bk] && r.free[bk+1],
	}
}
