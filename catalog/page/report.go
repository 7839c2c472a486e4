package page

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// Report is the input of the report; entries keep their order.
type Report struct {
	Title     string
	Units     catalog.Units
	Entries   []ReportEntry
	Routes    []plot.MapRoute
	Classes   []ReportClass   // in the order to show; the entries' own where nil
	Class     string          // class that the page shows first; the heaviest if empty
	Hillshade *plot.Hillshade // may be nil
	Skipped   []routes.Skipped
	// SteepParts are outside any descent; SteepNote names the limits of their list.
	SteepParts []catalog.SteepPart
	SteepNote  string
	Program    *Program // lets the page try other trucks offline; nil for none
}

// ReportEntry is a descent with its profile.
type ReportEntry struct {
	Entry      catalog.Entry
	View       plot.ProfileView
	Sites      []catalog.Site // along the road
	Sheets     []PlanSheet    // plan sheets of its signs; nil where none are wanted
	SheetWords string         // what the sheets are
	GradeLine  []byte         // for Report.Program: a whatif.GradeLine as JSON
}

// PlanSheet is a sheet as SVG, with its title.
type PlanSheet struct {
	SVG   []byte
	Words string
}

// ReportClass names a weight class for people.
type ReportClass struct{ ID, Label string }

type reportPage struct {
	Title    string
	Warnings []string
	Map      *plot.Map
	Head     []string
	Classes  []reportClass
	Reviews  []string
	Sections []reportSection
	Steep    *SteepSection
	Skipped  []routes.Skipped
	Cautions []string
	Sources  []string
	Data     reportData
	CSS      template.CSS
	Script   template.JS
	Policy   string
	Try      *tryPanel
}

// reportClass is a class with a short key for the page, so that no user's name can break it.
type reportClass struct {
	Key, Label string
	Shown      bool // at first
}

type reportData struct {
	Far     string               `json:"far"`   // the name of a mile or kilometre
	FarM    float64              `json:"far_m"` // and its length
	High    string               `json:"high"`
	HighM   float64              `json:"high_m"`
	Entries []plot.StationSeries `json:"entries"`
}

type reportSection struct {
	No         int
	Index      int
	Title      string
	Way        string
	Heading    string
	Facts      string
	Parts      string // steep parts, benches and outer ends; empty where there are none
	Flags      string
	Question   string // why the review is in question; empty where it isn't
	Cells      []reportCell
	Answers    []reportAnswer
	Worst      string     // the worst answer of all classes: "not", "unknown" or "held"
	Together   reportCell // the summary of all classes
	Search     string
	MeanPct    float64
	Profile    plot.ScreenProfile
	Pieces     []Piece
	Places     []sheetPlace
	Review     string
	State      string
	Source     string
	Bounds     string
	Invented   bool
	Sheets     []sheetImage
	SheetWords string
}

// sheetImage is a plan sheet at a data: address.
type sheetImage struct {
	URL template.URL
	Alt string
}

type reportCell struct {
	Text  string
	Sort  string // what the column is sorted by: a figure, or the text
	Label string // its column's head, for a phone, where each row is a card
}

type reportAnswer struct {
	Key, Class, Code, Answer string
	Shown                    bool // at first
	Short                    string
	Mass, Gear, Levers       string
	Speed, Roads             string
	Limited, Heaviest, Words string
}

var reportTemplate = template.Must(template.ParseFS(pageFiles, "assets/report.html", "assets/profile.html"))

// ReportHTML writes the report as one HTML file that opens offline: map, profiles,
// tables, style and script inside it, and a policy that forbids loading anything and
// running any other script.
func ReportHTML(w io.Writer, r Report) error {
	p, err := r.page()
	if err != nil {
		return err
	}
	return reportTemplate.Execute(w, p)
}

// page puts the report into words.
func (r *Report) page() (*reportPage, error) {
	script, err := pageFiles.ReadFile("assets/report.js")
	if err != nil {
		return nil, err
	}
	css, err := pageFiles.ReadFile("assets/report.css")
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(script)
	es := make([]catalog.Entry, len(r.Entries))
	for i := range r.Entries {
		if err := wording.CheckNames(&r.Entries[i].Entry.Descent); err != nil {
			return nil, err
		}
		es[i] = r.Entries[i].Entry
	}
	far, high := wording.LengthUnit(r.Units), wording.HeightUnit(r.Units)
	p := &reportPage{
		Title: wording.Plain(r.Title), Cautions: catalog.Cautions(), CSS: template.CSS(css), Script: template.JS(script),
		Policy: "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'",
		Data:   reportData{Far: far.Name, FarM: far.Factor, High: high.Name, HighM: high.Factor, Entries: []plot.StationSeries{}},
		Head:   []string{"No.", "Descent", "Length, " + far.Name, "Drop, " + high.Name, "Mean, %", "± 95 %", "Steepest " + wording.Window(r.Units, 500) + ", %"},
	}
	if strings.TrimSpace(p.Title) == "" {
		p.Title = "Sustained downgrades"
	}
	p.Steep = r.steepSection()
	if wording.AnyInvented(es) || wording.AnyInventedPart(r.SteepParts) {
		p.Warnings = append(p.Warnings, wording.InventedBanner)
	}
	for _, s := range r.Skipped {
		p.Skipped = append(p.Skipped, routes.Skipped{Where: wording.Plain(s.Where), Why: wording.Plain(s.Why)})
	}
	var m plot.MapSpace
	if p.Map, m, err = plot.LayMap(plot.MapContents{Routes: r.Routes, Entries: es, Parts: r.SteepParts, Hillshade: r.Hillshade, Units: r.Units}); err != nil {
		return nil, err
	}
	classes := r.classes(es)
	p.Classes = classes.shown
	if err := r.addProgram(p); err != nil {
		return nil, err
	}
	return p, r.sections(p, classes, m)
}

// reportClasses are the report's classes and the one that it shows at first.
type reportClasses struct {
	list  []ReportClass
	shown []reportClass
	first int // in list; −1 where there is none
}

// classes names the classes. The page first shows the requested class, or the heaviest that has an
// answer. Its answers set the colours of the map.
func (r *Report) classes(es []catalog.Entry) reportClasses {
	out := reportClasses{list: r.Classes, first: -1}
	if out.list == nil {
		for _, id := range wording.Classes(es) {
			out.list = append(out.list, ReportClass{id, id})
		}
	}
	heaviestKg := map[string]float64{}
	for i := range es {
		for _, h := range es[i].Holds {
			heaviestKg[h.Class] = math.Max(heaviestKg[h.Class], h.MassKg)
		}
	}
	for i, c := range out.list {
		if out.first < 0 || r.Class == "" && heaviestKg[c.ID] > heaviestKg[out.list[out.first].ID] || r.Class != "" && c.ID == r.Class {
			out.first = i
		}
	}
	for i, c := range out.list {
		label := wording.Plain(c.Label)
		if label == "" {
			label = wording.Plain(c.ID)
		}
		out.shown = append(out.shown, reportClass{fmt.Sprintf("c%d", i), label, i == out.first})
	}
	return out
}

// sections adds a section for each descent.
func (r *Report) sections(p *reportPage, classes reportClasses, m plot.MapSpace) error {
	seen := map[string]bool{}
	once := func(list *[]string, kind, s string) {
		if !seen[kind+s] {
			seen[kind+s] = true
			*list = append(*list, s)
		}
	}
	for i := range r.Entries {
		s, data, err := r.section(i, classes, m)
		if err != nil {
			return err
		}
		for k := range s.Cells {
			s.Cells[k].Label = p.Head[k+2] // after the number and the name
		}
		p.Sections = append(p.Sections, s)
		if p.Map != nil {
			p.Map.Descents[i].Worst, p.Map.Descents[i].Question = s.Worst, s.Question != ""
			if classes.first >= 0 {
				p.Map.Descents[i].Worst = s.Answers[classes.first].Code
			}
		}
		p.Data.Entries = append(p.Data.Entries, data)
		once(&p.Sources, "source ", s.Source)
		once(&p.Reviews, "state ", s.State)
	}
	return nil
}

func (r *Report) section(i int, classes reportClasses, m plot.MapSpace) (reportSection, plot.StationSeries, error) {
	e, v, u := &r.Entries[i].Entry, &r.Entries[i].View, r.Units
	d := &e.Descent
	far, high := wording.LengthUnit(u), wording.HeightUnit(u)
	drawing, data, err := plot.DrawForScreen(e, v, u, m)
	if err != nil {
		return reportSection{}, data, err
	}
	sheet := &Sheet{Entry: *e, Units: u, View: *v, Sites: r.Entries[i].Sites}
	s := reportSection{
		No: i + 1, Index: i, Title: wording.Title(d), Heading: wording.Heading(d), Way: capital(wording.Heading(d)), Profile: drawing,
		Facts: fmt.Sprintf("%s long, drops %s, mean downgrade %s, steepest %s over %s, %s over %s.", u.Length(d.LengthM), u.Height(d.DropM),
			wording.MeanWithBound(d), wording.Steepest(d.Steepest500Pct, d.Steepest500ErrPct), wording.Window(u, 500), wording.Steepest(d.Steepest1000Pct, d.Steepest1000ErrPct), wording.Window(u, 1000)),
		Parts: wording.PartsOfHill(d, u),
		Flags: wording.Plain(strings.Join(d.Flags, ", ")), Question: wording.Plain(e.Review.InQuestion), Review: wording.ReviewLine(e), State: wording.ReviewState(e), Source: wording.SourceLine(e.Provenance),
		Search: strings.ToLower(wording.Plain(d.Name + " " + d.Route + " " + d.ID)), Invented: e.Provenance.Invented,
		Bounds: sheet.bounds(), Places: sheet.places(wording.Unknown, nil, false), Worst: "unknown", Together: together(e, classes.list, u),
	}
	s.SheetWords = wording.Plain(r.Entries[i].SheetWords)
	for _, x := range r.Entries[i].Sheets {
		s.Sheets = append(s.Sheets, sheetImage{template.URL("data:image/svg+xml;base64," + base64.StdEncoding.EncodeToString(x.SVG)), wording.Plain(x.Words)})
	}
	if d.Route != "" && wording.Plain(d.Route) != s.Title {
		s.Way += "; route " + wording.Plain(d.Route) + ", " + d.Direction.String()
	}
	if !math.IsNaN(d.MeanDowngradePct) && !math.IsInf(d.MeanDowngradePct, 0) {
		s.MeanPct = d.MeanDowngradePct
	}
	for _, c := range []struct {
		v        float64
		decimals int
	}{{d.LengthM / far.Factor, 1}, {d.DropM / high.Factor, 0}, {d.MeanDowngradePct, 1}, {catalog.ShownErrPct(d.MeanDowngradeErrPct), 1}, {d.Steepest500Pct, 1}} {
		s.Cells = append(s.Cells, reportCell{Text: wording.FigureText(c.v, c.decimals), Sort: fmt.Sprintf("%.6f", c.v)})
	}
	worst := len(answerCodes)
	for k := range classes.list {
		x, order := answerRow(e, classes.shown[k], classes.list[k].ID, u)
		worst = min(worst, order)
		s.Answers = append(s.Answers, x)
	}
	if worst < len(answerCodes) {
		s.Worst = answerCodes[worst]
	}
	s.Pieces = piecesOf(v, u)
	return s, data, nil
}

// answerCodes mark answers in the page, the worst first.
var answerCodes = []string{"not", "unknown", "dry", "held"}

// answerOrder is an answer's place among the codes.
func answerOrder(a wording.Answer, h *catalog.Hold) int {
	switch {
	case a == wording.NotHeld:
		return 0
	case a == wording.Unknown:
		return 1
	case h.IsDryRoadOnly():
		return 2
	}
	return 3
}

// answerRow is the answer for a class on a descent, with its code.
func answerRow(e *catalog.Entry, c reportClass, id string, u catalog.Units) (reportAnswer, int) {
	a, h, why := wording.AnswerFor(e, id)
	order := answerOrder(a, h)
	x := reportAnswer{Key: c.Key, Class: c.Label, Shown: c.Shown, Code: answerCodes[order], Answer: wording.AnswerWords(a, h), Short: a.String(), Mass: "unknown", Gear: "unknown",
		Levers: "unknown", Speed: "unknown", Roads: "unknown", Limited: "unknown", Heaviest: "unknown", Words: why}
	if h == nil {
		return x, order
	}
	x.Mass, x.Heaviest = u.MassDown(h.MassKg), h.HoldsUpTo(u)
	if a == wording.Unknown {
		return x, order
	}
	x.Limited, x.Words = wording.Plain(h.LimitedBy), wording.Plain(wording.Both{Metric: h.Words.Metric, US: h.Words.US}.In(u))
	if h.Weather != nil {
		x.Words += " For " + h.Weather.Words(u) + "."
	}
	x.Gear, x.Levers, x.Speed, x.Roads = "none", "none", "none", "none"
	if a == wording.Held {
		x.Gear, x.Levers, x.Speed, x.Roads = wording.Plain(h.GearLabel()), wording.Plain(h.StageWords()), u.Speed(h.SpeedMPS), roadsWords(h)
		x.Short = fmt.Sprintf("gear %s, %s, %s", x.Gear, x.Levers, x.Speed)
		if h.IsDryRoadOnly() {
			x.Short = catalog.DryRoadOnly + ": " + x.Short
		}
		x.Short = wording.IfInQuestion(e) + x.Short
	}
	return x, order
}

// roadsWords says on which road surfaces a hold may be used, and on which not.
func roadsWords(h *catalog.Hold) string {
	var yes []string
	for _, s := range h.Surfaces {
		if s.Allowed {
			yes = append(yes, s.Surface)
		}
	}
	t := ""
	if len(yes) > 0 {
		t = wording.Plain(strings.Join(yes, ", "))
	}
	if len(h.SurfacesOut) > 0 {
		t += "; not " + wording.Plain(strings.Join(h.SurfacesOut, ", "))
	}
	if t = strings.TrimPrefix(t, "; "); t == "" {
		return "unknown"
	}
	return t
}

// together summarises the answers of all classes on a descent; its order is by danger, the least
// dangerous first.
func together(e *catalog.Entry, classes []ReportClass, u catalog.Units) reportCell {
	var count [4]int // by code
	slowest := math.Inf(1)
	for _, c := range classes {
		a, h, _ := wording.AnswerFor(e, c.ID)
		count[answerOrder(a, h)]++
		if a == wording.Held {
			slowest = math.Min(slowest, h.SpeedMPS)
		}
	}
	of := fmt.Sprintf(" of %d", len(classes))
	words := "unknown"
	switch held := count[2] + count[3]; {
	case count[0] > 0:
		words = fmt.Sprintf("NOT HELD by %d%s", count[0], of)
	case count[1] > 0 && held > 0:
		words = fmt.Sprintf("unknown for %d%s", count[1], of)
	case count[2] > 0:
		words = fmt.Sprintf("%s for %d%s, slowest %s", catalog.DryRoadOnly, count[2], of, u.Speed(slowest))
	case held > 0:
		words = fmt.Sprintf("held by all %d, slowest %s", len(classes), u.Speed(slowest))
	}
	danger := 1e9*float64(count[0]) + 1e6*float64(count[1]) + 1e3*float64(count[2])
	if !math.IsInf(slowest, 1) {
		danger -= slowest
	}
	return reportCell{Text: words, Sort: fmt.Sprintf("%.3f", danger)}
}
