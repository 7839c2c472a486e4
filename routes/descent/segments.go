package descent

// span is a run of intervals [from, to) of a score sequence.
type span struct{ from, to int }

// maximal returns the maximal-scoring segments of score: each cannot be
// lengthened or shortened without losing score, and none overlaps another.
// Linear time. Source: Ruzzo and Tompa, A linear time algorithm for finding all
// maximal scoring subsequences, ISMB 1999, from memory.
func maximal(score []float64) []span {
	type candidate struct {
		span
		before, after float64 // cumulative score before and after the segment
		link          int     // nearest earlier candidate with a lower before, -1 if none
	}
	var list []candidate
	var sum float64
	for i, s := range score {
		before := sum
		sum += s
		if s <= 0 {
			continue
		}
		c := candidate{span{i, i + 1}, before, sum, -1}
		for {
			j := len(list) - 1
			for j >= 0 && list[j].before >= c.before {
				j = list[j].link // those in between have no lower before either
			}
			if j < 0 || list[j].after >= c.after {
				c.link = j
				list = append(list, c)
				break
			}
			c = candidate{span{list[j].from, c.to}, list[j].before, c.after, -1}
			list = list[:j]
		}
	}
	out := make([]span, len(list))
	for i, c := range list {
		out[i] = c.span
	}
	return out
}

// unbroken returns the maximal-scoring segments of score in which no relief
// costs more than limit: a segment with a costlier one is cut at the costliest
// and both sides are searched again. The rule reads the same from either end.
func unbroken(score []float64, limit float64) []span {
	var out []span
	work := []span{{0, len(score)}}
	for len(work) > 0 {
		w := work[len(work)-1]
		work = work[:len(work)-1]
		for _, m := range maximal(score[w.from:w.to]) {
			m = span{m.from + w.from, m.to + w.from}
			peak, trough, cost := costliestRelief(score, m)
			if cost <= limit {
				out = append(out, m)
				continue
			}
			work = append(work, span{m.from, peak}, span{trough, m.to})
		}
	}
	sortSpans(out)
	return out
}

// costliestRelief returns the run [peak, trough) within m over which the
// cumulative score falls most, and by how much.
func costliestRelief(score []float64, m span) (peak, trough int, cost float64) {
	var sum, top float64
	at := m.from
	peak, trough = m.from, m.from
	for i := m.from; i < m.to; i++ {
		sum += score[i]
		if sum > top {
			top, at = sum, i+1
		}
		if top-sum > cost {
			peak, trough, cost = at, i+1, top-sum
		}
	}
	return peak, trough, cost
}
