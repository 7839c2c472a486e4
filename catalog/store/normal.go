package store

import (
	"crypto/sha256"
	"encoding/hex"
	"reflect"
	"strings"
	"time"

	"gradeline/catalog"
)

// normal gives an entry the form in which it is stored: times in UTC without a
// monotonic part, the route's id, the route's provenance where it has none,
// no advice as an empty list.
func normal(e catalog.Entry, rs *RouteSurvey) catalog.Entry {
	e.Descent.Route = rs.Route.ID
	if e.Provenance.Tool == "" {
		e.Provenance = rs.Provenance
	}
	e.Provenance.At = utc(e.Provenance.At)
	e.Review.At = utcMS(e.Review.At)
	if e.Holds == nil {
		e.Holds = []catalog.Hold{}
	}
	if e.Review.State == "" {
		e.Review.State = catalog.Surveyed
	}
	return e
}

func utc(t time.Time) time.Time { return t.Round(0).UTC() }

// utcMS is a moment as a DATETIME column can hold it.
func utcMS(t time.Time) time.Time {
	if t.IsZero() {
		return time.Time{}
	}
	return t.UTC().Truncate(time.Millisecond)
}

func momentOf(s string) (time.Time, error) {
	if s == "" {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		// A date that was typed by hand into the reviews table.
		if t, err = time.Parse("2006-01-02", s[:min(10, len(s))]); err != nil {
			return time.Time{}, nil
		}
	}
	return t.UTC(), nil
}

func sameAdvice(old *stored, e *catalog.Entry) bool { return reflect.DeepEqual(old.Holds, e.Holds) }

// sameBasis compares provenance without the moment of the run.
func sameBasis(a, b catalog.Provenance) bool {
	a.At, b.At = time.Time{}, time.Time{}
	return reflect.DeepEqual(a, b)
}

func goneWords(at string) string { return "no longer found by the survey of " + at[:10] }

func shiftWords(s []Shift) string {
	var out []string
	for _, x := range s {
		out = append(out, x.String())
	}
	return strings.Join(out, ", ")
}

func fingerprint(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:])
}
