// Package resurvey compares a new survey of a road with an older one. It decides which descents are
// the same hill, which figures moved beyond their bounds, which approvals are put in question, and
// whether the new survey replaces the old one or is proposed. It reads and writes no file: package
// store passes it the catalogue's content and carries out its decisions.
//
// Lengths and stations are metres, grades per cent, bounds 95 % half-widths.
package resurvey

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"math"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

// RouteRecord is the catalogue's record of one surveyed road.
type RouteRecord struct {
	ID         string  `json:"route"` // the caller's, unique in the catalogue
	Title      string  `json:"-"`     // the ID in earlier versions; a catalogue that holds the road under it keeps it
	Name       string  `json:"name"`
	Ref        string  `json:"ref"`
	LengthM    float64 `json:"length_m"`
	Stations   int     `json:"stations"`
	MissingM   float64 `json:"missing_m"`
	Reliable   bool    `json:"reliable"`
	Unreliable string  `json:"unreliable"`  // why not; empty if Reliable
	LineSHA256 string  `json:"line_sha256"` // fingerprint of the line as surveyed, see LineSHA256; empty if not known
	SurveyedAt string  `json:"-"`           // when this was saved; set by the catalogue, not read from a survey
}

// LineSHA256 is a fingerprint of a line's exact coordinates; a changed line puts approvals on it in
// question.
func LineSHA256(line orb.LineString) string {
	b := make([]byte, 0, 16*len(line))
	for _, p := range line {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(p[0]))
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(p[1]))
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// Tangent is an even grade of a route, forward.
type Tangent struct {
	FromM       float64 `json:"from_m"`
	ToM         float64 `json:"to_m"`
	GradePct    float64 `json:"grade_pct"`
	GradeErrPct float64 `json:"grade_err_pct"` // 95 % half-width
}

// ClassUsed is a weight class as it was when its holds were computed.
type ClassUsed struct {
	ID         string
	Definition string // JSON text
}

// RouteSurvey is the result of a survey of one route. Entries need no ids: the catalogue sets them.
// Profile and Tangents may be left out.
type RouteSurvey struct {
	Route       RouteRecord
	Entries     []catalog.Entry
	Profile     *routes.Profile // the grade line; a stretch of it is stored with each descent
	Tangents    []Tangent
	Sources     []terrain.Raster
	Provenance  catalog.Provenance // for entries whose own Provenance.Tool is empty
	ClassesUsed []ClassUsed
	// SteepParts are outside any descent. PossibleSteepM is the length of other road that may be as
	// steep within its bound; nil where the survey did not look for steep parts.
	SteepParts     []catalog.SteepPart
	PossibleSteepM *float64
}
