package export

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"gradeline/catalog"
)

// Sheet is what the driver's page is made from.
type Sheet struct {
	Entry      catalog.Entry
	Class      string // its hold in Entry.Holds is the one shown
	ClassLabel string // for people; Class where empty
	View       ProfileView
	Sites      []Site
	Toward     string        // where the road leads, as in "Alder Ferry"; may be empty
	LowRPM     float64       // the engine may retard between these; 0 where not known
	HighRPM    float64       //
	Stages     int           // of the class's retarder; 0 where not known
	Units      catalog.Units // read first; the other system stands beside it
}

// Site is a place beside the road that the page points out.
type Site struct {
	Kind     string // "brake check area", "escape ramp", "pullout", "stop", "landmark", …
	Name     string
	StationM float64
	Side     string // "left" or "right" in travel; may be empty
}

// Kinds of site that the page treats by name.
const (
	SiteBrakeCheck = "brake check area"
	SiteRamp       = "escape ramp"
)

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
func (s *Sheet) numberedView(p sheetPage) ProfileView {
	v := s.View
	v.Marks = nil
	for _, x := range p.Places {
		if x.No != "" {
			v.Marks = append(v.Marks, Mark{asIs(x.No), x.fromM, x.toM})
		}
	}
	return v
}

// page puts the sheet into words.
func (s *Sheet) page() sheetPage {
	e, d := &s.Entry, &s.Entry.Descent
	a, h, why := AnswerFor(e, s.Class)
	p := sheetPage{Title: Title(d), first: s.Units, Held: a == Held, Cautions: catalog.Cautions()}
	p.Question = questionWords(e)
	if e.Provenance.Invented {
		p.Warnings = append(p.Warnings, InventedBanner)
	}
	if e.Review.State == catalog.Retired {
		p.Warnings = append(p.Warnings, "RETIRED: this page is no longer in use.")
	}
	p.Way = Heading(d)
	if s.Toward != "" {
		p.Way += ", toward " + plain(s.Toward)
	}
	if r := plain(d.Route); r != "" && r != p.Title {
		p.Way += "; route " + r
	}
	p.Class = WithoutMass(plain(s.ClassLabel))
	if p.Class == "" {
		p.Class = plain(s.Class)
	}
	if h != nil {
		p.Class += ", up to " + s.both(func(u catalog.Units) string { return u.MassDown(h.MassKg) })
	}
	switch a {
	case Held:
		s.held(&p, h)
	case NotHeld:
		s.notHeld(&p, h)
	default:
		p.Head = "UNKNOWN"
		p.Says = []string{"No advice: " + why + ".", "Do not take this truck down this hill on the strength of this page."}
	}
	p.Facts = append(p.Facts, s.hill(a, h))
	p.Places = s.places(a, h)
	p.Foot = []string{ReviewLine(e), SourceLine(e.Provenance), s.bounds()}
	if h != nil {
		for _, c := range h.Cautions {
			if !slices.Contains(p.Cautions, c) {
				p.Cautions = append(p.Cautions, plain(c))
			}
		}
	}
	p.Alt = s.View.alt(s.Units)
	return p
}

// WithoutMass drops a mass at the end of a class's name: the page says its own.
func WithoutMass(label string) string {
	if i := strings.LastIndex(label, ", "); i > 0 {
		if _, err := catalog.MassKg(label[i+2:]); err == nil {
			return label[:i]
		}
	}
	return label
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
		{"Engine", thousands(math.Round(h.EngineRPM/10) * 10), s.rpmBand()},
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
		p.Facts = append(p.Facts, sheetFact{"Road", "NOT on " + plain(strings.Join(h.SurfacesOut, ", ")) + ": the wheels that the retarder turns would slide."})
	}
	if up := h.OneGearUpIn(s.Units); up != "" {
		p.Facts = append(p.Facts, sheetFact{"One gear up", capital(plain(up))})
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
		if x.Kind == SiteRamp {
			d := s.View.DistanceM(x.StationM)
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

func (s *Sheet) hill(a Answer, h *catalog.Hold) sheetFact {
	d := &s.Entry.Descent
	t := s.both(func(u catalog.Units) string { return u.Length(d.LengthM) }) + " long"
	if a == Held && h.TimeS > 0 {
		t += ", about " + duration(h.TimeS) + " on the retarder"
	}
	return sheetFact{"Hill", t + "; drops " + s.both(func(u catalog.Units) string { return u.Height(d.DropM) }) + ", mean " + meanWithBound(d) + "."}
}

func (s *Sheet) useWords(h *catalog.Hold) string {
	if h.Stage == 0 {
		return "the hill holds itself"
	}
	return fmt.Sprintf("%.0f %% of it in use", math.Ceil(h.RetarderUsePct))
}

func (s *Sheet) rpmBand() string {
	if s.LowRPM > 0 && s.HighRPM > s.LowRPM {
		return "rpm; keep " + thousands(s.LowRPM) + "–" + thousands(s.HighRPM)
	}
	return "rpm at that speed"
}

// bounds says how far off the page may be.
func (s *Sheet) bounds() string {
	d := &s.Entry.Descent
	t := "Bounds (95 %): mean downgrade ± " + strings.TrimSuffix(downgrade(catalog.ShownErrPct(d.MeanDowngradeErrPct)), " %") + " points"
	if d.StartErrM > 0 {
		t += ", crest and foot ± " + s.both(func(u catalog.Units) string { return u.LengthUp(math.Max(d.StartErrM, d.EndErrM)) }) + " along the road"
	}
	if d.InterpolatedM > 0 {
		t += "; " + s.both(func(u catalog.Units) string { return u.Length(d.InterpolatedM) }) + " not on measured ground"
	}
	if len(d.Flags) > 0 {
		t += "; flags: " + plain(strings.Join(d.Flags, ", "))
	}
	return t + "."
}
