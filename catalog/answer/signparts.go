package answer

import (
	"fmt"

	"gradeline/catalog"
	"gradeline/catalog/overlay"
	"gradeline/catalog/signs"
	"gradeline/catalog/table"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// SignedPart is a steep part outside any descent with the warrants that call for a sign there.
type SignedPart struct {
	catalog.SteepPart
	Warrants []WarrantOfPart `json:"warrants"`
}

// WarrantOfPart is one warrant's verdict on a steep part.
type WarrantOfPart struct {
	Warrant string        `json:"warrant"`
	Verdict signs.Verdict `json:"verdict"`
	Row     string        `json:"row"`
	Words   string        `json:"words"`
}

// addParts judges the plan's steep parts and keeps those that call for a sign.
func (a *Signs) addParts(plan *SignPlan) {
	for i := range plan.SteepParts {
		p := &plan.SteepParts[i]
		k := SignedPart{SteepPart: *p}
		for _, w := range signs.WarrantsOfParts([]routes.SteepPart{p.SteepPart}, plan.Rules) {
			if p.HasFlag(routes.FlagUnreliable) && w.Verdict == signs.Warranted {
				w.Verdict = signs.CantTell
				w.Words += "; its grade line is unreliable, so check the road"
			}
			k.Warrants = append(k.Warrants, WarrantOfPart{w.Warrant, w.Verdict, w.Row, w.Words})
		}
		if len(k.Warrants) > 0 {
			a.SteepParts = append(a.SteepParts, k)
		}
	}
}

// partTable lists the steep parts that call for a sign; all columns for a file.
func (a *Signs) partTable(u catalog.Units, all bool) table.Table {
	t := table.Table{Title: "Steep parts outside descents that call for a sign, " + a.rules.Title, Header: []string{"road", "from station", "to station", "length", "mean", "verdict", "warrant"}}
	if all {
		t.Title = "Steep parts"
	}
	for i := range a.SteepParts {
		p := &a.SteepParts[i]
		name := withFlags(wording.PartTitle(&p.SteepPart), p.Flags)
		for _, w := range p.Warrants {
			t.Rows = append(t.Rows, []any{name, u.Station(p.StartM), u.Station(p.EndM), u.Length(p.LengthM), catalog.GradeWithBound(p.MeanDowngradePct, p.MeanDowngradeErrPct),
				string(w.Verdict), fmt.Sprintf("%s: %s", w.Warrant, w.Row)})
		}
	}
	t.Notes = append(t.Notes, wording.AboutSteepParts, "Each is judged by its own mean, bound and length. The place of the sign is not planned: it is ahead of the first station, in travel.", catalog.SignCaution)
	return t
}

// place is the upper end of the part, for a map.
func (k *SignedPart) place() overlay.Place {
	verdicts := []string{}
	for _, w := range k.Warrants {
		verdicts = append(verdicts, w.Words)
	}
	top := k.Line[0]
	return overlay.Place{ID: overlay.PartID(&k.SteepPart), LonDeg: top.LonDeg, LatDeg: top.LatDeg, Properties: map[string]any{
		"kind": "steep part", "route": k.Route, "name": wording.PartTitle(&k.SteepPart), "direction": k.Direction.String(), "start_m": k.StartM, "end_m": k.EndM, "length_m": k.LengthM,
		"mean_downgrade_pct": k.MeanDowngradePct, "mean_downgrade_err_pct": k.MeanDowngradeErrPct, "flags": notNil(k.Flags), "warrants": verdicts,
	}}
}
