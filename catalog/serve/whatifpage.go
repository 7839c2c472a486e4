package serve

import (
	"encoding/json"
	"io"
	"net/http"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/whatif"
	"gradeline/catalog/wording"
)

// whatIfPolicy lets the page run its program, which is the same code as this server's.
var whatIfPolicy = strings.Replace(policy, "default-src 'self';", "default-src 'self'; script-src 'self' 'wasm-unsafe-eval';", 1)

// whatIfView is the page to try trucks.
type whatIfView struct {
	frame
	Typed   whatif.Typed
	Classes []choice
	Fields  []whatIfField
	IsLocal bool        // the page can compute answers by itself
	Hill    *whatIfHill // the descent whose grade line is used; nil for a plain grade
	Trouble string
	Code    string
	Words   *whatif.Words
}

// whatIfField is a field with its slider.
type whatIfField struct {
	Name, Label, Value, Unit string
	Least, Most, Step, Start string // of the slider, in Unit
}

// whatIfHill is a descent to try trucks on.
type whatIfHill struct {
	ID, Title, Heading, Address, Line string
	Facts                             string
	Question, Harder                  string
	Stored                            []storedAnswer
}

// inQuestion goes before an answer on a descent whose review is in question.
const inQuestion = "IN QUESTION, "

// storedAnswer is the catalogue's answer for one class.
type storedAnswer struct {
	Class, Name, Mass, Code, Answer string
	Is                              bool // of the chosen class
}

func (s *Server) whatIfPage(w http.ResponseWriter, r *http.Request) {
	v := r.URL.Query()
	p := &whatIfView{frame: s.frame(r, "What if"), IsLocal: s.answersInPage()}
	t := whatif.Typed{Class: v.Get("class"), Grade: v.Get("grade"), Length: v.Get("length"), Mass: v.Get("mass"), Retarder: v.Get("retarder"), Temperature: v.Get("temperature"), Altitude: v.Get("altitude"), Posted: v.Get("posted")}
	if t.Class == "" && len(s.opt.Classes) > 0 {
		t.Class = s.opt.Classes[0].ID
	}
	asker, err := s.askerOf(r, p, &t)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if t.Grade == "" && t.Length == "" && !t.OwnLine {
		t.Grade, t.Length = "6%", map[catalog.Units]string{catalog.US: "4mi", catalog.Metric: "6km"}[p.Units]
	}
	p.Typed = t
	for i := range s.opt.Classes {
		k := &s.opt.Classes[i]
		p.Classes = append(p.Classes, choice{k.ID, s.className(k.ID), k.ID == t.Class})
	}
	p.fields()
	q, err := t.Question()
	if err == nil {
		var a *whatif.Answer
		if a, err = asker.Ask(q); err == nil {
			p.Code, p.Words = a.Shown.Code, &a.Shown.Metric
			if p.Units == catalog.US {
				p.Words = &a.Shown.US
			}
			if p.Hill != nil && p.Hill.Question != "" {
				p.Words.Answer = inQuestion + p.Words.Answer
			}
		}
	}
	if err != nil {
		p.Trouble = wording.Shortened(wording.Plain(err.Error()), 400)
	}
	w.Header().Set("Content-Security-Policy", whatIfPolicy)
	s.show(w, r, http.StatusOK, "whatif", p)
}

// answersInPage reports whether the program in the page may answer: it knows the built-in classes only.
func (s *Server) answersInPage() bool { return s.static.has("whatif.wasm") && s.isBuiltIn }

// askerOf answers the questions of a page: on a plain grade, or on the grade line of the descent that
// the address names.
func (s *Server) askerOf(r *http.Request, p *whatIfView, t *whatif.Typed) (*whatif.Asker, error) {
	id := r.URL.Query().Get("descent")
	if id == "" {
		return whatif.NewAsker(s.opt.Classes, nil), nil
	}
	e, err := s.cat.Descent(r.Context(), id)
	if err != nil {
		return nil, err
	}
	line, err := answer.GradeLineOf(r.Context(), s.cat, &e)
	if err != nil {
		return nil, err
	}
	t.OwnLine, t.Grade, t.Length, t.Altitude = true, "", "", ""
	d := &e.Descent
	p.Hill = &whatIfHill{ID: d.ID, Title: wording.Title(d), Heading: wording.Heading(d), Address: descentAddress(d.ID), Line: descentAddress(d.ID) + "/line", Question: wording.QuestionWords(&e),
		Facts: p.Units.Length(d.LengthM) + ", mean downgrade " + wording.MeanWithBound(d) + ", steepest " + wording.Steepest(d.Steepest500Pct, d.Steepest500ErrPct) + " over " + wording.Window(p.Units, 500)}
	if e.Provenance.Invented {
		p.Invented = wording.InventedBanner
	}
	for _, class := range wording.Classes([]catalog.Entry{e}) {
		of := &e
		newer, _, err := s.cat.Harsher(r.Context(), &e, class)
		if err != nil {
			return nil, err
		}
		if newer != nil {
			of, p.Hill.Harder = newer, wording.HarderSurvey
		}
		a := s.answerOf(of, class, p.Units)
		p.Hill.Stored = append(p.Hill.Stored, storedAnswer{class, a.Name, a.Mass, a.Code, a.Answer, class == t.Class})
	}
	return whatif.NewAsker(s.opt.Classes, line), nil
}

// lineJSON sends the grade line of a descent to the program in the page.
func (s *Server) lineJSON(w http.ResponseWriter, r *http.Request) {
	e, err := s.cat.Descent(r.Context(), r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	line, err := answer.GradeLineOf(r.Context(), s.cat, &e)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	b, err := json.Marshal(line)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	writeJSON(w, r, b)
}

// fields are the fields with the ranges of their sliders.
func (p *whatIfView) fields() {
	t := &p.Typed
	defer func() {
		if t.OwnLine { // its grade, length and altitude are those of the line
			p.Fields = p.Fields[2:5]
		}
	}()
	p.Fields = []whatIfField{
		{"grade", "Downgrade", t.Grade, "%", "1", "15", "0.1", "6"},
		{"length", "Length", t.Length, "km", "0.5", "30", "0.5", "6"},
		{"mass", "Mass; empty for the class's upper end", t.Mass, "t", "10", "70", "0.5", "36"},
		{"retarder", "Share of the retarder that works; empty for all", t.Retarder, "%", "5", "100", "5", "100"},
		{"temperature", "Air; empty for the usual weather", t.Temperature, "C", "-40", "50", "5", "15"},
		{"altitude", "Altitude; empty for 1500 m", t.Altitude, "m", "0", "4000", "100", "1500"},
	}
	if p.Units == catalog.US {
		for i, f := range map[int]whatIfField{1: {Unit: "mi", Least: "0.5", Most: "20", Step: "0.5", Start: "4"}, 2: {Unit: "lb", Least: "22000", Most: "154000", Step: "1000", Start: "80000"},
			4: {Unit: "F", Least: "-40", Most: "120", Step: "5", Start: "60"}, 5: {Unit: "ft", Least: "0", Most: "13000", Step: "500", Start: "5000"}} {
			f.Name, f.Label, f.Value = p.Fields[i].Name, p.Fields[i].Label, p.Fields[i].Value
			p.Fields[i] = f
		}
		p.Fields[5].Label = "Altitude; empty for 4,920 ft"
	}
}

// whatIfAnswer answers one question in JSON, for a browser that cannot compute it and for a
// visitor's own trucks.
func (s *Server) whatIfAnswer(w http.ResponseWriter, r *http.Request) {
	b, err := io.ReadAll(r.Body)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	asker, err := s.askerOf(r, &whatIfView{frame: s.frame(r, "")}, &whatif.Typed{})
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(asker.AskJSON(b))
}
