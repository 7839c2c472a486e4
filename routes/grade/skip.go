package grade

import "math"

// The segmentation finds the global minimum (up to pruning) over polylines with
// knots every max(50 m, cell): each piece either explains its samples or skips
// them, as a bridge, a tunnel or garbage does. The state is the height at the
// knot; the cost to come is the lower envelope of quadratics (functional
// pruning). It starts the fit, which by itself would stop at a local minimum.

// quad is a candidate's cost to come a·v² + b·v + c at a knot, and how the best
// height at the piece's start follows from v: u = -(uv·v + ub)/ua.
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
	low    []float64 // least cost at each knot, by a piece that measures
	lowAll []float64
	active []int32
	work   []quad
	order  []rank // of work, cheapest first
	keep   []bool
}

// segment writes the polyline into x and 0 or p.w into w.
func (k *skipper) segment(p *problem, x, w []float64, saturation float64) {
	n, dx := p.n, p.stepM
	s2t := segMinSDM
	if v := segSDFactor * p.sigmaM; v > s2t {
		s2t = v
	}
	corr := max(1, segCorrM/dx)
	inv := 1 / (s2t * s2t * corr)
	k.prefix(p)
	every := max(1, int(math.Round(max(knotM, p.cellM)/dx)))
	k.knot = k.knot[:0]
	for i := 0; i < n-1; i += every {
		k.knot = append(k.knot, int32(i))
	}
	if m := len(k.knot); m > 1 && n-1-int(k.knot[m-1]) < (every+1)/2 {
		k.knot = k.knot[:m-1]
	}
	k.knot = append(k.knot, int32(n-1))
	m := len(k.knot)
	k.reset(m)
	k.cands[0] = append(k.cands[0], quad{a: 1e-8, from: -1, low: 0})
	k.low[0], k.lowAll[0] = 0, 0
	longest := int32(max(2, longestM/dx))
	slack := 2*segBeta + skipExtra
	k.active = append(k.active[:0], 0)
	full := skipKappa * skipKappa * skipFullM / (dx * corr)
	soft := min(softGrade, p.maxRise)
	first := 0
	for b := 1; b < m; b++ {
		kb := k.knot[b]
		for kb-k.knot[first] > longest {
			first++
		}
		k.work = k.work[:0]
		best := math.Inf(1)
		kept := len(k.active)
		for ai := len(k.active) - 1; ai >= 0; ai-- { // nearest first: it sets the limit for the rest
			a32 := k.active[ai]
			a := int(a32)
			if a < first {
				break
			}
			d := k.data(a, b, n, dx, inv)
			bound := k.lowAll[a] + d.alone + segBeta
			if bound > best+slack {
				continue
			}
			kept--
			k.active[kept] = a32
			for ci := range k.cands[a] {
				q := &k.cands[a][ci]
				if q.low+d.alone+segBeta > best+slack {
					continue
				}
				r := d.join(q, segBeta)
				slope := math.Abs(r.at-r.u()) * d.perM
				if slope > p.maxRise {
					continue
				}
				if slope > soft {
					more := softCost * (slope - soft) / d.perM
					r.c += more
					r.low += more
				}
				r.from, r.cand = a32, int32(ci)
				k.work = append(k.work, r)
				best = min(best, r.low)
			}
		}
		k.active = append(k.active[:copy(k.active, k.active[kept:])], int32(b))
		nData := len(k.work)
		end := k.pre[kb]
		for a := b - 1; a >= first; a-- {
			z := (end.w - k.pre[k.knot[a]].w) / corr * skipKappa * skipKappa
			if z > full {
				z = full + saturation*(z-full)
			}
			z += segBeta + skipExtra
			if k.low[a]+z > best+slack {
				if z > best-k.low[0]+slack && saturation > 0 && a < b-8 {
					break
				}
				continue
			}
			d := bare(float64(k.knot[b]-k.knot[a]) * dx)
			for ci := range k.cands[a] {
				q := &k.cands[a][ci]
				if q.skip || q.low+z > best+slack {
					continue
				}
				r := d.join(q, z)
				if math.Abs(r.at-r.u())*d.perM > skipMaxGrade {
					continue
				}
				r.from, r.cand, r.skip = int32(a), int32(ci), true
				k.work = append(k.work, r)
				best = min(best, r.low)
			}
		}
		k.cands[b] = k.prune(k.cands[b], k.work[:nData], best+slack)
		k.low[b] = math.Inf(1)
		if len(k.cands[b]) > 0 {
			k.low[b] = k.cands[b][0].low
		}
		k.cands[b] = k.prune(k.cands[b], k.work[nData:], best+slack)
		k.lowAll[b] = best
	}
	k.trace(p, x, w)
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
