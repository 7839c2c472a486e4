package grade

import (
	"math"
	"slices"
)

// rank is the sort key of a candidate. A candidate is four times as large, and sorting candidates
// themselves took half of the segmentation's time.
type rank struct {
	low        float64
	from, cand int32
	at         int32 // in the work list
}

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
	k.sortWork(work)
	k.markLeast(work, lo, hi)
	kept := 0
	for i, o := range k.order {
		if k.keep[i] && kept < keepPerKnot {
			out = append(out, work[o.at])
			kept++
		}
	}
	return out
}

// sortWork orders the candidates by cost, then by origin.
func (k *skipper) sortWork(work []quad) {
	k.order = k.order[:0]
	for i := range work {
		q := &work[i]
		k.order = append(k.order, rank{q.low, q.from, q.cand, int32(i)})
	}
	slices.SortFunc(k.order, func(a, b rank) int {
		switch {
		case a.low < b.low:
			return -1
		case a.low > b.low:
			return 1
		case a.from != b.from:
			return int(a.from - b.from)
		}
		return int(a.cand - b.cand)
	})
}

// markLeast marks in keep, by order, the candidates that are least at some height of a grid from
// about lo to hi.
func (k *skipper) markLeast(work []quad, lo, hi float64) {
	if len(work) == 1 {
		k.keep = append(k.keep[:0], true)
		return
	}
	margin := 3 + 0.1*(hi-lo)
	lo, hi = lo-margin, hi+margin
	k.keep = append(k.keep[:0], make([]bool, len(work))...)
	k.keep[0] = true
	for g := 0; g < envelopeGrid; g++ {
		v := lo + (hi-lo)*float64(g)/(envelopeGrid-1)
		best, bi := math.Inf(1), 0
		for i, o := range k.order {
			if o.low > best {
				break
			}
			if c := work[o.at].value(v); c < best {
				best, bi = c, i
			}
		}
		k.keep[bi] = true
	}
}
