// Package page makes the driver's page (HTML and PDF) and the report (HTML).
//
// Both are made from values: entries of package catalog, views of package plot, in SI.
// Each is one file that opens offline and loads nothing. Every page carries the
// cautions, names the sources of its data with their error bounds, says "NOT HELD" and
// "unknown" in words, and is marked when its place is invented. A driver's page that
// does not fit on one sheet of paper is a terrain.Fault; it is never cut off.
package page

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/plot"
	"gradeline/catalog/wording"
)

// Sheet is the input of the driver's page.
type Sheet struct {
	Entry      catalog.Entry
	IsWaiting  bool   // Entry is a newer, harder survey that is not yet decided on
	IsOfTheDay bool   // the advice was worked out for the weather of a day, not by a survey
	Class      string // its hold in Entry.Holds is the one shown
	ClassLabel string // for people; Class where empty
	View       plot.ProfileView
	Sites      []catalog.Site    // those placed on the route and no signs
	Toward     string            // where the road leads, as in "Alder Ferry"; may be empty
	Units      catalog.Units     // printed first, with the other system after it
	Brakes     wording.BrakeKind // for the line of checks; the zero value where not known
	Dispatcher string            // whom to call, as the office wants it printed; may be empty
	Note       string            // a note from the office to the driver; may be empty
	Printed    time.Time         // day of printing; zero to leave it out
}

// sheetPage is the page in words: HTML and PDF print the same.
type sheetPage struct {
	Band     sheetBand
	Stamp    string // fingerprint and dates
	Question string // why its review is in question; first and large
	Warnings []string
	Title    string
	Way      string
	Class    string
	Head     string // the answer in capitals
	Narrowed string // the restriction of a held answer, as large as a refusal; may be empty
	Says     []string
	Held     bool
	Boxes    []sheetBox
	GearIn   string
	Facts    []sheetFact
	Places   []sheetPlace
	RiseHead string
	Rise     []string
	Office   []sheetFact
	Cautions []string
	Foot     []string
	Alt      string
	// WithoutPicture leaves the profile out where the text fills the page.
	WithoutPicture bool
	isFull         bool              // words are shortened to keep the profile
	isTight        bool              // and gaps are smaller
	shortLevers    *strings.Replacer // writes each retarder as its box does
}

// sheetBand is the band across the head of the page that shows whether the page is approved. It is
// solid if it is and striped if not, so that both can be distinguished from a distance and in grey.
type sheetBand struct {
	Text  string
	Solid bool
}

type sheetBox struct{ Label, Big, Small string }

type sheetFact struct{ Label, Text string }

// sheetPlace is a place or stretch along the way; its number is also on the profile.
type sheetPlace struct {
	No, First, Second, What string
	Strong                  bool    // an action, not only a place
	fromM, toM              float64 // stations
	distanceM               float64 // of fromM from the crest
	isExtra                 bool    // may be left out if the page is full
}

// answer is the answer for the page's class on its descent.
func (s *Sheet) answer() (wording.Answer, *catalog.Hold, string) {
	return wording.AnswerFor(&s.Entry, s.Class)
}

// distanceM is the distance of a station past the crest, in travel.
func (s *Sheet) distanceM(stationM float64) float64 {
	v := plot.ProfileView{Direction: s.Entry.Descent.Direction, CrestM: s.Entry.Descent.StartM}
	return v.DistanceM(stationM)
}

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

// warn adds what a driver must know before anything else.
func (s *Sheet) warn(p *sheetPage, h *catalog.Hold) {
	if s.Entry.Provenance.Invented {
		p.Warnings = append(p.Warnings, wording.InventedBanner)
	}
	if s.IsWaiting {
		p.Warnings = append(p.Warnings, wording.HarderSurvey)
	}
	if s.IsOfTheDay && h != nil && h.Weather != nil {
		p.Warnings = append(p.Warnings, "FOR THE WEATHER OF ONE DAY: "+s.weatherWords(h)+". In other weather this page is not valid.")
		if p.Band.Solid {
			p.Band = sheetBand{Text: "NOT APPROVED FOR THIS WEATHER"}
		}
	}
}

// page puts the sheet into words.
func (s *Sheet) page() (sheetPage, error) {
	e, d := &s.Entry, &s.Entry.Descent
	a, h, why := s.answer()
	p := sheetPage{Band: bandFor(&e.Review).forAnswer(a), Title: wording.Title(d), Held: a == wording.Held, Cautions: catalog.Cautions()}
	stamp, err := s.stamp()
	if err != nil {
		return p, err
	}
	p.Stamp = stamp
	p.Question = wording.DriverQuestion(e)
	if e.Review.State == catalog.Retired {
		p.Question = "RETIRED: the office has withdrawn this page. Do not drive by it."
	}
	s.warn(&p, h)
	p.Way = capital(wording.Heading(d))
	if s.Toward != "" {
		p.Way += ", toward " + wording.Plain(s.Toward)
	}
	if r := wording.Plain(d.Route); r != "" && r != p.Title {
		p.Way += "; route " + r
	}
	p.Class = s.classWords(h)
	switch a {
	case wording.Held:
		s.held(&p, h)
	case wording.NotHeld:
		s.notHeld(&p, h)
	default:
		p.Head = "UNKNOWN"
		p.Says = []string{"No advice: " + why + ".", "Do not take this truck down this hill because of this page."}
	}
	if a == wording.Held {
		p.Facts = append(p.Facts, sheetFact{"Brake check", wording.BrakeCheckLine(s.Brakes) + s.coldWords(h)})
	}
	p.Facts = append(p.Facts, s.hill(a, h))
	if h != nil && !s.IsOfTheDay && a != wording.Unknown {
		p.Facts = append(p.Facts, sheetFact{"Weather", s.weather(h)})
	}
	if a == wording.Held && h.HolderWord() != "retarder" {
		p.speakOfEngineDrag()
	}
	p.Places = s.places(a, h, a != wording.Held)
	p.shortLevers = shortLevers(h)
	for i := range p.Places {
		p.Places[i].What = p.shortLevers.Replace(p.Places[i].What)
	}
	p.Office = s.office()
	reviewed := *e
	reviewed.Review.InQuestion = "" // said above, in words for the driver
	p.Foot = []string{wording.ReviewLine(&reviewed) + " " + s.bounds(), wording.SourceLine(e.Provenance)}
	s.addCautions(&p, a, h)
	p.Alt = s.View.Alt(s.Units)
	return p, nil
}

// addCautions adds the hold's own cautions that the page does not say elsewhere.
func (s *Sheet) addCautions(p *sheetPage, a wording.Answer, h *catalog.Hold) {
	if h == nil || a == wording.Unknown { // the conditions of advice that is not given
		return
	}
	for _, c := range h.CautionsIn(s.Units) {
		if slices.Contains(p.Cautions, c) || saidElsewhere(c) || a == wording.NotHeld && isOfHeldAdvice(c) {
			continue
		}
		forDriver, forOffice := splitCaution(wording.Plain(c))
		p.Cautions = append(p.Cautions, forDriver)
		p.Foot[0] += forOffice
	}
}

// splitCaution takes off a caution what only tells the office how a figure was found.
func splitCaution(c string) (forDriver, forOffice string) {
	if i := strings.Index(c, " "+holding.SurgeBasis); i > 0 {
		return c[:i], c[i:]
	}
	return c, ""
}

// saidElsewhere reports whether a caution of a hold has a line of its own on the page:
// its surfaces, its masses and where to slow down. That a heavier truck would keep its grip on a wet
// road is for the office, which can get advice for that mass.
func saidElsewhere(caution string) bool {
	for _, begin := range []string{"Not on these surfaces", catalog.DryRoadOnly, "For masses from", "On a wet road only a truck of", "Slow down before the crest", "Not held", "For air of", "In air under"} {
		if strings.HasPrefix(caution, begin) {
			return true
		}
	}
	return false
}

// isOfHeldAdvice reports whether a caution is a condition of advice that holds: on a page that says
// NOT HELD it would read as a way down.
func isOfHeldAdvice(caution string) bool {
	return strings.HasPrefix(caution, "Only with the battery at") || strings.HasPrefix(caution, "Before the crest check that the display offers full recuperation")
}

// stamp gives the page's fingerprint and dates in one line.
func (s *Sheet) stamp() (string, error) {
	mark, err := s.Fingerprint()
	if err != nil {
		return "", err
	}
	t := "Page " + mark
	if at := s.Entry.Provenance.At; !at.IsZero() {
		t += ", survey of " + at.Format("2006-01-02")
	}
	if !s.Printed.IsZero() {
		t += ", printed " + s.Printed.Format("2006-01-02")
	}
	t += ". Still current? The office types: gradeline sheet --check " + mark
	if _, h, _ := s.answer(); s.IsOfTheDay && h != nil && h.Weather != nil {
		t += " " + h.Weather.Flags()
	}
	return t, nil
}

// bandFor states the review of the page.
func bandFor(r *catalog.Review) sheetBand {
	by := ""
	if r.By != "" {
		by = " by " + wording.Plain(r.By)
	}
	if !r.At.IsZero() {
		by += " on " + r.At.Format("2006-01-02")
	}
	switch {
	case r.State == catalog.Retired:
		return sheetBand{Text: "RETIRED: this page is no longer in use"}
	case r.State == catalog.Approved && r.InQuestion == "":
		return sheetBand{Text: "APPROVED" + by, Solid: true}
	case r.State == catalog.Approved:
		return sheetBand{Text: "APPROVAL IN QUESTION"}
	case r.State == catalog.FieldChecked:
		return sheetBand{Text: "FIELD-CHECKED" + by + ", NOT APPROVED"}
	}
	return sheetBand{Text: "NOT REVIEWED"}
}

// forAnswer keeps the word APPROVED from reading as a permission on a page that gives none.
func (b sheetBand) forAnswer(a wording.Answer) sheetBand {
	by, isApproved := strings.CutPrefix(b.Text, "APPROVED")
	switch {
	case !isApproved || !b.Solid || a == wording.Held:
		return b
	case a == wording.NotHeld:
		return sheetBand{Text: "NOT HELD: approved as such" + by, Solid: true}
	}
	return sheetBand{Text: "NO APPROVED ADVICE FOR THIS TRUCK"}
}

// classWords names the class and the masses that the page is for.
func (s *Sheet) classWords(h *catalog.Hold) string {
	t := wording.WithoutMass(wording.Plain(s.ClassLabel))
	if t == "" {
		t = wording.Plain(s.Class)
	}
	if h == nil {
		return t
	}
	up := s.both(func(u catalog.Units) string { return u.MassDown(h.MassKg) })
	if h.MassLightKg > 0 && h.MassLightKg < h.MassKg {
		from := s.both(func(u catalog.Units) string { return massUp(h.MassLightKg, u) })
		if from == up {
			return t + ", at " + up + " only"
		}
		return t + ", for " + from + " to " + up
	}
	return t + ", up to " + up
}

// massUp writes a mass rounded up: a page is never for a lighter truck than it says.
func massUp(massKg float64, u catalog.Units) string {
	if u == catalog.US {
		return wording.Thousands(math.Ceil(catalog.LbFromKg(massKg)/100-0.02)*100) + " lb"
	}
	return fmt.Sprintf("%.1f t", math.Ceil(massKg/100-1e-6)/10)
}

// office are the lines that the office adds to the page.
func (s *Sheet) office() []sheetFact {
	var out []sheetFact
	if t := wording.Plain(s.Dispatcher); t != "" {
		out = append(out, sheetFact{"Dispatcher", t})
	}
	if t := wording.Plain(s.Note); t != "" {
		out = append(out, sheetFact{"Note", t})
	}
	return out
}

// capital begins a text with a capital letter.
func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

// both writes a figure in the first unit system with the other after it.
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

// Labels of facts that a full page shortens.
const (
	factPosted  = "Posted"
	factReserve = "Reserve"
	factHill    = "Hill"
)

// hill states the hill's length and drop.
func (s *Sheet) hill(a wording.Answer, h *catalog.Hold) sheetFact {
	d := &s.Entry.Descent
	t := s.both(func(u catalog.Units) string { return u.Length(d.LengthM) }) + " long"
	if a == wording.Held && h.TimeS > 0 {
		t += ", about " + wording.Duration(h.TimeS) + " on the retarder"
	}
	return sheetFact{factHill, t + "; drops " + s.both(func(u catalog.Units) string { return u.Height(d.DropM) }) + ", mean " + wording.MeanWithBound(d) + "."}
}

// weather says for which weather the page is.
func (s *Sheet) weather(h *catalog.Hold) string {
	if h.Weather == nil {
		return "Not stored with this advice: it may be too fast on a hot day. Ask the office."
	}
	return capital(s.weatherWords(h)) + ". In other weather ask the office."
}

// coldWords say what to do in cold air on a page that is for it too; empty on others.
func (s *Sheet) coldWords(h *catalog.Hold) string {
	if h.Weather == nil || h.Weather.ColdestC > holding.ColdOilC || h.Weather.HottestC <= holding.ColdOilC {
		return ""
	}
	return fmt.Sprintf(" Under %s warm up; under %s expect ice.", s.Units.Temp(holding.ColdOilC), s.Units.Temp(holding.NearIceC))
}

func (s *Sheet) weatherWords(h *catalog.Hold) string {
	return h.Weather.WordsInBoth(s.Units, s.other())
}

// bounds states the error bounds of the page.
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
