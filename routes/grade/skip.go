package grade

import "math"

// The segmentation finds the global minimum (up to pruning) over polylines with knots every max(50
// m, cell). Each piece either explains its samples or skips them, as at a bridge, a tunnel or wrong
// heights. The state is the height at the knot; the cost to come is the lower envelope of
// quadratics (functional pruning). The fit starts from it; from elsewhere the fit would stop at a
// local minimum.

// quad is a candidate's cost to come a·v² + b·v + c at a knot, with the best height at the piece's
// start for each v: u = -(uv·v + ub)/ua.
type quad struct {
	a, b, c    float64
	low, at    float64 // minimum and where
	uv, ub, ua float64
	from, cand int32 // knot and candidate that it came from
	skip       bool
}

func (q *quad) value(v float64) float64 { return (q.a*v+q.b)*v + q.c }

type sums struct{ w, s, ss, y, ys, yy float64 }

// skipper is the workspace of the segmentation.
type skipper struct {
	pre    []sums
	knot   []int32 // sample index of each knot
	cands  [][]quad
	low    []float64 // least cost at each knot, by a piece that explains its samples
	lowAll []float64
	active []int32
	work   []quad
	least  []*quad // of work, those that are least somewhere
	c      skipCosts
}

// skipCosts are the costs of a segmentation's pieces, and their greatest length.
type skipCosts struct {
	n          int
	dx         float64
	inv        float64 // cost of a squared metre at one sample
	corr       float64 // samples to one independent residual
	full       float64 // cost of a skip up to which it counts in full …
	saturation float64 // … and the share that counts beyond
	maxRise    float64
	soft       float64 // grade from which steepness costs
	slack      float64 // limit of a candidate's cost above the best
	longest    int32   // samples
}

func (k *skipper) setCosts(p *problem, saturation float64) {
	c := &k.c
	c.n, c.dx, c.saturation, c.maxRise = p.n, p.stepM, saturation, p.maxRise
	s := max(segMinSDM, segSDFactor*p.sigmaM)
	c.corr = max(1, segCorrM/c.dx)
	c.inv = 1 / (s * s * c.corr)
	c.full = skipKappa * skipKappa * skipFullM / (c.dx * c.corr)
	c.soft = min(softGrade, p.maxRise)
	c.slack = 2*segBeta + skipExtra
	c.longest = int32(max(2, longestM/c.dx))
}

// segment writes the polyline into x and 0 or p.w into w.
func (k *skipper) segment(p *problem, x, w []float64, saturation float64) {
	k.setCosts(p, saturation)
	k.prefix(p)
	k.setKnots(p)
	m := len(k.knot)
	k.reset(m)
	k.cands[0] = append(k.cands[0], quad{a: 1e-8, from: -1, low: 0})
	k.low[0], k.lowAll[0] = 0, 0
	k.active = append(k.active[:0], 0)
	first := 0
	for b := 1; b < m; b++ {
		for k.knot[b]-k.knot[first] > k.c.longest {
			first++
		}
		k.work = k.work[:0]
		best := k.measuring(first, b)
		nData := len(k.work)
		best = k.skipping(first, b, best)
		k.cands[b] = k.prune(k.cands[b], k.work[:nData], best+k.c.slack)
		k.low[b] = math.Inf(1)
		if len(k.cands[b]) > 0 {
			k.low[b] = k.cands[b][0].low
		}
		k.cands[b] = k.prune(k.cands[b], k.work[nData:], best+k.c.slack)
		k.lowAll[b] = best
	}
	k.trace(p, x, w)
}

// setKnots places the knots; the last one is the last sample.
func (k *skipper) setKnots(p *problem) {
	n := p.n
	every := max(1, int(math.Round(max(knotM, p.cellM)/p.stepM)))
	k.knot = k.knot[:0]
	for i := 0; i < n-1; i += every {
		k.knot = append(k.knot, int32(i))
	}
	if m := len(k.knot); m > 1 && n-1-int(k.knot[m-1]) < (every+1)/2 {
		k.knot = k.knot[:m-1]
	}
	k.knot = append(k.knot, int32(n-1))
}

// measuring adds to the work list the pieces that end at knot b and explain their samples; it
// returns the least cost. Knots whose pieces cost too much are no longer active.
func (k *skipper) measuring(first, b int) (best float64) {
	best = math.Inf(1)
	kept := len(k.active)
	for ai := len(k.active) - 1; ai >= 0; ai-- { // nearest first: it sets the limit for the rest
		a32 := k.active[ai]
		a := int(a32)
		if a < first {
			break
		}
		d := k.data(a, b, k.c.n, k.c.dx, k.c.inv)
		if k.lowAll[a]+d.alone+segBeta > best+k.c.slack {
			continue
		}
		kept--
		k.active[kept] = a32
		for ci := range k.cands[a] {
			q := &k.cands[a][ci]
			if q.low+d.alone+segBeta > best+k.c.slack {
				continue
			}
			r := d.join(q, segBeta)
			slope := math.Abs(r.at-r.u()) * d.perM
			if slope > k.c.maxRise {
				continue
			}
			if slope > k.c.soft {
				more := softCost * (slope - k.c.soft) / d.perM
				r.c += more
				r.low += more
			}
			r.from, r.cand = a32, int32(ci)
			k.work = append(k.work, r)
			best = min(best, r.low)
		}
	}
	k.active = append(k.active[:copy(k.active, k.active[kept:])], int32(b))
	return best
}

// skipping adds the pieces that end at knot b and skip their samples, and returns the
// least cost of all.
func (k *skipper) skipping(first, b int, best float64) float64 {
	end := k.pre[k.knot[b]]
	for a := b - 1; a >= first; a-- {
		z := (end.w - k.pre[k.knot[a]].w) / k.c.corr * skipKappa * skipKappa
		if z > k.c.full {
			z = k.c.full + k.c.saturation*(z-k.c.full)
		}
		z += segBeta + skipExtra
		if k.low[a]+z > best+k.c.slack {
			if z > best-k.low[0]+k.c.slack && k.c.saturation > 0 && a < b-8 {
				break
			}
			continue
		}
		d := bare(float64(k.knot[b]-k.knot[a]) * k.c.dx)
		for ci := range k.cands[a] {
			q := &k.cands[a][ci]
			if q.skip || q.low+z > best+k.c.slack {
				continue
			}
			r := d.join(q, z)
			r.from, r.cand, r.skip = int32(a), int32(ci), true
			k.work = append(k.work, r)
			best = min(best, r.low)
		}
	}
	return best
}

func (k *skipper) reset(m int) {
	for len(k.cands) < m {
		k.cands = append(k.cands, nil)
		k.low = append(k.low, 0)
		k.lowAll = append(k.lowAll, 0)
	}
	for i := range k.cands[:m] {
		k.cands[i] = k.cands[i][:0]
	}
}

// prefix sums over samples; stations in km and heights as they are keep the
// products of a 1,000 km line well inside double precision.
func (k *skipper) prefix(p *problem) {
	if cap(k.pre) < p.n+1 {
		k.pre = make([]sums, p.n+1+p.n/4)
	}
	k.pre = k.pre[:p.n+1]
	var t sums
	for i := 0; i < p.n; i++ {
		k.pre[i] = t
		w, y := p.w[i], p.y[i]
		if w == 0 {
			continue
		}
		s := float64(i) * p.stepM / 1000
		t.w += w
		t.s += w * s
		t.ss += w * s * s
		t.y += w * y
		t.ys += w * y * s
		t.yy += w * y * y
	}
	k.pre[p.n] = t
}

func (k *skipper) trace(p *problem, x, w []float64) {
	copy(w, p.w)
	b := int32(len(k.knot) - 1)
	ci, best := -1, math.Inf(1)
	for i := range k.cands[b] {
		if k.cands[b][i].low < best {
			best, ci = k.cands[b][i].low, i
		}
	}
	if ci < 0 { // nothing within bounds: a level line through the middle
		for i := range x {
			x[i] = 0
		}
		return
	}
	v := k.cands[b][ci].at
	for b > 0 {
		q := &k.cands[b][ci]
		u := -(q.uv*v + q.ub) / q.ua
		i0, i1 := int(k.knot[q.from]), int(k.knot[b])
		for i := i0; i <= i1; i++ {
			x[i] = u + (v-u)*float64(i-i0)/float64(i1-i0)
		}
		if q.skip {
			for i := i0; i < i1 || (i == i1 && i1 == p.n-1); i++ {
				w[i] = 0
			}
		}
		b, ci, v = q.from, int(q.cand), u
	}
}
