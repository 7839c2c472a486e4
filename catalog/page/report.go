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

// Report is what the report is made from; entries keep their order.
type Report struct {
	Title     string
	Units     catalog.Units
	Entries   []ReportEntry
	Routes    []plot.MapRoute
	Classes   []ReportClass   // in the order to show; the entries' own where nil
	Hillshade *plot.Hillshade // may be nil
	Skipped   []routes.Skipped
}

// ReportEntry is a descent with its profile.
type ReportEntry struct {
	Entry catalog.Entry
	View  plot.ProfileView
	// Strip is the strip plan of its signs as SVG, StripWords what it shows; nil where none was asked for.
	Strip      []byte
	StripWords string
}

// ReportClass names a weight class for people.
type ReportClass struct{ ID, Label string }

type reportPage struct {
	Title    string
	Warnings []string
	Count    string
	Map      *plot.Map
	Head     []string
	Classes  []reportClass
	Reviews  []string
	Sections []reportSection
	Skipped  []routes.Skipped
	Cautions []string
	Sources  []string
	Data     reportData
	CSS      template.CSS
	Script   template.JS
	Policy   string
}

// reportClass is a class with the short key that the page knows it by, which
// no name of a user's can spoil.
type reportClass struct{ Key, Label string }

type reportData struct {
	Far     string               `json:"far"`   // the name of a mile or kilometre
	FarM    float64              `json:"far_m"` // and its length
	High    string               `json:"high"`
	HighM   float64              `json:"high_m"`
	Entries []plot.StationSeries `json:"entries"`
}

type reportSection struct {
	No       int
	Index    int
	Title    string
	Way      string
	Heading  string
	Facts    string
	Flags    string
	Question string // why the review is in question; empty where it isn't
	Cells    []reportCell
	Answers  []reportAnswer
	Worst    string     // the worst answer of all classes: "not", "unknown" or "held"
	Together reportCell // what all classes come to
	Search   string
	MeanPct  float64
	Profile  plot.ScreenProfile
	Pieces   []reportPiece
	Review   string
	State    string
	Source   string
	Bounds   string
	Invented bool
	Strip    template.URL // a data: address; empty where there is none
	StripAlt string
}

type reportCell struct {
	Text string
	Sort string // what the column is sorted by: a figure, or the text
}

type reportAnswer struct {
	Key, Class, Code, Answer string
	Short                    string
	Mass, Gear, Stage, Speed string
	Limited, Heaviest, Words string
}

// reportPiece is a row of the table of 100 m pieces.
type reportPiece struct{ From, To, Elevation, Downgrade, Rests string }

var reportTemplate = template.Must(template.ParseFS(pageFiles, "assets/report.html"))

// ReportHTML writes the report as one HTML file that opens offline: map,
// profiles, tables, style and script inside it, and a policy that lets nothing
// be loaded from anywhere and no script run but its own.
func ReportHTML(w io.Writer, r Report) error {
	script, err := pageFiles.ReadFile("assets/report.js")
	if err != nil {
		return err
	}
	css, err := pageFiles.ReadFile("assets/report.css")
	if err != nil {
		return err
	}
	sum := sha256.Sum256(script)
	es := make([]catalog.Entry, len(r.Entries))
	for i := range r.Entries {
		es[i] = r.Entries[i].Entry
	}
	p := reportPage{
		Title: wording.Plain(r.Title), Cautions: catalog.Cautions(), CSS: template.CSS(css), Script: template.JS(script),
		Policy: "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'",
		Data:   reportData{Far: wording.LengthUnit(r.Units).Name, FarM: wording.LengthUnit(r.Units).Factor, High: wording.HeightUnit(r.Units).Name, HighM: wording.HeightUnit(r.Units).Factor, Entries: []plot.StationSeries{}},
	}
	if strings.TrimSpace(p.Title) == "" {
		p.Title = "Sustained downgrades"
	}
	if wording.AnyInvented(es) {
		p.Warnings = append(p.Warnings, wording.InventedBanner)
	}
	for _, s := range r.Skipped {
		p.Skipped = append(p.Skipped, routes.Skipped{Where: wording.Plain(s.Where), Why: wording.Plain(s.Why)})
	}
	var m plot.MapSpace
	if p.Map, m, err = plot.LayMap(plot.MapContents{Routes: r.Routes, Entries: es, Hillshade: r.Hillshade, Units: r.Units}); err != nil {
		return err
	}
	classes := r.Classes
	if classes == nil {
		for _, id := range wording.Classes(es) {
			classes = append(classes, ReportClass{id, id})
		}
	}
	for i, c := range classes {
		label := wording.Plain(c.Label)
		if label == "" {
			label = wording.Plain(c.ID)
		}
		p.Classes = append(p.Classes, reportClass{fmt.Sprintf("c%d", i), label})
	}
	far, high := wording.LengthUnit(r.Units), wording.HeightUnit(r.Units)
	p.Head = []string{"No.", "Descent", "Length, " + far.Name, "Drop, " + high.Name, "Mean, %", "± 95 %", "Steepest " + wording.Window(r.Units, 500) + ", %"}
	seenSource, seenState := map[string]bool{}, map[string]bool{}
	for i := range r.Entries {
		s, data, err := r.section(i, classes, m)
		if err != nil {
			return err
		}
		p.Sections = append(p.Sections, s)
		if p.Map != nil {
			p.Map.Descents[i].Worst = s.Worst
		}
		p.Data.Entries = append(p.Data.Entries, data)
		if !seenSource[s.Source] {
			seenSource[s.Source] = true
			p.Sources = append(p.Sources, s.Source)
		}
		if !seenState[s.State] {
			seenState[s.State] = true
			p.Reviews = append(p.Reviews, s.State)
		}
	}
	return reportTemplate.Execute(w, p)
}

func (r *Report) section(i int, classes []ReportClass, m plot.MapSpace) (reportSection, plot.StationSeries, error) {
	e, v, u := &r.Entries[i].Entry, &r.Entries[i].View, r.Units
	d := &e.Descent
	far, high := wording.LengthUnit(u), wording.HeightUnit(u)
	drawing, data, err := plot.DrawForScreen(e, v, u, m)
	if err != nil {
		return reportSection{}, data, err
	}
	s := reportSection{
		No: i + 1, Index: i, Title: wording.Title(d), Heading: wording.Heading(d), Way: strings.ToUpper(wording.Heading(d)[:1]) + wording.Heading(d)[1:], Profile: drawing,
		Facts: fmt.Sprintf("%s long, drops %s, mean downgrade %s, steepest %s over %s, %s over %s.", u.Length(d.LengthM), u.Height(d.DropM),
			wording.MeanWithBound(d), wording.Downgrade(d.Steepest500Pct), wording.Window(u, 500), wording.Downgrade(d.Steepest1000Pct), wording.Window(u, 1000)),
		Flags: wording.Plain(strings.Join(d.Flags, ", ")), Question: wording.QuestionWords(e), Review: wording.ReviewLine(e), State: wording.ReviewState(e), Source: wording.SourceLine(e.Provenance),
		Search: strings.ToLower(wording.Plain(d.Name + " " + d.Route + " " + d.ID)), Invented: e.Provenance.Invented,
		Bounds: (&Sheet{Entry: *e, Units: u, View: *v}).bounds(),
	}
	if strip := r.Entries[i].Strip; len(strip) > 0 {
		s.Strip = template.URL("data:image/svg+xml;base64," + base64.StdEncoding.EncodeToString(strip))
		s.StripAlt = wording.Plain(r.Entries[i].StripWords)
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
		s.Cells = append(s.Cells, reportCell{wording.FigureText(c.v, c.decimals), fmt.Sprintf("%.6f", c.v)})
	}
	worst := 3
	for k, c := range classes {
		a, h, why := wording.AnswerFor(e, c.ID)
		x := reportAnswer{Key: fmt.Sprintf("c%d", k), Class: wording.Plain(c.Label), Answer: a.String(), Mass: "unknown", Gear: "unknown", Stage: "unknown",
			Speed: "unknown", Limited: "unknown", Heaviest: "unknown", Words: why}
		if x.Class == "" {
			x.Class = wording.Plain(c.ID)
		}
		order := map[wording.Answer]int{wording.NotHeld: 0, wording.Unknown: 1, wording.Held: 2}[a]
		worst = min(worst, order)
		x.Code, x.Short = answerCodes[order], a.String()
		if h != nil {
			x.Mass, x.Heaviest = u.MassDown(h.MassKg), "none"
			if h.HeaviestMassKg > 0 {
				x.Heaviest = u.MassDown(h.HeaviestMassKg)
			}
		}
		switch a {
		case wording.Held:
			x.Gear, x.Stage, x.Speed, x.Limited = fmt.Sprint(h.Gear), fmt.Sprint(h.Stage), u.Speed(h.SpeedMPS), wording.Plain(h.LimitedBy)
			x.Short = fmt.Sprintf("gear %d, %s", h.Gear, u.Speed(h.SpeedMPS))
			x.Words = wording.Plain(wording.Both{Metric: h.Words.Metric, US: h.Words.US}.In(u))
		case wording.NotHeld:
			x.Gear, x.Stage, x.Speed, x.Limited = "none", "none", "none", wording.Plain(h.LimitedBy)
			x.Words = wording.Plain(wording.Both{Metric: h.Words.Metric, US: h.Words.US}.In(u))
		}
		s.Answers = append(s.Answers, x)
	}
	s.Worst = "unknown"
	if worst < 3 {
		s.Worst = answerCodes[worst]
	}
	s.Together = together(e, classes, u)
	for _, b := range v.GradeBars(100) {
		rests := "measured ground"
		if !b.Measured {
			rests = "not on measured ground"
		}
		s.Pieces = append(s.Pieces, reportPiece{far.Figure(b.FromM, 2), far.Figure(b.ToM, 2), high.Figure(v.HeightAt(b.FromM), 0), wording.FigureText(b.DowngradePct, 1), rests})
	}
	return s, data, nil
}

// together says in a few words what all classes can do on a descent; it sorts by
// danger, the least dangerous first.
func together(e *catalog.Entry, classes []ReportClass, u catalog.Units) reportCell {
	count := map[wording.Answer]int{}
	slowest := math.Inf(1)
	for _, c := range classes {
		a, h, _ := wording.AnswerFor(e, c.ID)
		count[a]++
		if a == wording.Held {
			slowest = math.Min(slowest, h.SpeedMPS)
		}
	}
	of := fmt.Sprintf(" of %d", len(classes))
	words := "unknown"
	switch {
	case count[wording.NotHeld] > 0:
		words = fmt.Sprintf("NOT HELD by %d%s", count[wording.NotHeld], of)
	case count[wording.Unknown] > 0 && count[wording.Held] > 0:
		words = fmt.Sprintf("unknown for %d%s", count[wording.Unknown], of)
	case count[wording.Held] > 0:
		words = fmt.Sprintf("held by all %d, slowest %s", len(classes), u.Speed(slowest))
	}
	danger := 1e6*float64(count[wording.NotHeld]) + 1e3*float64(count[wording.Unknown])
	if count[wording.Held] > 0 {
		danger -= slowest
	}
	return reportCell{words, fmt.Sprintf("%.3f", danger)}
}

// answerCodes mark answers in the page, the worst first.
var answerCodes = []string{"not", "unknown", "held"}
