// Package resurvey says what a new survey of a road means for an older one: which
// descent is which, what moved beyond its bounds, which approvals no longer stand on
// what they stood on, and what is proposed rather than replaced. It reads and writes
// no file: package store gives it what the catalogue holds and does what it decides.
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

// RouteRecord is what the catalogue keeps of one surveyed road.
type RouteRecord struct {
	ID         string  `json:"route"` // the caller's, unique in the catalogue
	Title      string  `json:"-"`     // the ID that earlier versions gave; a catalogue that holds the road under it keeps it
	Name       string  `json:"name"`
	Ref        string  `json:"ref"`
	LengthM    float64 `json:"length_m"`
	Stations   int     `json:"stations"`
	MissingM   float64 `json:"missing_m"`
	Reliable   bool    `json:"reliable"`
	Unreliable string  `json:"unreliable"`  // why not; empty if Reliable
	LineSHA256 string  `json:"line_sha256"` // of the line as surveyed, see LineSHA256; empty if not known
	SurveyedAt string  `json:"-"`           // when this was saved; given by the catalogue, not read from a survey
}

// LineSHA256 is a fingerprint of a line, to the bit; a changed line puts
// approvals on it in question.
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

// ClassUsed is a weight class as it stood when its holds were worked out.
type ClassUsed struct {
	ID         string
	Definition string // JSON text
}

// RouteSurvey is what a survey found on one route. Entries need no ids: the
// catalogue gives them. Profile and Tangents may be left out.
type RouteSurvey struct {
	Route       RouteRecord
	Entries     []catalog.Entry
	Profile     *routes.Profile // the grade line; a stretch of it is kept with each descent
	Tangents    []Tangent
	Sources     []terrain.Raster
	Provenance  catalog.Provenance // for entries whose own Provenance.Tool is empty
	ClassesUsed []ClassUsed
	// SteepParts lie outside any descent. PossibleSteepM is the length of other road that may be as
	// steep within its bound; nil where the survey did not look for steep parts.
	SteepParts     []catalog.SteepPart
	PossibleSteepM *float64
}
