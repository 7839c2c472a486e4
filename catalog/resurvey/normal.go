package resurvey

import (
	"crypto/sha256"
	"encoding/hex"
	"reflect"
	"strings"
	"time"

	"gradeline/catalog"
)

// AsStored gives an entry the form in which it is stored: times in UTC without a
// monotonic part, the route's id, the route's provenance where it has none,
// no advice as an empty list.
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

// utcMillis is a moment as the catalogue can hold it.
func utcMillis(t time.Time) time.Time {
	if t.IsZero() {
		return time.Time{}
	}
	return t.UTC().Truncate(time.Millisecond)
}

func utc(t time.Time) time.Time { return t.Round(0).UTC() }

// SameAdvice reports whether a survey gives the advice that the catalogue holds.
func SameAdvice(old *Stored, e *catalog.Entry) bool { return reflect.DeepEqual(old.Holds, e.Holds) }

// sameBasis compares provenance without the moment of the run.
func sameBasis(a, b catalog.Provenance) bool {
	a.At, b.At = time.Time{}, time.Time{}
	return reflect.DeepEqual(a, b)
}

// GoneWords says what a survey did not find.
func GoneWords(at string) string { return "no longer found by the survey of " + at[:10] }

// GoneQuestion is what puts a descent in question that was no longer found; empty where it was.
func GoneQuestion(goneSince string) string {
	if goneSince == "" {
		return ""
	}
	return "no longer found since the survey of " + goneSince[:min(10, len(goneSince))]
}

// ShiftWords says in words what moved.
func ShiftWords(s []Shift) string {
	var out []string
	for _, x := range s {
		out = append(out, x.String())
	}
	return strings.Join(out, ", ")
}

// Fingerprint tells two versions of a definition apart.
func Fingerprint(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:])
}
