package answer

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/ranking"
	"gradeline/catalog/table"
	"gradeline/catalog/wording"
)

// Table has a line for each route, for a fleet one for each route and class, within 100 columns of
// a terminal. The notes below it name the descents.
func (a *Comparison) Table(u catalog.Units) table.Table {
	isFleet := a.classCount > 1
	t := table.Table{Title: fmt.Sprintf("Routes for %s at %s, each from its first vertex to its last", a.Class, u.MassDown(a.MassKg)),
		Header: []string{"place", "route", "answer", "time", "length", "drop", "steepest", "margin"}}
	if isFleet {
		t.Title = fmt.Sprintf("Routes for %d classes, each from its first vertex to its last", a.classCount)
		t.Header = []string{"class", "place", "route", "answer", "time", "margin", "holds up to"}
	}
	if a.isInvented {
		t.Notes = append(t.Notes, wording.InventedBanner)
	}
	for i := range a.Routes {
		v := &a.Routes[i]
		if isFleet {
			t.Rows = append(t.Rows, fleetRow(v, u))
		} else {
			t.Rows = append(t.Rows, comparisonRow(v, u))
			t.Notes = append(t.Notes, fmt.Sprintf("%d. %s: %s", v.Place, v.Route, a.routeWords(v, u)))
		}
	}
	if isFleet {
		t.Notes = append(t.Notes, a.fleetNotes(u)...)
	}
	t.Notes = append(t.Notes, a.orderWords()...)
	t.Notes = append(t.Notes, fmt.Sprintf("Time: advised speeds on the descents, elsewhere posted limits, curves and the engine's power; only with --terrain, which gives the complete grade line (≥: at least). Steepest: over %s. Margin: the unused share of the retarder on the hardest descent, in steps of ten points.", wording.Window(u, 100)))
	t.Notes = append(t.Notes, "A route that is not held is not for this truck. What is unknown may be worse than what is not held.")
	t.Notes = append(t.Notes, a.Cautions...)
	return t
}

// orderWords describe the order of the routes, and the routes for which the preference alone would
// give another order.
func (a *Comparison) orderWords() []string {
	out := []string{fmt.Sprintf("Order: held; the road surfaces excluded, fewest first; the margin; then %s.", preferWords(a.Prefer))}
	for i := range a.Routes {
		if v := &a.Routes[i]; v.PlaceByPrefer == 1 && v.Place != 1 {
			which := v.Route
			if a.classCount > 1 {
				which += " (" + v.Class + ")"
			}
			out = append(out, fmt.Sprintf("By %s alone, as gradeline route --prefer %s ranks, %s would come first.", a.Prefer, a.Prefer, which))
		}
	}
	return out
}

func preferWords(p ranking.Prefer) string {
	switch p {
	case ranking.PreferLength:
		return "length, then time"
	case ranking.PreferMargin:
		return "time, then length"
	}
	return "time, then length"
}

// fleetNotes say which routes every class holds, and what does not fit into the table.
func (a *Comparison) fleetNotes(u catalog.Units) []string {
	words := "No route is held by every class."
	if len(a.ForAll) > 0 {
		words = "Held by every class: " + strings.Join(a.ForAll, "; ") + "."
	}
	out := []string{words}
	seen := map[string]bool{}
	for i := range a.Routes {
		v := &a.Routes[i]
		if !seen[v.Route] {
			seen[v.Route] = true
			out = append(out, fmt.Sprintf("%s: length %s, drop %s, steepest %s.", v.Route, u.Length(v.LengthM), dropWords(v, u), verdictSteepest(v)))
		}
	}
	for i := range a.Routes {
		if v := &a.Routes[i]; len(v.NotHeld) > 0 || v.Unknown != "" {
			out = append(out, fmt.Sprintf("%s, %s: %s", v.Class, v.Route, a.routeWords(v, u)))
		}
	}
	return out
}

// routeWords says why a route has its place, and names its worst descent and its slowest speed with
// what limits it, if that is not the retarder.
func (a *Comparison) routeWords(v *ranking.Verdict, u catalog.Units) string {
	words := v.WhyIn(u) + "."
	isKnown := v.Unknown == ""
	switch {
	case v.Descents == 0 && !isKnown:
		words += " No sustained downgrade in what is known."
	case v.Worst != "" && len(v.NotHeld) == 0:
		words += fmt.Sprintf(" %s; the worst: %s.", wording.Counted(v.Descents, "descent"), a.descentWords(v.Worst, u))
	case v.Worst != "" && len(v.NotHeld) > 1:
		words += fmt.Sprintf(" The worst: %s.", a.descentWords(v.Worst, u))
	}
	if len(v.NotHeld) > 0 {
		var names []string
		for _, id := range v.NotHeld {
			names = append(names, a.descentWords(id, u))
		}
		words += " Not held: " + strings.Join(names, "; ") + "."
	}
	if len(v.SurfacesOut) > 0 && v.Holds {
		words += " Not on these surfaces: " + strings.Join(v.SurfacesOut, ", ") + "."
	}
	if v.SlowestMPS > 0 {
		words += fmt.Sprintf(" Slowest %s, %.0f min on the retarder.", u.Speed(v.SlowestMPS), math.Ceil(v.OnRetarderS/60))
	}
	if isKnown {
		words += massWords(v, u)
	}
	if v.Holds && v.SlowestBy == catalog.LimitCurve {
		words += fmt.Sprintf(" A curve sets the slowest speed, %s on %s; on the straight the retarder would hold more.", u.Speed(v.SlowestMPS), a.descentWords(v.SlowestOn, u))
	}
	return words
}

// massWords says what mass every descent of a route is held with; empty where none.
func massWords(v *ranking.Verdict, u catalog.Units) string {
	switch {
	case v.Holds && v.HeaviestMassKg >= v.MassKg && v.MassKg > 0:
		return fmt.Sprintf(" Every descent is held with %.0f %% of its mass to spare.", sparePct(v))
	case v.HeaviestMassKg > 0:
		return fmt.Sprintf(" Every descent is held up to %s; the class's own limit still applies.", u.MassDown(v.HeaviestMassKg))
	}
	return ""
}

// comparisonRow is the line of one route.
func comparisonRow(v *ranking.Verdict, u catalog.Units) []any {
	return []any{v.Place, v.Route, verdictWords(v), verdictTime(v), u.Length(v.LengthM), dropWords(v, u), verdictSteepest(v), marginWords(v)}
}

// fleetRow is the line of one route and class.
func fleetRow(v *ranking.Verdict, u catalog.Units) []any {
	return []any{v.Class, v.Place, v.Route, verdictWords(v), verdictTime(v), marginWords(v), heaviestOf(v, u)}
}

// verdictWords is the answer. Dry road only is in capitals, like not held.
func verdictWords(v *ranking.Verdict) string {
	switch {
	case len(v.NotHeld) > 0:
		return "NOT HELD"
	case v.Unknown != "":
		return "unknown"
	case v.IsDryRoadOnly():
		return catalog.DryRoadOnly
	}
	return "held"
}

func verdictTime(v *ranking.Verdict) string {
	switch {
	case len(v.NotHeld) > 0:
		return "none"
	case v.TimeS != nil && !math.IsInf(*v.TimeS, 1):
		return hoursWords(*v.TimeS)
	case v.Unknown != "":
		return "unknown"
	}
	return "≥" + hoursWords(v.TimeAtLeastS)
}

// hoursWords is a time as hours and minutes, rounded up.
func hoursWords(timeS float64) string {
	minutes := int(math.Ceil(timeS / 60))
	return fmt.Sprintf("%d:%02d h", minutes/60, minutes%60)
}

// dropWords is the drop of the descents without those over unknown ground.
func dropWords(v *ranking.Verdict, u catalog.Units) string {
	switch {
	case v.Unknown != "" && v.Descents == 0:
		return "unknown"
	case v.Unknown != "":
		return "≥" + u.Height(v.DropM)
	}
	return u.Height(v.DropM)
}

func verdictSteepest(v *ranking.Verdict) string {
	switch {
	case v.Unknown != "" && v.Descents == 0:
		return "unknown"
	case v.ExcessDropM == nil && v.Descents == 0:
		return "unknown" // no grade line between descents
	case v.Unknown != "":
		return "≥" + wording.Downgrade(v.Steepest100Pct)
	}
	return wording.Downgrade(v.Steepest100Pct)
}

func marginWords(v *ranking.Verdict) string {
	switch {
	case len(v.NotHeld) > 0:
		return "none"
	case v.Unknown != "":
		return "unknown"
	}
	return fmt.Sprintf("%d %%", v.MarginPct)
}

// sparePct is the additional mass, in per cent of the truck's, at which it would still be held; at
// most 100 %.
func sparePct(v *ranking.Verdict) float64 {
	return math.Floor(min(100, 100*(v.HeaviestMassKg/v.MassKg-1)))
}

// heaviestOf is the mass that every descent holds. Unknown never reads as allowed.
func heaviestOf(v *ranking.Verdict, u catalog.Units) string {
	switch {
	case v.Unknown != "":
		return "unknown"
	case v.Holds && v.MassKg > 0 && v.HeaviestMassKg >= v.MassKg:
		return fmt.Sprintf("%s + %.0f %%", u.MassDown(v.MassKg), sparePct(v))
	case v.HeaviestMassKg > 0:
		return u.MassDown(v.HeaviestMassKg)
	case v.Descents > 0:
		return "none"
	}
	return "no limit"
}
