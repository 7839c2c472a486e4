package signs

import (
	"math"
	"sort"
)

// groupBy merges overlapping results with that verdict, keeping the one that is
// furthest over its bound.
func groupBy(all []judged, v Verdict) []judged {
	var some []judged
	for _, j := range all {
		if j.verdict == v {
			some = append(some, j)
		}
	}
	sort.SliceStable(some, func(i, j int) bool { return some[i].at.fromM < some[j].at.fromM })
	var out []judged
	for _, j := range some {
		if n := len(out); n > 0 && j.at.fromM < out[n-1].at.toM-1e-6 {
			u := span{out[n-1].at.fromM, math.Max(out[n-1].at.toM, j.at.toM)}
			if j.margin-j.bound > out[n-1].margin-out[n-1].bound {
				out[n-1] = j
			}
			out[n-1].at = u
			continue
		}
		out = append(out, j)
	}
	return out
}

// bridge joins neighbours over the bench between them if the joined stretch still meets a row by
// more than its bound.
func (t *travel) bridge(groups []judged, rows []Row) []judged {
	for i := 0; i < len(groups); i++ {
		for j := len(groups) - 1; j > i; j-- {
			if u := (span{groups[i].at.fromM, groups[j].at.toM}); t.meets(u, rows) {
				groups[i].at = u
				groups = append(groups[:i+1], groups[j+1:]...)
				break
			}
		}
	}
	return groups
}

func (t *travel) meets(u span, rows []Row) bool {
	for _, r := range rows {
		if u.lengthM() > r.LongerThanM && decide(t.downPct(u.fromM, u.toM)-r.GradePct, t.errPct(u.fromM, u.toM), r.Over) == Warranted {
			return true
		}
	}
	return false
}

func overlaps(out []Judgement, at span) bool {
	for _, s := range out {
		if math.Min(s.x.toM, at.toM)-math.Max(s.x.fromM, at.fromM) > 1e-6 {
			return true
		}
	}
	return false
}
