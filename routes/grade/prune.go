package grade

import (
	"cmp"
	"math"
	"slices"
)

// prune appends to out the candidates that are least somewhere on a grid of
// heights, cheapest first.
func (k *skipper) prune(out []quad, work []quad, most float64) []quad {
	lo, hi := math.Inf(1), math.Inf(-1)
	m := 0
	for i := range work {
		if work[i].low <= most {
			work[m] = work[i]
			m++
			lo, hi = min(lo, work[i].at), max(hi, work[i].at)
		}
	}
	work = work[:m]
	if m == 0 {
		return out
	}
	k.least = appendLeast(k.least[:0], work, lo, hi)
	slices.SortFunc(k.least, func(a, b *quad) int { return a.compare(b) })
	for i, q := range k.least {
		if i == keepPerKnot {
			break
		}
		out = append(out, *q)
	}
	return out
}

// compare orders candidates by cost, then by origin.
func (q *quad) compare(o *quad) int {
	return cmp.Or(cmp.Compare(q.low, o.low), cmp.Compare(q.from, o.from), cmp.Compare(q.cand, o.cand))
}

// appendLeast appends the cheapest candidate, and each that is least at some height of a grid from
// about lo to hi; of equal ones the first by compare.
func appendLeast(out []*quad, work []quad, lo, hi float64) []*quad {
	margin := 3 + 0.1*(hi-lo)
	lo, hi = lo-margin, hi+margin
	var heightM, least [envelopeGrid]float64
	var at [envelopeGrid]int
	for g := range heightM {
		heightM[g] = lo + (hi-lo)*float64(g)/(envelopeGrid-1)
		least[g] = math.Inf(1)
	}
	cheapest := 0
	for i := range work {
		q := &work[i]
		if q.low <= work[cheapest].low && q.compare(&work[cheapest]) < 0 {
			cheapest = i
		}
		a, b, c := q.a, q.b, q.c
		for g, v := range heightM {
			cost := (a*v+b)*v + c
			if cost < least[g] || cost == least[g] && q.compare(&work[at[g]]) < 0 {
				least[g], at[g] = cost, i
			}
		}
	}
	out = append(out, &work[cheapest])
	for _, i := range at {
		if q := &work[i]; !slices.Contains(out, q) {
			out = append(out, q)
		}
	}
	return out
}
