package terrain

import (
	"errors"
	"fmt"
	"strings"
)

// The kinds of fault, for errors.Is. routes and catalog add their own.
var (
	ErrOutside    = errors.New("outside the terrain")
	ErrVoid       = errors.New("void in the terrain")
	ErrNoCRS      = errors.New("no coordinate reference system")
	ErrUnit       = errors.New("vertical unit")
	ErrMixedDatum = errors.New("two vertical datums")
	ErrRead       = errors.New("cannot read")
	ErrInput      = errors.New("bad input")
)

// Fault is an error that says what is wrong, where, and what to do. It prints
// as one line: "file: feature: station 1200 m: what; fix".
type Fault struct {
	Kind     error  // one of the Err… values; what errors.Is finds
	File     string // as the user named it; empty if none
	Feature  string // "feature 3 (Kestrel Road)", "line 12", …
	StationM *float64
	Point    *Point
	What     string // what is wrong
	Fix      string // what to do
	Err      error  // the cause, if another library gave one
}

func (f *Fault) Error() string {
	var b strings.Builder
	if f.File != "" {
		b.WriteString(f.File + ": ")
	}
	if f.Feature != "" {
		b.WriteString(f.Feature + ": ")
	}
	if f.StationM != nil {
		fmt.Fprintf(&b, "station %.0f m: ", *f.StationM)
	}
	if f.Point != nil {
		fmt.Fprintf(&b, "at longitude %.6f, latitude %.6f: ", f.Point.LonDeg, f.Point.LatDeg)
	}
	switch {
	case f.What != "":
		b.WriteString(f.What)
	case f.Kind != nil:
		b.WriteString(f.Kind.Error())
	}
	if f.Err != nil {
		fmt.Fprintf(&b, " (%s)", strings.ReplaceAll(f.Err.Error(), "\n", " "))
	}
	if f.Fix != "" {
		b.WriteString("; " + f.Fix)
	}
	return b.String()
}

// Unwrap gives the kind and the cause.
func (f *Fault) Unwrap() []error {
	var errs []error
	for _, e := range []error{f.Kind, f.Err} {
		if e != nil {
			errs = append(errs, e)
		}
	}
	return errs
}
