package signs

import (
	"fmt"

	"gradeline/routes"
)

// PartWarrant is the verdict of a rule set on a steep part of a road outside descents: a stretch
// too short for a descent may still be long enough for a hill sign.
type PartWarrant struct {
	Part    routes.SteepPart
	Warrant string
	Verdict Verdict
	Row     string
	Words   string
}

// WarrantsOfParts judges steep parts outside descents, each by its own mean, bound and
// length, by the rows of the rule set's warrants as its defaults read them. Only those
// that call for a sign, be it in doubt, are given.
func WarrantsOfParts(parts []routes.SteepPart, rs RuleSet) []PartWarrant {
	chosen, _, err := rs.choose(nil)
	if err != nil { // the reader refuses a default that is none
		return nil
	}
	var out []PartWarrant
	for _, part := range parts {
		for _, w := range rs.Warrants {
			if k, ok := partWarrant(&part, w, chosen, &rs); ok {
				out = append(out, k)
			}
		}
	}
	return out
}

// partWarrant is the surest verdict of a warrant's rows on one part.
func partWarrant(part *routes.SteepPart, w Warrant, chosen map[string]string, rs *RuleSet) (PartWarrant, bool) {
	best := PartWarrant{Part: *part, Warrant: w.ID}
	for _, row := range rows(w, chosen) {
		if part.LengthM < w.ShortestM || part.LengthM <= row.LongerThanM {
			continue
		}
		v := decide(part.MeanDowngradePct-row.GradePct, part.MeanDowngradeErrPct, row.Over)
		if v == NotWarranted || best.Verdict == Warranted {
			continue
		}
		best.Verdict, best.Row = v, rowWords(rs.Units, row)
	}
	if best.Verdict == "" {
		return best, false
	}
	if rs.IsJudgement {
		best.Verdict = Candidate
	}
	best.Words = fmt.Sprintf("%s at stations %s to %s, %s: %.1f ± %.1f %% over %s against %s (%s)", w.ID, length(rs.Units, part.StartM), length(rs.Units, part.EndM), best.Verdict,
		part.MeanDowngradePct, part.MeanDowngradeErrPct, length(rs.Units, part.LengthM), best.Row, rs.ID)
	return best, true
}
