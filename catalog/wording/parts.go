package wording

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/routes"
)

// Steepest is a steepest part's downgrade with its bound, where the survey stated one.
func Steepest(downgradePct, errPct float64) string {
	if errPct == 0 || math.IsNaN(downgradePct+errPct) {
		return Downgrade(downgradePct)
	}
	return catalog.GradeWithBound(downgradePct, errPct)
}

// SteepPart is a steep part in words, without its place.
func SteepPart(p *routes.SteepPart, u catalog.Units) string {
	return Steepest(p.MeanDowngradePct, p.MeanDowngradeErrPct) + " for " + u.Length(p.LengthM)
}

// Bench is an easier stretch in words, without its place, with the downgrade of the
// hill before and after it where the survey stated them.
func Bench(b *routes.Bench, u catalog.Units) string {
	t := Downgrade(b.MeanDowngradePct)
	if b.MeanDowngradePct < 0 {
		t = Downgrade(-b.MeanDowngradePct) + " climbing"
	}
	t += " for " + u.Length(b.LengthM)
	if b.BeforeMeanPct > 0 && b.AfterMeanPct > 0 {
		t += ", with " + Downgrade(b.BeforeMeanPct) + " before it and " + Downgrade(b.AfterMeanPct) + " after it"
	}
	return t
}

// OuterM is the distance before its crest at which the hill may begin, and beyond its foot to which
// it may continue, both 0 where the survey did not state it.
func OuterM(d *routes.Descent) (beforeM, pastM float64) {
	if d.StartOuterM == 0 && d.EndOuterM == 0 {
		return 0, 0
	}
	return math.Max(0, -d.TravelFromStationM(d.StartOuterM)), math.Max(0, d.TravelFromStationM(d.EndOuterM)-d.TravelFromStationM(d.EndM))
}

// leastOuterM is the least distance of an outer end from the crest or foot to be named.
const leastOuterM = 30

// CrestMay says where the crest may be at the earliest; empty where that is near.
func CrestMay(d *routes.Descent, of func(func(u catalog.Units) string) string) string {
	before, _ := OuterM(d)
	if before < leastOuterM {
		return ""
	}
	return "the hill may begin " + of(func(u catalog.Units) string { return u.LengthUp(before) }) + " earlier"
}

// FootMay says where the foot may be at the latest; empty where that is near.
func FootMay(d *routes.Descent, of func(func(u catalog.Units) string) string) string {
	_, past := OuterM(d)
	if past < leastOuterM {
		return ""
	}
	return "the hill may continue " + of(func(u catalog.Units) string { return u.LengthUp(past) }) + " further"
}

// GoesOn describes a hill's continuation in another road.
func GoesOn(on *routes.GoesOn, u catalog.Units) string {
	return fmt.Sprintf("%s: with this road the hill is %s long, drops %s, mean downgrade %s", Plain(on.Route), u.LengthUp(on.LengthM), u.Height(on.DropM), Downgrade(on.MeanDowngradePct))
}

// FootOrOn names the lower end of a descent on a driver's page: its foot, or the junction at which
// the hill continues in another road.
func FootOrOn(d *routes.Descent, of func(func(u catalog.Units) string) string) string {
	height := of(func(u catalog.Units) string { return u.Height(d.FootElevationM) })
	if len(d.GoesOn) == 0 {
		return "Foot, " + height
	}
	longest := &d.GoesOn[0]
	for i := range d.GoesOn {
		if d.GoesOn[i].LengthM > longest.LengthM {
			longest = &d.GoesOn[i]
		}
	}
	return "NOT THE FOOT, " + height + ": this road ends; in " + Plain(longest.Route) + " the hill continues to " + of(func(u catalog.Units) string { return u.LengthUp(longest.LengthM) }) + " from the crest"
}

// PartsOfHill describes what a mean hides: steep parts, benches and ends that may be further out.
// It is empty where there are none.
func PartsOfHill(d *routes.Descent, u catalog.Units) string {
	var out []string
	list := func(what string, texts []string) {
		if len(texts) > 0 {
			out = append(out, what+": "+strings.Join(texts, "; ")+".")
		}
	}
	var steep, easy []string
	for i := range d.SteepParts {
		p := &d.SteepParts[i]
		steep = append(steep, SteepPart(p, u)+", "+fromCrest(d, p.StartM, u))
	}
	for i := range d.Benches {
		b := &d.Benches[i]
		easy = append(easy, Bench(b, u)+", "+fromCrest(d, b.StartM, u))
	}
	list("Steep parts", steep)
	if d.PossibleSteepM > 0 {
		out = append(out, u.LengthUp(d.PossibleSteepM)+" more may be steep parts.")
	}
	list("Easier parts, the hill continues after each", easy)
	var on []string
	for i := range d.GoesOn {
		on = append(on, GoesOn(&d.GoesOn[i], u))
	}
	list("The hill continues in other roads", on)
	if t := endsMay(d, u); t != "" {
		out = append(out, t)
	}
	return strings.Join(out, " ")
}

// fromCrest is the distance of a station below the crest.
func fromCrest(d *routes.Descent, stationM float64, u catalog.Units) string {
	m := d.TravelFromStationM(stationM)
	if m < 1 {
		return "from the crest on"
	}
	return "from " + u.Length(m) + " below the crest on"
}

// endsMay states in one sentence how much farther out the hill may begin and end.
func endsMay(d *routes.Descent, u catalog.Units) string {
	var out []string
	before, past := OuterM(d)
	if before >= leastOuterM {
		out = append(out, "begin "+u.LengthUp(before)+" earlier")
	}
	if past >= leastOuterM {
		out = append(out, "continue "+u.LengthUp(past)+" further")
	}
	if len(out) == 0 {
		return ""
	}
	return "The hill may " + strings.Join(out, " and ") + "."
}
