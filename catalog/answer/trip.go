package answer

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/table"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/terrain"
)

// TripsAnswer is the gradeline/1 object of a search for ways.
type TripsAnswer struct {
	Schema   string            `json:"schema"`
	Class    string            `json:"class"`
	MassKg   float64           `json:"mass_kg"`
	Prefer   string            `json:"prefer"`
	Trips    []TripAnswer      `json:"trips"`
	Refused  *TripAnswer       `json:"refused"` // the shortest or fastest way if it is not among the trips
	NoWay    string            `json:"no_way"`
	Opens    string            `json:"opens"` // the smallest change that would allow a way
	Blocked  []network.Refusal `json:"blocked"`
	Surveyed int               `json:"surveyed_ways"`
	IsProven bool              `json:"proven"`  // no other way of the network can be better
	GapPct   float64           `json:"gap_pct"` // the most by which another way could be better, where optimality is not proven
	Places   []PlaceAnswer     `json:"places"`
	Network  []NetworkSource   `json:"sources"`
	Skipped  []routes.Skipped  `json:"skipped"`
	Warnings []string          `json:"warnings"`
	Cautions []string          `json:"cautions"`
}

// PlaceAnswer is a requested place and the point of the network that was used for it.
type PlaceAnswer struct {
	AskedDeg  [2]float64 `json:"asked_lon_lat_deg"`
	FoundDeg  [2]float64 `json:"found_lon_lat_deg"`
	DistanceM float64    `json:"distance_m"`
}

// TripAnswer is one way.
type TripAnswer struct {
	Place       int                   `json:"place"` // 1 is best; 0 where it is refused
	LengthM     float64               `json:"length_m"`
	TimeS       *float64              `json:"time_s"` // null where it is not held
	Held        *bool                 `json:"held"`   // null: not known
	Why         string                `json:"why"`
	MarginPct   int                   `json:"margin_pct"` // left of the retarder, in steps of ten points
	HeaviestKg  float64               `json:"heaviest_mass_kg"`
	Descents    []survey.DescentFacts `json:"descents"`
	Ways        []routes.Way          `json:"ways"`
	SurfacesOut []string              `json:"surfaces_excluded"`
	Unstated    network.Unstated      `json:"unstated"`
	LineDeg     [][2]float64          `json:"line"` // GeoJSON coordinates

	trip *survey.Trip
}

// NewTripAnswer describes a way for a class.
func NewTripAnswer(t *survey.Trip, class string, place int) TripAnswer {
	a := TripAnswer{Place: place, LengthM: t.LengthM, Why: t.Why, MarginPct: 10 * t.MarginStep(class), HeaviestKg: t.HeaviestMassKg(class),
		trip: t, Descents: []survey.DescentFacts{}, Ways: notNil(t.Route.Ways), SurfacesOut: t.SurfacesOut(class), Unstated: t.Unstated}
	if !math.IsInf(t.TimeS, 1) {
		a.TimeS = &t.TimeS
	}
	isHeld := len(t.NotHeld(class)) == 0
	if t.IsKnown || !isHeld {
		a.Held = &isHeld
	}
	for i := range t.Entries {
		a.Descents = append(a.Descents, survey.DescentFacts{Descent: t.Entries[i].Descent, Holds: t.Entries[i].Holds})
	}
	for _, p := range t.Route.Line {
		a.LineDeg = append(a.LineDeg, [2]float64{p[0], p[1]})
	}
	return a
}

// FindTrips reads a network and finds ways through the places for one class.
func FindTrips(ctx context.Context, surface terrain.Surface, n survey.NetworkFiles, places []orb.Point, q survey.TripQuery) (*TripsAnswer, error) {
	g, snaps, read, err := n.Graph(ctx, places, q.Vehicle)
	if err != nil {
		return nil, err
	}
	found, err := survey.FindTrips(ctx, surface, g, q)
	if err != nil {
		return nil, err
	}
	a := newTripsAnswer(found, snaps, read, q)
	if s, has := surface.(interface{ Warnings() []string }); has {
		a.Warnings = append(a.Warnings, s.Warnings()...)
	}
	return a, nil
}

// FindTripsIn finds ways through the road network of a catalogue for one class; no
// terrain is read.
func FindTripsIn(ctx context.Context, cat *store.Catalog, places []orb.Point, q survey.TripQuery) (*TripsAnswer, error) {
	k, err := survey.OpenNetwork(ctx, cat, &q.Classes[0], q.MassKg, q.Weather)
	if err != nil {
		return nil, err
	}
	return FindTripsOn(ctx, k, places, q)
}

// FindTripsOn is FindTripsIn on an open network of the query's class and mass.
func FindTripsOn(ctx context.Context, k *survey.KeptNetwork, places []orb.Point, q survey.TripQuery) (*TripsAnswer, error) {
	found, snaps, err := k.FindTrips(ctx, places, q)
	if err != nil {
		return nil, err
	}
	read := &network.Summary{}
	for _, s := range k.Sources {
		read.Extracts = append(read.Extracts, s.Extracts...)
	}
	a := newTripsAnswer(found, snaps, read, q)
	if k.Note != "" {
		a.Warnings = append(a.Warnings, k.Note)
	}
	return a, nil
}

func newTripsAnswer(found *survey.Trips, snaps []network.Snap, read *network.Summary, q survey.TripQuery) *TripsAnswer {
	class := q.Classes[0].ID
	a := &TripsAnswer{Schema: catalog.Schema, Class: class, MassKg: q.Vehicle.MassKg, Prefer: string(q.Prefer), Trips: []TripAnswer{}, NoWay: found.NoWay, Opens: found.Opens,
		Blocked: notNil(found.Blocked), Surveyed: found.Surveyed, IsProven: found.IsProven, GapPct: found.GapPct, Network: sourcesOf(read), Skipped: notNil(read.Skipped),
		Warnings: notNil(read.Warnings()), Cautions: catalog.Cautions(), Places: []PlaceAnswer{}}
	for _, s := range snaps {
		a.Places = append(a.Places, PlaceAnswer{s.Asked, s.Found, s.DistanceM})
	}
	for i := range found.List {
		a.Trips = append(a.Trips, NewTripAnswer(&found.List[i], class, i+1))
	}
	if found.Refused != nil {
		r := NewTripAnswer(found.Refused, class, 0)
		a.Refused = &r
	}
	return a
}

// placeNoteM: a place that is farther from the road that is used for it is named.
const placeNoteM = 100.0

// placeNotes name the places that the ways do not reach.
func placeNotes(list []PlaceAnswer, u catalog.Units) []string {
	var out []string
	for i, p := range list {
		if p.DistanceM < placeNoteM {
			continue
		}
		what := fmt.Sprintf("Via place %d", i)
		switch i {
		case 0:
			what = "The start"
		case len(list) - 1:
			what = "The end"
		}
		out = append(out, fmt.Sprintf("%s is %s from the road that is used for it, at %.5f, %.5f.", what, u.Length(p.DistanceM), p.FoundDeg[0], p.FoundDeg[1]))
	}
	return out
}

// WriteText writes the table of the ways.
func (a *TripsAnswer) WriteText(w io.Writer, u catalog.Units) error {
	return table.WriteText(w, TripsTable(a, u))
}

// TripsTable lists ways for people.
func TripsTable(a *TripsAnswer, u catalog.Units) table.Table {
	t := table.Table{Title: fmt.Sprintf("Ways for %s at %s, best first by %s", a.Class, u.MassDown(a.MassKg), a.Prefer),
		Header: []string{"place", "length", "time", "answer", "descents", "slowest", "margin"}}
	for i := range a.Trips {
		t.Rows = append(t.Rows, tripRow(&a.Trips[i], u))
		t.Notes = append(t.Notes, tripNotes(&a.Trips[i], u)...)
	}
	t.Notes = append(t.Notes, placeNotes(a.Places, u)...)
	if a.Refused != nil {
		t.Notes = append(t.Notes, fmt.Sprintf("Refused: the way that would be best without hills, %s: %s.", u.Length(a.Refused.LengthM), a.Refused.Why))
	}
	if a.NoWay != "" {
		t.Notes = append(t.Notes, "No way: "+a.NoWay+". What would open one: "+a.Opens+".")
	}
	if note := a.proofNote(); note != "" {
		t.Notes = append(t.Notes, note)
	}
	for i := range a.Network {
		t.Notes = append(t.Notes, sourceWords(&a.Network[i]))
	}
	t.Notes = append(t.Notes, a.Cautions...)
	return t
}

// closePct is the gap above which a way is no longer reported as equal to the best.
const closePct = 1.0

// IsClose reports whether no other way can be better by more than one per cent.
func (a *TripsAnswer) IsClose() bool {
	return a.IsProven || len(a.Trips) > 0 && a.GapPct <= closePct
}

// IsRefusedUnread reports whether the way that would be best without hills could not be read, so that
// nobody knows whether it is the better one.
func (a *TripsAnswer) IsRefusedUnread() bool {
	return a.Refused != nil && a.Refused.trip != nil && a.Refused.trip.Profile == nil
}

// proofNote states the distance of the best way from the optimum, where optimality is not proven.
func (a *TripsAnswer) proofNote() string {
	switch {
	case a.IsProven:
		return ""
	case a.IsClose():
		return fmt.Sprintf("No other way can be better by more than %.1f %%.", math.Ceil(a.GapPct*10)/10)
	}
	return fmt.Sprintf("The search stopped after %d surveyed ways: a better one may exist.", a.Surveyed)
}

func tripRow(t *TripAnswer, u catalog.Units) []any {
	answer, slowest, time := t.answerWords(), math.Inf(1), "unknown"
	for _, d := range t.Descents {
		for _, h := range d.Holds {
			if h.Holds {
				slowest = math.Min(slowest, h.SpeedMPS)
			}
		}
	}
	speed := "none"
	if !math.IsInf(slowest, 1) {
		speed = u.Speed(slowest)
	}
	if t.TimeS != nil {
		minutes := int(math.Ceil(*t.TimeS / 60))
		time = fmt.Sprintf("%d:%02d h", minutes/60, minutes%60)
	}
	return []any{t.Place, u.Length(t.LengthM), time, answer, len(t.Descents), speed, fmt.Sprintf("%d %%", t.MarginPct)}
}

// Code is the answer of a way as a short code: "not", "unknown", "dry" or "held".
func (t *TripAnswer) Code() string {
	switch t.answerWords() {
	case "unknown":
		return "unknown"
	case "NOT HELD":
		return "not"
	case catalog.DryRoadOnly:
		return "dry"
	}
	return "held"
}

// answerWords is the answer of a way. Dry road only is in capitals, like not held.
func (t *TripAnswer) answerWords() string {
	switch {
	case t.Held == nil:
		return "unknown"
	case !*t.Held:
		return "NOT HELD"
	case slices.Contains(t.SurfacesOut, catalog.SurfaceWet):
		return catalog.DryRoadOnly
	}
	return "held"
}

// tripNotes are the hills of a way in order, and what the road data does not state.
func tripNotes(t *TripAnswer, u catalog.Units) []string {
	var out []string
	for _, d := range t.Descents {
		advice := "no advice"
		if len(d.Holds) > 0 {
			advice = adviceWords(&d.Holds[0], u)
		}
		out = append(out, fmt.Sprintf("%d. at %s: %s of %.1f %%, drop %s: %s.", t.Place, u.Length(d.StartM), u.Length(d.LengthM), d.MeanDowngradePct, u.Height(d.DropM), advice))
	}
	for _, words := range unstatedWords(t, u) {
		out = append(out, fmt.Sprintf("%d. %s", t.Place, words))
	}
	return out
}

// TripsFile writes the trips in the form that a file's name asks for: GPX by .gpx, else
// GeoJSON.
func TripsFile(w io.Writer, path string, a *TripsAnswer) error {
	if strings.EqualFold(filepath.Ext(path), ".gpx") {
		return TripsGPX(w, a)
	}
	return TripsGeoJSON(w, a)
}

// TripsGeoJSON writes the trips as features, best first.
func TripsGeoJSON(w io.Writer, a *TripsAnswer) error {
	type feature struct {
		Type       string         `json:"type"`
		Properties map[string]any `json:"properties"`
		Geometry   map[string]any `json:"geometry"`
	}
	out := struct {
		Type     string          `json:"type"`
		Schema   string          `json:"schema"`
		Cautions []string        `json:"cautions"`
		Sources  []NetworkSource `json:"sources"`
		Features []feature       `json:"features"`
	}{"FeatureCollection", a.Schema, a.Cautions, notNil(a.Network), []feature{}}
	for i := range a.Trips {
		t := &a.Trips[i]
		out.Features = append(out.Features, feature{"Feature",
			map[string]any{"place": t.Place, "class": a.Class, "mass_kg": a.MassKg, "length_m": t.LengthM, "time_s": t.TimeS, "held": t.Held, "why": t.Why, "answer": t.answerWords(),
				"descents": len(t.Descents), "surfaces_excluded": t.SurfacesOut},
			map[string]any{"type": "LineString", "coordinates": t.LineDeg}})
	}
	return json.NewEncoder(w).Encode(out)
}

// Said are the warnings, notes and gaps of an answer, a line each. isWhole is false without a way,
// where the best one has unknown stretches, and where a better one could not be read.
func (a *TripsAnswer) Said() (lines []string, isWhole bool) {
	for _, w := range a.Warnings {
		lines = append(lines, "warning: "+w)
	}
	for _, k := range a.Skipped {
		lines = append(lines, "note: "+k.Where+": "+k.Why)
	}
	switch {
	case len(a.Trips) == 0:
		return append(lines, "gap: no way: "+a.NoWay), false
	case a.IsRefusedUnread():
		return append(lines, "gap: the way that would be best without hills: "+a.Refused.Why), false
	}
	return lines, a.IsClose() && a.Trips[0].Held != nil
}
