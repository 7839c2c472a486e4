package page

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// mostPlaces keeps the page to one sheet; actions, ramps and the brake check area always stay.
const mostPlaces = 12

// sorted returns the sites that are placed on the route, without signs, in travel order.
func (s *Sheet) sorted() []catalog.Site {
	var out []catalog.Site
	for _, x := range s.Sites {
		if x.StationM != nil && x.Kind != catalog.SignStands {
			out = append(out, x)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return s.distanceM(*out[i].StationM) < s.distanceM(*out[j].StationM) })
	return out
}

// lastBefore names the landmark or sign nearest before a station.
func (s *Sheet) lastBefore(stationM float64) string {
	name := ""
	for _, x := range s.sorted() {
		if x.Kind != catalog.EscapeRamp && s.distanceM(*x.StationM) <= s.distanceM(stationM)+10 {
			name = "after the " + siteWords(x)
		}
	}
	return name
}

func siteWords(x catalog.Site) string {
	t := wording.Plain(x.Kind.Words())
	if n := wording.Plain(x.Name); n != "" {
		t += " " + n
	}
	if x.Side != "" {
		t += " (" + wording.Plain(x.Side) + ")"
	}
	return t
}

// roadList collects the actions and places along the road. Rows of keep always stay on the page;
// rows of may are left out if the page is full.
type roadList struct {
	s         *Sheet
	keep, may []sheetPlace
}

// place makes one row. Distances of actions are rounded so that the driver acts early, others to
// the nearest step.
func (l *roadList) place(fromM, toM float64, what string, strong bool) sheetPlace {
	d := l.s.distanceM(fromM)
	return sheetPlace{First: fromCrest(d, l.s.Units), Second: fromCrest(d, l.s.other()), What: what, Strong: strong, distanceM: d, fromM: fromM, toM: toM}
}

// places lists the actions and places in the order of the road. Where the truck must not go, a check
// of its brakes would read as a way down.
func (s *Sheet) places(a wording.Answer, h *catalog.Hold, isRefused bool) []sheetPlace {
	l := &roadList{s: s}
	if a == wording.Held {
		l.actions(h)
	}
	l.shape()
	hasCheck := l.sites(a, h)
	room := max(0, mostPlaces-len(l.keep))
	dropped := max(0, len(l.may)-room)
	out := append(l.keep, l.may[:len(l.may)-dropped]...)
	sort.SliceStable(out, func(i, j int) bool { return out[i].distanceM < out[j].distanceM })
	for i := range out {
		out[i].No = fmt.Sprint(i + 1)
	}
	if dropped > 0 {
		out = append(out, sheetPlace{What: wording.Counted(dropped, "more place") + ": ask the office"})
	}
	if !hasCheck && !isRefused {
		out = append([]sheetPlace{{What: "No brake check area is on record: check the brakes before the crest", Strong: true}}, out...)
	}
	return out
}

// withoutExtras keeps the actions and the shape of the hill.
func withoutExtras(rows []sheetPlace) []sheetPlace {
	var out []sheetPlace
	for _, r := range rows {
		if !r.isExtra {
			out = append(out, r)
		}
	}
	n := 1
	for i := range out {
		if out[i].No != "" {
			out[i].No = fmt.Sprint(n)
			n++
		}
	}
	return out
}

// actions are the driver's actions: slow down, gear in, and the changes on the way.
func (l *roadList) actions(h *catalog.Hold) {
	s := l.s
	if h.ApproachSpeedMPS > 0 && s.distanceM(h.SlowFromM) < s.distanceM(h.GearByM)-1 {
		l.keep = append(l.keep, l.place(h.SlowFromM, h.SlowFromM, "SLOW DOWN from here, from "+s.both(func(u catalog.Units) string { return u.Speed(h.ApproachSpeedMPS) }), true))
	}
	l.keep = append(l.keep, l.place(h.GearByM, h.GearByM, fmt.Sprintf("GEAR %s IN, %s", h.GearLabel(), wording.Plain(h.StageWords())), true))
	changes, isCut := shownStretches(h, s.Units)
	last := &catalog.HoldStretch{Gear: h.Gear, Levers: h.Levers, SpeedMPS: h.SpeedMPS}
	for i := range changes {
		x := &changes[i]
		l.keep = append(l.keep, l.place(x.FromM, x.FromM, s.stretchWords(x, h), asksMore(last, x, h)))
		last = x
	}
	if isCut { // the answer at the top holds on them too
		at := h.GearByM
		if len(changes) > 0 {
			at = changes[len(changes)-1].FromM
		}
		l.keep = append(l.keep, l.place(at, at, "From here on: the figures in the boxes hold all the way", false))
	}
}

// stretchWords lists the settings that are allowed on a stretch, and the reason.
func (s *Sheet) stretchWords(x *catalog.HoldStretch, h *catalog.Hold) string {
	both := s.both
	if s.Units.WholeSpeed(x.SpeedMPS) == s.Units.WholeSpeed(h.SpeedMPS) { // in both units in its box
		both = func(f func(catalog.Units) string) string { return f(s.Units) }
	}
	t := stretchWords(x, h, both)
	switch x.LimitedBy {
	case catalog.LimitCurve:
		t += ": the curve"
	case catalog.LimitPosted:
		t += ": posted"
	}
	return t
}

// mostSteepParts is the number of steep parts on a page, the steepest ones.
const mostSteepParts = 3

// shape adds crest, foot, steepest and steep parts, tightest curve and benches.
func (l *roadList) shape() {
	s, d := l.s, &l.s.Entry.Descent
	add := func(fromM, toM float64, what string) { l.keep = append(l.keep, l.place(fromM, toM, what, false)) }
	add(d.StartM, d.StartM, joined("Crest, "+s.both(func(u catalog.Units) string { return u.Height(d.CrestElevationM) }), wording.CrestMay(d, s.both)))
	steepM := math.Min(500, d.LengthM)
	if d.Direction == routes.Backward {
		steepM = -steepM
	}
	add(d.Steepest500AtM, d.Steepest500AtM+steepM, fmt.Sprintf("Steepest: %s for %s", wording.Steepest(d.Steepest500Pct, d.Steepest500ErrPct), s.both(func(u catalog.Units) string { return wording.Window(u, 500) })))
	add(d.EndM, d.EndM, joined(wording.FootOrOn(d, s.both), wording.FootMay(d, s.both)))
	if d.TightestRadiusM != nil && d.TightestRadiusAtM != nil {
		add(*d.TightestRadiusAtM, *d.TightestRadiusAtM, "Tightest curve, radius "+s.both(func(u catalog.Units) string { return wording.Radius(*d.TightestRadiusM, u) }))
	}
	for _, x := range steepestFirst(d.SteepParts)[:min(mostSteepParts, len(d.SteepParts))] {
		add(x.StartM, x.EndM, "Steep part: "+wording.Steepest(x.MeanDowngradePct, x.MeanDowngradeErrPct)+" for "+s.both(func(u catalog.Units) string { return u.Length(x.LengthM) }))
	}
	for i := range d.Benches {
		b := &d.Benches[i]
		add(b.StartM, b.EndM, "Easier: "+wording.Bench(b, s.Units)+". The hill continues.")
	}
}

// joined appends a remark to a text, if there is one.
func joined(text, remark string) string {
	if remark == "" {
		return text
	}
	return text + "; " + remark
}

// steepestFirst puts steep parts in order.
func steepestFirst(parts []routes.SteepPart) []routes.SteepPart {
	out := slices.Clone(parts)
	slices.SortStableFunc(out, func(a, b routes.SteepPart) int { return cmp.Compare(b.MeanDowngradePct, a.MeanDowngradePct) })
	return out
}

// sites adds the places along the road, and reports whether a brake check area is among them. A
// truck must leave an area within the margin of the gear point in its gear.
func (l *roadList) sites(a wording.Answer, h *catalog.Hold) (hasCheck bool) {
	s := l.s
	for _, x := range s.sorted() {
		text := siteWords(x)
		switch x.Kind {
		case catalog.EscapeRamp, catalog.BrakeCheck:
			what := strings.ToUpper(x.Kind.Words()) + strings.TrimPrefix(text, wording.Plain(x.Kind.Words()))
			if x.Kind == catalog.BrakeCheck {
				hasCheck = true
				if a == wording.Held && s.distanceM(*x.StationM) > s.distanceM(h.GearByM)-1 {
					what += ": LEAVE IT IN GEAR " + h.GearLabel()
				}
			}
			l.keep = append(l.keep, l.place(*x.StationM, *x.StationM, what, true))
		default:
			extra := l.place(*x.StationM, *x.StationM, capital(text), false)
			extra.isExtra = true
			l.may = append(l.may, extra)
		}
	}
	return hasCheck
}

// fromCrest writes a distance past the crest to 0.1 mi or km, a short one in feet or
// metres; one before the crest is rounded up, so that the driver is never ready too late.
func fromCrest(distanceM float64, u catalog.Units) string {
	if distanceM < -1 {
		return u.LengthUp(-distanceM) + " before"
	}
	return u.Length(math.Max(0, distanceM))
}
