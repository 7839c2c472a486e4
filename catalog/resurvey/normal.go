package resurvey

import (
	"crypto/sha256"
	"encoding/hex"
	"reflect"
	"strings"
	"time"

	"gradeline/catalog"
)

// AsStored returns an entry in the form in which it is stored: times in UTC without a monotonic
// part, the route's id, the route's provenance where it has none, no advice as an empty list.
func AsStored(e catalog.Entry, rs *RouteSurvey) catalog.Entry {
	e.Descent.Route = rs.Route.ID
	if e.Provenance.Tool == "" {
		e.Provenance = rs.Provenance
	}
	e.Provenance.At = utc(e.Provenance.At)
	e.Review.At = utcMillis(e.Review.At)
	if e.Holds == nil {
		e.Holds = []catalog.Hold{}
	}
	if e.Review.State == "" {
		e.Review.State = catalog.Surveyed
	}
	return e
}

// utcMillis is a time in the precision of the catalogue.
func utcMillis(t time.Time) time.Time {
	if t.IsZero() {
		return time.Time{}
	}
	return t.UTC().Truncate(time.Millisecond)
}

func utc(t time.Time) time.Time { return t.Round(0).UTC() }

// SameAdvice reports whether a survey has the same advice as the catalogue.
func SameAdvice(old *Stored, e *catalog.Entry) bool { return reflect.DeepEqual(old.Holds, e.Holds) }

// sameBasis compares provenance without the time of the run.
func sameBasis(a, b catalog.Provenance) bool {
	a.At, b.At = time.Time{}, time.Time{}
	return reflect.DeepEqual(a, b)
}

// GoneWords describes a descent that a survey did not find.
func GoneWords(at string) string { return "no longer found by the survey of " + at[:10] }

// GoneQuestion is the question about a descent that was no longer found; empty where it was found.
func GoneQuestion(goneSince string) string {
	if goneSince == "" {
		return ""
	}
	return "no longer found since the survey of " + goneSince[:min(10, len(goneSince))]
}

// ShiftWords lists shifts in words.
func ShiftWords(s []Shift) string {
	var out []string
	for _, x := range s {
		out = append(out, x.String())
	}
	return strings.Join(out, ", ")
}

// Fingerprint identifies a version of a definition.
func Fingerprint(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:])
}
