package main

import (
	"fmt"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/table"
	"gradeline/routes"
)

// routeAnswer is one route in the answer of survey.
type routeAnswer struct {
	Route          string             `json:"route"`
	Name           string             `json:"name"`
	LengthM        float64            `json:"length_m"`
	Stations       int                `json:"stations"`
	MissingM       float64            `json:"missing_m"`
	Reliable       bool               `json:"reliable"`
	Unreliable     string             `json:"unreliable"`
	Doubtful       []routes.Doubt     `json:"doubtful"`
	CellM          float64            `json:"cell_m"`
	NoiseM         float64            `json:"noise_sigma_m"`
	Structures     []routes.Structure `json:"structures"`
	InclineNotes   []string           `json:"incline_notes"`
	BelowThreshold []routes.Descent   `json:"just_below_threshold"`
}

// descentAnswer is one descent with its holds, as every JSON answer gives it.
type descentAnswer struct {
	routes.Descent
	Holds []catalog.Hold `json:"holds"`
}

// gaps are the parts of one route's answer that are missing, in words.
func (a *routeAnswer) gaps() []string {
	var out []string
	if a.MissingM > 0.5 {
		out = append(out, fmt.Sprintf("%s: %.0f m have no ground under them", a.Route, a.MissingM))
	}
	if !a.Reliable {
		out = append(out, fmt.Sprintf("%s: unreliable: %s", a.Route, a.Unreliable))
	}
	for _, d := range a.Doubtful {
		out = append(out, fmt.Sprintf("%s: %.0f to %.0f m can't be relied on: %s; tag the structures or look at the road", a.Route, d.FromM, d.ToM, d.Why))
	}
	return out
}

// skipGaps are what was skipped, in words.
func skipGaps(list []routes.Skipped) []string {
	var out []string
	for _, k := range list {
		out = append(out, fmt.Sprintf("%s: skipped: %s", k.Where, k.Why))
	}
	return out
}

func describe(r *survey.Result) routeAnswer {
	a := routeAnswer{Route: r.Route.ID, Name: r.Route.Name, LengthM: r.Profile.LengthM, Stations: r.Stations, MissingM: r.Profile.MissingM,
		Reliable: r.Profile.Reliable, Unreliable: r.Profile.Unreliable, CellM: r.Profile.CellM, NoiseM: r.Profile.Noise.SigmaM,
		Structures: r.Profile.Structures, InclineNotes: survey.InclineNotes(&r.Route, r.Profile), BelowThreshold: r.Near}
	if a.Doubtful = r.Profile.Doubtful; a.Doubtful == nil {
		a.Doubtful = []routes.Doubt{}
	}
	if a.Structures == nil {
		a.Structures = []routes.Structure{}
	}
	if a.BelowThreshold == nil {
		a.BelowThreshold = []routes.Descent{}
	}
	return a
}

// forTable keeps of an entry what the table prints, so that memory stays small
// over a network.
func forTable(e *catalog.Entry) catalog.Entry {
	t := catalog.Entry{Descent: e.Descent, Provenance: catalog.Provenance{Invented: e.Provenance.Invented}}
	if h := holdFor(e, ""); h != nil {
		t.Holds = []catalog.Hold{{Class: h.Class, MassKg: h.MassKg, Holds: h.Holds, Gear: h.Gear, Stage: h.Stage, SpeedMPS: h.SpeedMPS}}
	}
	return t
}

// worst keeps the most dangerous of many entries.
type worst struct {
	entries []catalog.Entry
	seen    int
}

// mostListed is how many descents the table of a survey lists; the catalogue has the rest.
const mostListed = 2000

func (w *worst) add(es ...catalog.Entry) {
	w.seen += len(es)
	w.entries = append(w.entries, es...)
	if len(w.entries) > 2*mostListed {
		w.cut()
	}
}

func (w *worst) cut() {
	slices.SortStableFunc(w.entries, catalog.CompareDanger)
	if len(w.entries) > mostListed {
		w.entries = append([]catalog.Entry(nil), w.entries[:mostListed]...)
	}
}

// table lists them.
func (w *worst) table(u catalog.Units) table.Table {
	w.cut()
	t := listTable(w.entries, u)
	if w.seen > len(w.entries) {
		t.Title = fmt.Sprintf("%d descents; the %d most dangerous", w.seen, len(w.entries))
	}
	return t
}

// waitingFor are the descents that this survey leaves to a person, in words.
func waitingFor(ch *store.Changes) []string {
	var out []string
	for _, m := range ch.Moved {
		if !m.Taken {
			var what []string
			for _, s := range m.Shifts {
				what = append(what, s.String())
			}
			out = append(out, fmt.Sprintf("%s: reviewed, and moved beyond its bounds (%s); the reviewed figures stand until gradeline review %s --accept or --refuse", m.ID, strings.Join(what, "; "), m.ID))
		}
	}
	for _, id := range ch.Gone {
		out = append(out, id+": no longer found; kept until it is retired")
	}
	for _, q := range ch.Questioned {
		out = append(out, q.ID+": its review is in question: "+q.Why)
	}
	return out
}
