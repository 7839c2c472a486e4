package serve

import (
	"bytes"
	"context"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/page"
	"gradeline/catalog/plot"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// descentView is one descent with the texts and pictures of its page.
type descentView struct {
	frame
	ID, Address  string
	Heading, Way string
	Question     string
	Harder       string // says that a harder newer survey waits
	Facts        []fact
	Parts        string
	Flags        []string
	Profile      template.HTML // made by package page
	Series       plot.StationSeries
	Far, High    string // names of the units of length and height
	FarM, HighM  float64
	Pieces       []page.Piece
	Answers      []classAnswer
	Class        string // chosen; empty for all
	Places       []page.Place
	Drives       []driveRow      // recorded drives over the hill
	Onward       []neighbour     // roads in which the hill continues
	From         []neighbourHill // hills that continue in this one's road
	WhatIf       string          // address of the page to try trucks on this grade line
	Print        *printed        // the driver's page that printing this page gives; nil where no class is chosen
	Review       string
	Source       string
	Credits      []string
	History      []eventRow
	Form         *reviewForm
}

// printed is a driver's page inside the page, for printing.
type printed struct{ Address, Paper string }

// driveRow is a recorded drive, by the distances from the crest between which it has heights.
type driveRow struct{ Name, Way, From, To, Count string }

type fact struct{ Label, Text string }

// classAnswer is the advice for one class.
type classAnswer struct {
	ID, Name, Mass string
	Code, Answer   string
	IsWaiting      bool // from a newer, harder survey that waits for a decision
	Words          string
	OneGearUp      string
	Facts          []fact
	Roads          []string // the answer for each surface
	Cautions       []string
	Driver         string // address of the driver's page
	DriverPDF      string
	Heat, Gears    string // addresses of the pictures; empty where there is none
	HeatAlt        string
}

type eventRow struct{ When, By, What, Words string }

func (s *Server) descentPage(w http.ResponseWriter, r *http.Request) {
	var e catalog.Entry
	var v *descentView
	err := s.inTurn(r.Context(), func() (err error) {
		if e, err = s.cat.Descent(r.Context(), r.PathValue("id")); err == nil && e.Descent.ID == r.PathValue("id") {
			v, err = s.viewOf(r, &e)
		}
		return err
	})
	if err == nil && v == nil { // only the beginning of an id: redirect to the full one
		http.Redirect(w, r, descentAddress(e.Descent.ID), http.StatusSeeOther)
		return
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.show(w, r, http.StatusOK, "descent", v)
}

// viewOf makes the view of a descent.
func (s *Server) viewOf(r *http.Request, e *catalog.Entry) (*descentView, error) {
	ctx, d := r.Context(), &e.Descent
	v := &descentView{frame: s.frame(r, wording.Title(d)), ID: d.ID, Address: descentAddress(d.ID), Heading: wording.Heading(d),
		Question: wording.QuestionWords(e), Flags: wording.FlagWords(d.Flags), Review: wording.ReviewLine(e), Source: wording.SourceLine(e.Provenance), Class: r.URL.Query().Get("class")}
	u := v.Units
	if e.Provenance.Invented {
		v.Invented = wording.InventedBanner
	}
	if v.Class != "" && catalog.HoldFor(e.Holds, v.Class) == nil {
		return nil, notKnown("answer here for class", v.Class, wording.Classes([]catalog.Entry{*e}))
	}
	v.Way = fmt.Sprintf("%s along %s, from station %s to %s", d.Direction, wording.Plain(d.Route), u.Station(d.StartM), u.Station(d.EndM))
	v.Parts = wording.PartsOfHill(d, u)
	v.Facts = factsOf(d, u)
	say, err := survey.SayDrives(ctx, s.cat, e)
	if err != nil {
		return nil, err
	}
	if say != nil {
		for _, words := range say.Words() {
			v.Facts = append(v.Facts, fact{"Recorded drives", wording.Plain(words)})
		}
	}
	for _, c := range e.Provenance.Credits {
		v.Credits = append(v.Credits, wording.Plain(c))
	}
	if err := s.draw(ctx, v, e); err != nil {
		return nil, err
	}
	if err := s.answers(ctx, v, e); err != nil {
		return nil, err
	}
	if v.Form, err = s.formOf(ctx, r, e, u); err != nil {
		return nil, err
	}
	now, _, err := s.list.current(ctx)
	if err != nil {
		return nil, err
	}
	v.Print = s.printedOf(v)
	v.WhatIf = "/whatif?" + url.Values{"descent": {d.ID}}.Encode()
	if v.Class != "" {
		v.WhatIf = "/whatif?" + url.Values{"descent": {d.ID}, "class": {v.Class}}.Encode()
	}
	v.Onward, v.From = now.neighboursOf(e, v.Class, u)
	events, err := s.cat.History(ctx, d.ID)
	if err != nil {
		return nil, err
	}
	for _, ev := range slices.Backward(events) {
		v.History = append(v.History, eventInWords(&ev))
	}
	return v, nil
}

func eventInWords(ev *store.Event) eventRow {
	return eventRow{ev.At.UTC().Format("2006-01-02 15:04 UTC"), wording.Plain(ev.By), wording.Plain(ev.What), wording.Plain(ev.Words)}
}

func factsOf(d *routes.Descent, u catalog.Units) []fact {
	out := []fact{
		{"Length", u.Length(d.LengthM)},
		{"Drop", u.Height(d.DropM) + ", from " + u.Height(d.CrestElevationM) + " to " + u.Height(d.FootElevationM)},
		{"Mean downgrade", wording.MeanWithBound(d) + " (95 %)"},
		{"Steepest", wording.Steepest(d.Steepest100Pct, d.Steepest100ErrPct) + " over " + wording.Window(u, 100) + ", " +
			wording.Steepest(d.Steepest500Pct, d.Steepest500ErrPct) + " over " + wording.Window(u, 500) + ", " +
			wording.Steepest(d.Steepest1000Pct, d.Steepest1000ErrPct) + " over " + wording.Window(u, 1000)},
	}
	if d.TightestRadiusM != nil {
		out = append(out, fact{"Tightest curve", "radius " + wording.Radius(*d.TightestRadiusM, u)})
	}
	if d.InterpolatedM > 0 {
		out = append(out, fact{"Not on measured ground", u.Length(d.InterpolatedM) + " over bridges, tunnels and voids"})
	}
	return append(out, fact{"Crest and foot", fmt.Sprintf("%.5f, %.5f and %.5f, %.5f (longitude, latitude)", d.CrestLonDeg, d.CrestLatDeg, d.FootLonDeg, d.FootLatDeg)})
}

// draw adds the profile and the cursor's data.
func (s *Server) draw(ctx context.Context, v *descentView, e *catalog.Entry) error {
	r, err := answer.ReportFor(ctx, s.cat, []catalog.Entry{*e}, answer.ReportOptions{Units: v.Units, Class: v.Class, Steep: &store.SteepParts{}})
	if err != nil {
		return err
	}
	if err := s.addDrives(ctx, v, e, &r.Entries[0].View); err != nil {
		return err
	}
	x, err := page.ScreenOf(&r.Entries[0], v.Units)
	if err != nil {
		return err
	}
	v.Profile, v.Series, v.Pieces, v.Places = x.SVG, x.Series, x.Pieces, x.Places
	far, high := wording.LengthUnit(v.Units), wording.HeightUnit(v.Units)
	v.Far, v.FarM, v.High, v.HighM = far.Name, far.Factor, high.Name, high.Factor
	return nil
}

// harderSurvey says what on the page is by which survey.
const harderSurvey = "A NEWER SURVEY FOUND THIS HILL HARDER. What each truck can do is by the newer survey, which the office has not checked yet; the figures, the profile and the places are by the older one."

// answers adds the advice of each class. Where a newer, harder survey waits, its advice is used, as
// on the driver's page.
func (s *Server) answers(ctx context.Context, v *descentView, e *catalog.Entry) error {
	for _, id := range wording.Classes([]catalog.Entry{*e}) {
		if v.Class != "" && v.Class != id {
			continue
		}
		newer, _, err := s.cat.Harsher(ctx, e, id)
		if err != nil {
			return err
		}
		of := e
		if newer != nil {
			of = newer
			v.Harder = harderSurvey
		}
		a := s.answerOf(of, id, v.Units)
		a.IsWaiting = newer != nil
		v.Answers = append(v.Answers, a)
	}
	return nil
}

// printedOf is the driver's page of the chosen class, or of the only one. Of several classes none is
// taken: a page of another truck would be wrong.
func (s *Server) printedOf(v *descentView) *printed {
	if len(v.Answers) != 1 || v.Answers[0].Mass == "unknown" {
		return nil
	}
	p := &printed{v.Answers[0].Driver, "a4"}
	if k := s.classByID(v.Answers[0].ID); k != nil && k.Units == catalog.US {
		p.Paper = "letter"
	}
	p.Address += "&paper=" + p.Paper
	return p
}

// answerOf is the advice for one class in words.
func (s *Server) answerOf(e *catalog.Entry, id string, u catalog.Units) classAnswer {
	a, h, why := wording.AnswerFor(e, id)
	base := descentAddress(e.Descent.ID)
	class := "?class=" + url.QueryEscape(id)
	x := classAnswer{ID: id, Name: wording.WithoutMass(s.className(id)), Code: codeOf(a, h).String(), Answer: wording.Plain(wording.HoldWords(e, id, u)), Words: wording.Plain(why),
		Driver: base + "/driver" + class, DriverPDF: base + "/driver" + class + "&as=pdf"}
	if h == nil {
		x.Mass = "unknown"
		return x
	}
	x.Mass = u.MassDown(h.MassKg)
	x.OneGearUp = wording.Plain(h.OneGearUpIn(u))
	if x.Words == "" {
		x.Words = wording.Plain(wording.Both{Metric: h.Words.Metric, US: h.Words.US}.In(u))
	}
	for _, c := range h.CautionsIn(u) {
		x.Cautions = append(x.Cautions, wording.Plain(c))
	}
	x.Facts = holdFacts(a, h, u)
	if a == wording.Held {
		x.Roads = roadsOf(h)
	}
	if s.classByID(id) != nil {
		x.Gears = base + "/gears" + class
	}
	if len(h.Heat) > 1 && h.LimitedBy != catalog.LimitFriction {
		x.Heat = base + "/heat" + class
		x.HeatAlt = fmt.Sprintf("Temperature of the service brakes along the hill, %s: %s at the foot. Not advice.", wording.Plain(h.HeatCaseIn(u)), u.Temp(h.Heat[len(h.Heat)-1].TempC))
	}
	return x
}

// holdFacts are the figures behind an answer.
func holdFacts(a wording.Answer, h *catalog.Hold, u catalog.Units) []fact {
	heaviest := "none"
	if h.HeaviestMassKg > 0 {
		heaviest = u.MassDown(h.HeaviestMassKg) + " in some gear; the class's legal limit still applies"
	}
	var out []fact
	if a == wording.Held {
		out = append(out,
			fact{"Band", fmt.Sprintf("switch the stage off at %s, set it again at %s", u.Speed(h.SpeedLowMPS), u.Speed(h.SpeedMPS))},
			fact{"Engine", fmt.Sprintf("%.0f rpm, %.0f %% of the retarder in use", h.EngineRPM, h.RetarderUsePct)},
			fact{"Gear in by", "station " + u.Station(h.GearByM)},
			fact{"Limited by", wording.Plain(h.LimitedBy)})
	}
	out = append(out, fact{"Heaviest that holds", heaviest})
	for _, x := range h.Sensitivity {
		out = append(out, fact{"If " + wording.Plain(x.Change), x.OutcomeWords(u)})
	}
	return out
}

// roadsOf lists the surfaces on which the advice may be used.
func roadsOf(h *catalog.Hold) []string {
	var out []string
	for i := range h.Surfaces {
		out = append(out, wording.Plain(h.Surfaces[i].Sentence()))
	}
	if len(out) == 0 && len(h.SurfacesOut) > 0 {
		out = []string{"Not on " + wording.Plain(strings.Join(h.SurfacesOut, ", ")) + "."}
	}
	return out
}

// driverPage is the driver's page from the current catalogue, to print or as a file.
func (s *Server) driverPage(w http.ResponseWriter, r *http.Request) {
	ctx, v := r.Context(), r.URL.Query()
	e, err := s.cat.Descent(ctx, r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	o := answer.SheetOptions{Class: v.Get("class"), Classes: s.opt.Classes, Toward: short(v.Get("toward")), Dispatcher: short(v.Get("dispatcher")), Note: short(v.Get("note")), Printed: s.opt.Now()}
	if _, err := r.Cookie(unitsCookie); err == nil { // else those of the class's country
		u := s.unitsOf(r)
		o.Units = &u
	}
	sheet, err := answer.SheetOf(ctx, s.cat, &e, o)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	paper := page.A4
	if v.Get("paper") == "letter" || v.Get("paper") == "" && sheet.Units == catalog.US {
		paper = page.Letter
	}
	if v.Get("as") == "pdf" {
		s.send(w, r, "driver.pdf", "application/pdf", true, func(_ context.Context, out *os.File) error { return page.SheetPDF(out, sheet, paper) })
		return
	}
	var b bytes.Buffer
	if err := page.SheetHTML(&b, sheet, paper); err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Security-Policy", sheetPolicy)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(b.Bytes())
}

// short limits a text that a visitor may print on a page.
func short(s string) string { return wording.Shortened(wording.Plain(s), 300) }

// heatPicture draws the service brakes' heat along the hill.
func (s *Server) heatPicture(w http.ResponseWriter, r *http.Request) {
	s.picture(w, r, func(out io.Writer, e *catalog.Entry, h *catalog.Hold, u catalog.Units) error {
		return plot.HeatSVG(out, plot.HeatViewFor(e, h), u)
	})
}

// gearsPicture draws the demand and the power that each gear holds.
func (s *Server) gearsPicture(w http.ResponseWriter, r *http.Request) {
	class := s.classByID(r.URL.Query().Get("class"))
	s.picture(w, r, func(out io.Writer, e *catalog.Entry, h *catalog.Hold, u catalog.Units) error {
		if class == nil {
			return notKnown("class", h.Class, nil)
		}
		return plot.HoldingSVG(out, plot.HoldingViewFor(e, class), u)
	})
}

func (s *Server) picture(w http.ResponseWriter, r *http.Request, draw func(io.Writer, *catalog.Entry, *catalog.Hold, catalog.Units) error) {
	class := r.URL.Query().Get("class")
	e, err := s.cat.Descent(r.Context(), r.PathValue("id"))
	if err == nil {
		var newer *catalog.Entry
		if newer, _, err = s.cat.Harsher(r.Context(), &e, class); newer != nil {
			e = *newer
		}
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	h := catalog.HoldFor(e.Holds, class)
	if class == "" || h == nil {
		s.fail(w, r, notKnown("answer here for class", class, wording.Classes([]catalog.Entry{e})))
		return
	}
	var b bytes.Buffer
	if err := draw(&b, &e, h, s.unitsOf(r)); err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Security-Policy", documentPolicy)
	w.Header().Set("Content-Type", "image/svg+xml")
	_, _ = w.Write(b.Bytes())
}
