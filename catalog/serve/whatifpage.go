package serve

import (
	"io"
	"net/http"
	"strings"

	"gradeline/catalog"
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
	IsLocal bool // the page can compute answers by itself
	Trouble string
	Code    string
	Words   *whatif.Words
}

// whatIfField is a field with its slider.
type whatIfField struct {
	Name, Label, Value, Unit string
	Least, Most, Step, Start string // of the slider, in Unit
}

func (s *Server) whatIfPage(w http.ResponseWriter, r *http.Request) {
	v := r.URL.Query()
	p := &whatIfView{frame: s.frame(r, "What if"), IsLocal: s.static.has("whatif.wasm")}
	t := whatif.Typed{Class: v.Get("class"), Grade: v.Get("grade"), Length: v.Get("length"), Mass: v.Get("mass"), Retarder: v.Get("retarder"), Temperature: v.Get("temperature"), Altitude: v.Get("altitude"), Posted: v.Get("posted")}
	if t.Class == "" && len(s.opt.Classes) > 0 {
		t.Class = s.opt.Classes[0].ID
	}
	if t.Grade == "" && t.Length == "" {
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
		if a, err = whatif.Ask(q, s.opt.Classes); err == nil {
			p.Code, p.Words = a.Shown.Code, &a.Shown.Metric
			if p.Units == catalog.US {
				p.Words = &a.Shown.US
			}
		}
	}
	if err != nil {
		p.Trouble = wording.Shortened(wording.Plain(err.Error()), 400)
	}
	w.Header().Set("Content-Security-Policy", whatIfPolicy)
	s.show(w, r, http.StatusOK, "whatif", p)
}

// fields are the fields with the ranges of their sliders.
func (p *whatIfView) fields() {
	t := &p.Typed
	p.Fields = []whatIfField{
		{"grade", "Downgrade", t.Grade, "%", "1", "15", "0.1", "6"},
		{"length", "Length", t.Length, "km", "0.5", "30", "0.5", "6"},
		{"mass", "Mass; empty for the class's upper end", t.Mass, "t", "10", "70", "0.5", "36"},
		{"retarder", "Share of the retarder that works; empty for all", t.Retarder, "%", "5", "100", "5", "100"},
		{"temperature", "Air; empty for the standard atmosphere", t.Temperature, "C", "-40", "50", "5", "15"},
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
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(whatif.AskJSON(b, s.opt.Classes))
}
