package page

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// sorted gives the sites that are placed on the route, but for signs, in travel order.
func (s *Sheet) sorted() []catalog.Site {
	var out []catalog.Site
	for _, x := range s.Sites {
		if x.StationM != nil && x.Kind != catalog.SignStands {
			out = append(out, x)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return s.View.DistanceM(*out[i].StationM) < s.View.DistanceM(*out[j].StationM) })
	return out
}

// lastBefore names the landmark or sign nearest before a station.
func (s *Sheet) lastBefore(stationM float64) string {
	name := ""
	for _, x := range s.sorted() {
		if x.Kind != catalog.EscapeRamp && s.View.DistanceM(*x.StationM) <= s.View.DistanceM(stationM)+10 {
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

// places lists what the driver meets, in travel.
func (s *Sheet) places(a wording.Answer, h *catalog.Hold) []sheetPlace {
	var keep, may []sheetPlace
	stretch := func(list *[]sheetPlace, fromM, toM float64, what string) {
		d := s.View.DistanceM(fromM)
		*list = append(*list, sheetPlace{First: fromCrest(d, s.Units), Second: fromCrest(d, s.other()), What: what, distanceM: d, fromM: fromM, toM: toM})
	}
	add := func(list *[]sheetPlace, stationM float64, what string) { stretch(list, stationM, stationM, what) }
	d := &s.Entry.Descent
	if a == wording.Held {
		add(&keep, h.GearByM, fmt.Sprintf("GEAR %d IN, retarder %s", h.Gear, s.stageWords(h.Stage)))
		if p := &keep[0]; p.distanceM <= -10 { // rounded up, as in the page's head: where to be ready
			p.First, p.Second = "−"+s.Units.LengthUp(-p.distanceM), "−"+s.other().LengthUp(-p.distanceM)
		}
	}
	add(&keep, d.StartM, "Crest, "+s.both(func(u catalog.Units) string { return u.Height(d.CrestElevationM) }))
	steepM := math.Min(500, d.LengthM)
	if d.Direction == routes.Backward {
		steepM = -steepM
	}
	stretch(&keep, d.Steepest500AtM, d.Steepest500AtM+steepM, fmt.Sprintf("Steepest: %s for %s", wording.Downgrade(d.Steepest500Pct), s.both(func(u catalog.Units) string { return wording.Window(u, 500) })))
	add(&keep, d.EndM, "Foot, "+s.both(func(u catalog.Units) string { return u.Height(d.FootElevationM) }))
	if d.TightestRadiusM != nil && d.TightestRadiusAtM != nil {
		add(&keep, *d.TightestRadiusAtM, "Tightest curve, radius "+s.both(func(u catalog.Units) string { return wording.Radius(*d.TightestRadiusM, u) }))
	}
	hasCheck := false
	for _, x := range s.sorted() {
		t := siteWords(x)
		switch t = strings.ToUpper(t[:min(1, len(t))]) + t[min(1, len(t)):]; x.Kind {
		case catalog.EscapeRamp, catalog.BrakeCheck:
			hasCheck = hasCheck || x.Kind == catalog.BrakeCheck
			add(&keep, *x.StationM, strings.ToUpper(x.Kind.Words())+strings.TrimPrefix(siteWords(x), wording.Plain(x.Kind.Words())))
		default:
			add(&may, *x.StationM, t)
		}
	}
	for _, b := range d.Benches {
		t := "Easier: " + wording.Downgrade(b.MeanDowngradePct) + " for "
		if b.MeanDowngradePct < 0 {
			t = "Climbs: " + wording.Downgrade(-b.MeanDowngradePct) + " for "
		}
		stretch(&keep, b.StartM, b.EndM, t+s.both(func(u catalog.Units) string { return u.Length(b.LengthM) })+". The hill goes on after it.")
	}
	room := max(0, mostPlaces-len(keep))
	dropped := max(0, len(may)-room)
	out := append(keep, may[:len(may)-dropped]...)
	sort.SliceStable(out, func(i, j int) bool { return out[i].distanceM < out[j].distanceM })
	for i := range out {
		out[i].No = fmt.Sprint(i + 1)
	}
	if dropped > 0 {
		out = append(out, sheetPlace{What: fmt.Sprintf("%d more places: see the report", dropped)})
	}
	if !hasCheck {
		out = append([]sheetPlace{{What: "No brake check area is on record: check the brakes before the crest"}}, out...)
	}
	return out
}

// fromCrest writes a distance to 0.1 mi or km, a short one in feet or metres,
// negative before the crest.
func fromCrest(distanceM float64, u catalog.Units) string {
	s := u.Length(math.Abs(distanceM))
	if distanceM < 0 && !strings.HasPrefix(s, "0 ") {
		return "−" + s
	}
	return s
}
