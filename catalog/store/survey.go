package store

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"math"
	"reflect"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

// Route is what the catalogue keeps of one surveyed road.
type Route struct {
	ID         string  `json:"route"` // the caller's, unique in the catalogue
	Name       string  `json:"name"`
	Ref        string  `json:"ref"`
	LengthM    float64 `json:"length_m"`
	Stations   int     `json:"stations"`
	MissingM   float64 `json:"missing_m"`
	Reliable   bool    `json:"reliable"`
	Unreliable string  `json:"unreliable"`  // why not; empty if Reliable
	LineSHA256 string  `json:"line_sha256"` // of the line as surveyed, see LineSHA256; empty if not known
	SurveyedAt string  `json:"-"`           // when this was saved; given by Routes, not read by Save
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
	Route       Route
	Entries     []catalog.Entry
	Profile     *routes.Profile // the grade line; a stretch of it is kept with each descent
	Tangents    []Tangent
	Sources     []terrain.Source
	Provenance  catalog.Provenance // for entries whose own Provenance.Tool is empty
	ClassesUsed []ClassUsed

	from *carried // what a merge brings along
}

// carried is what entries from another catalogue keep: by index of the entry.
type carried struct {
	slug    string // of the road, in its ids
	samples [][]byte
	gone    []string
	classes []map[string]string // class to fingerprint of its definition
	kinds   []string            // of each source
}

// SaveOptions says how to save a survey.
type SaveOptions struct {
	DryRun bool   // work out the changes, write nothing
	By     string // who asked for it, for the history
	// AcceptMoves takes the new survey also where it lies beyond the bounds of a
	// descent that a person has reviewed. Without it such a descent keeps what
	// was reviewed, and the new survey waits as a proposal.
	AcceptMoves bool
	// RoutesPerCommit is how many routes of a batch are committed together; 0
	// commits every two seconds. A killed batch loses at most these.
	RoutesPerCommit int
}

// check refuses a survey that the catalogue could not give back as it was.
func (rs *RouteSurvey) check() error {
	where := func(i int, err error) error {
		if f, ok := err.(*Fault); ok && f.Feature == "" {
			f.Feature = fmt.Sprintf("route %q", rs.Route.ID)
			if i >= 0 {
				f.Feature += fmt.Sprintf(", descent at %.0f m", rs.Entries[i].Descent.StartM)
			}
		}
		return err
	}
	if rs.Route.ID == "" {
		return &Fault{Kind: terrain.ErrInput, What: "a route without an id", Fix: "give every route an id"}
	}
	for _, part := range []any{rs.Route, rs.Tangents, rs.Sources, rs.Provenance, rs.ClassesUsed} {
		if err := sound(reflect.ValueOf(part), ""); err != nil {
			return where(-1, err)
		}
	}
	for i := range rs.Entries {
		e := &rs.Entries[i]
		if err := sound(reflect.ValueOf(*e), ""); err != nil {
			return where(i, err)
		}
		if err := checkLine(e.Line); err != nil {
			return where(i, err)
		}
		if err := checkState(e.Review.State); err != nil && e.Review.State != "" {
			return where(i, err)
		}
		seen := map[string]bool{}
		for _, h := range e.Holds {
			if h.Class == "" || seen[h.Class] {
				return where(i, &Fault{Kind: catalog.ErrClass, What: fmt.Sprintf("weight class %q twice or without a name", h.Class), Fix: "give each class one hold"})
			}
			seen[h.Class] = true
		}
	}
	return nil
}

func checkLine(line []catalog.Vertex) error {
	if len(line) < 2 || len(line) > maxVertices {
		return &Fault{Kind: catalog.ErrImpossible, What: fmt.Sprintf("a line of %d vertices", len(line)), Fix: "a descent needs at least two"}
	}
	for _, v := range line {
		if !(terrain.Point{LonDeg: v.LonDeg, LatDeg: v.LatDeg}).Valid() {
			p := terrain.Point{LonDeg: v.LonDeg, LatDeg: v.LatDeg}
			return &Fault{Kind: catalog.ErrImpossible, Point: &p, What: "outside ±180 and ±90 degrees", Fix: "check whether longitude and latitude are swapped"}
		}
	}
	return nil
}
