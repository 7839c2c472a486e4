package store

import (
	"fmt"
	"reflect"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/terrain"
)

// LineSHA256 is a fingerprint of a line, to the bit; a changed line puts
// approvals on it in question.
func LineSHA256(line orb.LineString) string { return resurvey.LineSHA256(line) }

// ClassSHA256 is the fingerprint of a class's definition.
func ClassSHA256(definition string) string { return resurvey.Fingerprint(definition) }

// carried is the data that entries from another catalogue keep, by index of the entry.
type carried struct {
	slug    string // of the road, in its ids
	samples [][]byte
	gone    []string
	classes []map[string]string // class to fingerprint of its definition
	kinds   []string            // of each source
}

// SaveOptions set how a survey is saved.
type SaveOptions struct {
	DryRun bool   // work out the changes, write nothing
	By     string // who saves it, for the history
	// AcceptMoves accepts the new survey even where it is beyond the bounds of a descent that a
	// person has reviewed. Without it such a descent keeps the reviewed figures, and the new survey
	// waits as a proposal.
	AcceptMoves bool
	// RoutesPerCommit is the number of routes of a batch that are committed together; 0
	// commits every two seconds. A killed batch loses at most these.
	RoutesPerCommit int
}

// checkSurvey refuses a survey that the catalogue could not restore exactly.
func checkSurvey(rs *RouteSurvey) error {
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
	for _, part := range []any{&rs.Route, &rs.Tangents, &rs.Sources, &rs.Provenance, &rs.ClassesUsed} {
		if err := gpkg.CheckSound(reflect.ValueOf(part), ""); err != nil {
			return where(-1, err)
		}
	}
	if err := checkSteepParts(rs); err != nil {
		return where(-1, err)
	}
	for i := range rs.Entries {
		e := &rs.Entries[i]
		if err := gpkg.CheckSound(reflect.ValueOf(e), ""); err != nil {
			return where(i, err)
		}
		if err := gpkg.CheckLine(e.Line); err != nil {
			return where(i, err)
		}
		if err := checkState(e.Review.State); err != nil && e.Review.State != "" {
			return where(i, err)
		}
		if err := checkClasses(e.Holds); err != nil {
			return where(i, err)
		}
	}
	return nil
}

// checkClasses refuses holds of a class without a name, and two of one class.
func checkClasses(holds []catalog.Hold) error {
	for i := range holds {
		class := holds[i].Class
		isTwice := false
		for k := range i {
			isTwice = isTwice || holds[k].Class == class
		}
		if class == "" || isTwice {
			return &Fault{Kind: catalog.ErrClass, What: fmt.Sprintf("weight class %q twice or without a name", class), Fix: "give each class one hold"}
		}
	}
	return nil
}
