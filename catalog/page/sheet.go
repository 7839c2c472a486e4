// Package page makes the driver's page (HTML and PDF) and the report (HTML).
//
// Both are made from values: entries of package catalog, views of package plot, in
// SI. Each is one file that opens offline and loads nothing. Every page carries the
// cautions, says where its data comes from and how far it is off, names "NOT HELD"
// and "unknown" in words, and is marked when its place is invented. A driver's page
// that does not fit on one sheet of paper is a terrain.Fault, never cut off.
package page

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/wording"
)

// Sheet is what the driver's page is made from.
type Sheet struct {
	Entry      catalog.Entry
	Class      string // its hold in Entry.Holds is the one shown
	ClassLabel string // for people; Class where empty
	View       plot.ProfileView
	Sites      []catalog.Site // those placed on the route and no signs
	Toward     string         // where the road leads, as in "Alder Ferry"; may be empty
	LowRPM     float64        // the engine may retard between these; 0 where not known
	HighRPM    float64        //
	Stages     int            // of the class's retarder; 0 where not known
	Units      catalog.Units  // read first; the other system stands beside it
}

// sheetPage is the page in words: HTML and PDF print the same.
type sheetPage struct {
	Question string // why its review is in question; first and large
	Warnings []string
	Title    string
	Way      string
	Class    string
	Head     string // the answer in capitals
	Says     []string
	Held     bool
	DryOnly  bool // held, but not on a wet road
	Boxes    []sheetBox
	GearIn   string
	Facts    []sheetFact
	Places   []sheetPlace
	RiseHead string
	Rise     []string
	Cautions []string
	Foot     []string
	Alt      string
	first    catalog.Units
}

type sheetBox struct{ Label, Big, Small string }

type sheetFact struct{ Label, Text string }

// sheetPlace is a place or stretch along the way; its number stands on the
// profile too.
type sheetPlace struct {
	No, First, Second, What string
	fromM, toM              float64 // stations
	distanceM               float64 // of fromM from the crest
}

// mostPlaces keeps the page one page; ramps and the brake check area stay.
const mostPlaces = 10

// numberedView is the profile with the page's places marked by their numbers.
func (s *Sheet) numberedView(p sheetPage) plot.ProfileView {
	v := s.View
	v.Marks = nil
	for _, x := range p.Places {
		if x.No != "" {
			v.Marks = append(v.Marks, plot.Mark{Label: wording.AsIs(x.No), FromM: x.fromM, ToM: x.toM})
		}
	}
	return v
}

// page puts the sheet into words.
func (s *Sheet) page() sheetPage {
	e, d := &s.Entry, &s.Entry.Descent
	a, h, why := wording.AnswerFor(e, s.Class)
	p := sheetPage{Title: wording.Title(d), first: s.Units, Held: a == wording.Held, Cautions: catalog.Cautions()}
	p.Question = wording.QuestionWords(e)
	if e.Provenance.Invented {
		p.Warnings = append(p.Warnings, wording.InventedBanner)
	}
	if e.Review.State == catalog.Retired {
		p.Warnings = append(p.Warnings, "RETIRED: this page is no longer in use.")
	}
	p.Way = wording.Heading(d)
	if s.Toward != "" {
		p.Way += ", toward " + wording.Plain(s.Toward)
	}
	if r := wording.Plain(d.Route); r != "" && r != p.Title {
		p.Way += "; route " + r
	}
	p.Class = wording.WithoutMass(wording.Plain(s.ClassLabel))
	if p.Class == "" {
		p.Class = wording.Plain(s.Class)
	}
	if h != nil {
		p.Class += ", up to " + s.both(func(u catalog.Units) string { return u.MassDown(h.MassKg) })
	}
	switch a {
	case wording.Held:
		s.held(&p, h)
	case wording.NotHeld:
		s.notHeld(&p, h)
	default:
		p.Head = "UNKNOWN"
		p.Says = []string{"No advice: " + why + ".", "Do not take this truck down this hill on the strength of this page."}
	}
	p.Facts = append(p.Facts, s.hill(a, h))
	p.Places = s.places(a, h)
	p.Foot = []string{wording.ReviewLine(e), wording.SourceLine(e.Provenance), s.bounds()}
	if h != nil {
		for _, c := range h.Cautions {
			if !slices.Contains(p.Cautions, c) {
				p.Cautions = append(p.Cautions, wording.Plain(c))
			}
		}
	}
	p.Alt = s.View.Alt(s.Units)
	return p
}

// capital begins a text with a capital letter.
func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

// both writes a figure in the first unit system with the other beside it.
func (s *Sheet) both(of func(u catalog.Units) string) string {
	a, b := of(s.Units), of(s.other())
	if a == b {
		return a
	}
	return a + " (" + b + ")"
}

func (s *Sheet) other() catalog.Units {
	if s.Units == catalog.US {
		return catalog.Metric
	}
	return catalog.US
}

func (s *Sheet) held(p *sheetPage, h *catalog.Hold) {
	p.Head = "HOLDS ON THE RETARDER ALONE"
	if p.DryOnly = slices.Contains(h.SurfacesOut, surfaceWet); p.DryOnly {
		p.Head += " – DRY ROAD ONLY"
	}
	p.Boxes = []sheetBox{
		{"Gear", fmt.Sprint(h.Gear), "no shift on the grade"},
		{"Retarder stage", s.stageOf(h.Stage), s.useWords(h)},
		{"Speed at most", s.Units.Speed(h.SpeedMPS), s.other().Speed(h.SpeedMPS)},
		{"Engine", wording.Thousands(math.Round(h.EngineRPM/10) * 10), s.rpmBand()},
	}
	at := s.View.DistanceM(h.GearByM)
	where := "by the crest"
	if at <= -10 {
		where = s.both(func(u catalog.Units) string { return u.LengthUp(-at) }) + " before the crest"
	} else if at >= 10 {
		where = s.both(func(u catalog.Units) string { return u.Length(at) }) + " below the crest"
	}
	if l := s.lastBefore(h.GearByM); l != "" {
		where += "; " + l
	}
	p.GearIn = fmt.Sprintf("Gear %d in, retarder %s: %s.", h.Gear, s.stageWords(h.Stage), where)
	if len(h.SurfacesOut) > 0 {
		p.Facts = append(p.Facts, sheetFact{"Road", "NOT on " + wording.Plain(strings.Join(h.SurfacesOut, ", ")) + ": the wheels that the retarder turns would slide."})
	}
	if up := h.OneGearUpIn(s.Units); up != "" {
		p.Facts = append(p.Facts, sheetFact{"One gear up", capital(wording.Plain(up))})
	}
	s.rise(p, h)
}

// rise says what to do when the speed passes the mark. The firm application
// down to 5 mph under the mark follows the braking technique of the model
// commercial driver licence manual (AAMVA), from memory.
func (s *Sheet) rise(p *sheetPage, h *catalog.Hold) {
	p.RiseHead = "If speed rises past " + s.both(func(u catalog.Units) string { return u.Speed(h.SpeedMPS) })
	under := math.Max(0, h.SpeedMPS-5*catalog.MilePerHourMPS)
	brake := "Service brakes: one firm application down to " + s.both(func(u catalog.Units) string { return u.Speed(under) }) + ", then release. Never drag them."
	if under < 5*catalog.MilePerHourMPS {
		brake = "Service brakes: one firm application down to walking pace, then release. Never drag them."
	}
	p.Rise = []string{
		brake,
		fmt.Sprintf("Stay in gear %d, retarder on.", h.Gear),
		"If it rises past the mark again: brake to a full stop at the first safe place while the service brakes are cool.",
		"If brakes fade or air runs low: " + s.ramps(),
	}
}

func (s *Sheet) ramps() string {
	var at []string
	for _, x := range s.sorted() {
		if x.Kind == catalog.EscapeRamp {
			d := s.View.DistanceM(*x.StationM)
			if d <= 0 {
				continue // of no use once over the crest
			}
			at = append(at, s.both(func(u catalog.Units) string { return u.Length(d) }))
		}
	}
	if len(at) == 0 {
		return "no escape ramp is on record for this hill."
	}
	return "escape ramp " + strings.Join(at[:min(len(at), 4)], ", ") + " below the crest."
}

func (s *Sheet) hill(a wording.Answer, h *catalog.Hold) sheetFact {
	d := &s.Entry.Descent
	t := s.both(func(u catalog.Units) string { return u.Length(d.LengthM) }) + " long"
	if a == wording.Held && h.TimeS > 0 {
		t += ", about " + wording.Duration(h.TimeS) + " on the retarder"
	}
	return sheetFact{"Hill", t + "; drops " + s.both(func(u catalog.Units) string { return u.Height(d.DropM) }) + ", mean " + wording.MeanWithBound(d) + "."}
}

func (s *Sheet) useWords(h *catalog.Hold) string {
	if h.Stage == 0 {
		return "the hill holds itself"
	}
	return fmt.Sprintf("%.0f %% of it in use", math.Ceil(h.RetarderUsePct))
}

func (s *Sheet) rpmBand() string {
	if s.LowRPM > 0 && s.HighRPM > s.LowRPM {
		return "rpm; keep " + wording.Thousands(s.LowRPM) + "–" + wording.Thousands(s.HighRPM)
	}
	return "rpm at that speed"
}

// bounds says how far off the page may be.
func (s *Sheet) bounds() string {
	d := &s.Entry.Descent
	t := "Bounds (95 %): mean downgrade ± " + strings.TrimSuffix(wording.Downgrade(catalog.ShownErrPct(d.MeanDowngradeErrPct)), " %") + " points"
	if d.StartErrM > 0 {
		t += ", crest and foot ± " + s.both(func(u catalog.Units) string { return u.LengthUp(math.Max(d.StartErrM, d.EndErrM)) }) + " along the road"
	}
	if d.InterpolatedM > 0 {
		t += "; " + s.both(func(u catalog.Units) string { return u.Length(d.InterpolatedM) }) + " not on measured ground"
	}
	if len(d.Flags) > 0 {
		t += "; flags: " + wording.Plain(strings.Join(d.Flags, ", "))
	}
	return t + "."
}
