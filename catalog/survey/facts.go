package survey

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"gradeline/catalog"
	"gradeline/routes"
)

// RouteFacts is the answer about one surveyed route without its descents.
type RouteFacts struct {
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
	SteepParts     []routes.SteepPart `json:"steep_parts"` // outside any descent
	PossibleSteepM float64            `json:"possible_steep_m"`
	Ways           []routes.Way       `json:"ways"` // of the road data, by station
	Drives         []DriveUse         `json:"drives"`
}

// DescentFacts is a descent with the advice for each class.
type DescentFacts struct {
	routes.Descent
	Holds []catalog.Hold `json:"holds"`
}

// factsOf describes a route that was surveyed.
func factsOf(r *Result) RouteFacts {
	p := r.Profile
	f := RouteFacts{Route: r.Route.ID, Name: r.Route.Name, LengthM: p.LengthM, Stations: r.Stations, MissingM: p.MissingM,
		Reliable: p.Reliable, Unreliable: p.Unreliable, CellM: p.CellM, NoiseM: p.Noise.SigmaM, Doubtful: p.Doubtful,
		Structures: p.Structures, InclineNotes: InclineNotes(&r.Route, p), BelowThreshold: r.Near,
		SteepParts: []routes.SteepPart{}, PossibleSteepM: r.PossibleSteepM}
	for i := range r.SteepParts {
		f.SteepParts = append(f.SteepParts, r.SteepParts[i].SteepPart)
	}
	if f.Doubtful == nil {
		f.Doubtful = []routes.Doubt{}
	}
	if f.Ways = r.Route.Ways; f.Ways == nil {
		f.Ways = []routes.Way{}
	}
	if f.Drives = r.Drives; f.Drives == nil {
		f.Drives = []DriveUse{}
	}
	if f.Structures == nil {
		f.Structures = []routes.Structure{}
	}
	if f.BelowThreshold == nil {
		f.BelowThreshold = []routes.Descent{}
	}
	return f
}

// Gaps are the parts of the route's answer that are missing, in words.
func (f *RouteFacts) Gaps() []string {
	var out []string
	if f.MissingM > 0.5 {
		out = append(out, fmt.Sprintf("%s: %.0f m have no known ground", f.Route, f.MissingM))
	}
	if !f.Reliable {
		out = append(out, fmt.Sprintf("%s: unreliable: %s", f.Route, f.Unreliable))
	}
	for _, d := range f.Drives {
		if !d.IsUsed {
			out = append(out, fmt.Sprintf("%s: the %s is not used: %s", f.Route, driveWords(d.File), d.Why))
		}
	}
	for _, d := range f.Doubtful {
		out = append(out, fmt.Sprintf("%s: %.0f to %.0f m is not reliable: %s; tag the structures or check the road", f.Route, d.FromM, d.ToM, d.Why))
	}
	return out
}

// plainJSON is v on one line; facts hold only numbers and text, which always encode.
func plainJSON(v any) []byte {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return []byte("null")
	}
	return bytes.TrimRight(b.Bytes(), "\n")
}

// joinJSON is the elements of a list on a line each, with commas between.
func joinJSON[T any](list []T) []byte {
	var out []byte
	for i := range list {
		if i > 0 {
			out = append(out, ',', '\n')
		}
		out = append(out, plainJSON(list[i])...)
	}
	return out
}

// mustJSON is v as JSON text for checksums and storage; views hold only numbers and text, which
// always encode.
func mustJSON(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		return "{}"
	}
	return string(b)
}

// keptDriveEnd ends the name of a drive that the catalogue keeps.
const keptDriveEnd = " of the catalogue"

// driveWords name a drive: a kept one has the word in its name.
func driveWords(file string) string {
	if strings.HasPrefix(file, "drive ") && strings.HasSuffix(file, keptDriveEnd) {
		return file
	}
	return "drive " + file
}
