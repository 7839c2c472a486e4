package answer

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// OneDescent is one descent of the catalogue with its grade line.
type OneDescent struct {
	Schema   string        `json:"schema"`
	Descent  ListedDescent `json:"descent"`
	Profile  Profile       `json:"profile"`
	Cautions []string      `json:"cautions"`
	// Drives is what kept drives say of the descent; nil where none passes over it.
	Drives *survey.DrivesSay `json:"drives"`

	entry      *catalog.Entry
	structures []routes.Structure
	class      string
}

// Profile is the grade line along a descent, in travel.
type Profile struct {
	StationM   []float64  `json:"station_m"`
	GroundM    []*float64 `json:"ground_m"` // null where the terrain has no height
	ElevationM []*float64 `json:"elevation_m"`
	State      []string   `json:"state"`
}

// ShowDescent is the answer for an entry of a catalogue and a class ("" for every class) with what kept
// drives say, and the view that it is drawn from.
func ShowDescent(ctx context.Context, cat *store.Catalog, e *catalog.Entry, class string) (*OneDescent, plot.ProfileView, error) {
	view, err := ViewOf(ctx, cat, e, catalog.HoldFor(e.Holds, class))
	if err != nil {
		return nil, view, err
	}
	a := NewOneDescent(e, &view, class)
	a.Drives, err = survey.SayDrives(ctx, cat, e)
	return a, view, err
}

// NewOneDescent is the answer for an entry and its view. A class limits the text to its advice,
// with the reasons; "" means the advice for every class.
func NewOneDescent(e *catalog.Entry, view *plot.ProfileView, class string) *OneDescent {
	p := Profile{StationM: view.StationM, GroundM: orNull(view.GroundM), ElevationM: orNull(view.ElevationM), State: []string{}}
	for _, st := range view.State {
		p.State = append(p.State, st.String())
	}
	return &OneDescent{Schema: catalog.Schema, Descent: ListedDescentOf(e), Profile: p, Cautions: catalog.Cautions(), entry: e, structures: view.Structures, class: class}
}

// orNull returns nil for NaN.
func orNull(v []float64) []*float64 {
	out := make([]*float64, len(v))
	for i := range v {
		if !math.IsNaN(v[i]) {
			out[i] = &v[i]
		}
	}
	return out
}

// WriteText writes the figures, the advice and the cautions.
func (a *OneDescent) WriteText(w io.Writer, u catalog.Units) error {
	l := &lines{w: w, units: u}
	d := &a.entry.Descent
	l.banner(a.entry.Provenance.Invented)
	l.printf("%s: %s (%s along the line)\n", d.ID, wording.Title(d), d.Direction)
	l.figures(d, a.structures)
	l.item("%s", wording.ReviewLine(a.entry))
	l.item("%s", wording.SourceLine(a.entry.Provenance))
	if a.Drives != nil {
		for _, words := range a.Drives.Words() {
			l.item("Drives: %s.", words)
		}
	}
	l.printf("\n")
	for i := range a.entry.Holds {
		h := &a.entry.Holds[i]
		if a.class != "" && h.Class != a.class {
			continue
		}
		l.printf("%s at %s: %s\n", h.Class, u.MassDown(h.MassKg), wording.HoldWords(a.entry, h.Class, u))
		l.item("%s", wordsIn(h, u))
		if a.class != "" {
			l.behind(h)
		}
		for _, t := range h.CautionsIn(u) {
			l.item("- %s", t)
		}
	}
	l.cautions(nil)
	return l.err
}

// labelled writes a figure behind its name.
func (l *lines) labelled(label, format string, a ...any) {
	l.printf("  %-18s %s\n", label, fmt.Sprintf(format, a...))
}

// steepestWords is a steepest part's grade with its bound, where the survey stated one.
func steepestWords(downgradePct, errPct float64) string {
	if errPct == 0 {
		return fmt.Sprintf("%.1f %%", downgradePct)
	}
	return catalog.GradeWithBound(downgradePct, errPct)
}

// figures writes what was measured of a descent.
func (l *lines) figures(d *routes.Descent, structures []routes.Structure) {
	u := l.units
	l.labelled("length", "%s (crest at station %s ± %s, foot at %s ± %s)", u.Length(d.LengthM), u.Station(d.StartM), boundWords(d.StartErrM, u), u.Station(d.EndM), boundWords(d.EndErrM, u))
	l.labelled("drop", "%s, from %s to %s", u.Height(d.DropM), u.Height(d.CrestElevationM), u.Height(d.FootElevationM))
	l.labelled("mean downgrade", "%s (95 %%)", catalog.GradeWithBound(d.MeanDowngradePct, d.MeanDowngradeErrPct))
	l.labelled("steepest", "%s over %s, %s over %s, %s over %s", steepestWords(d.Steepest100Pct, d.Steepest100ErrPct), wording.Window(u, 100),
		steepestWords(d.Steepest500Pct, d.Steepest500ErrPct), wording.Window(u, 500), steepestWords(d.Steepest1000Pct, d.Steepest1000ErrPct), wording.Window(u, 1000))
	for _, s := range d.SteepParts {
		l.labelled("steep part", "%s at %s, station %s to %s", u.Length(s.LengthM), catalog.GradeWithBound(s.MeanDowngradePct, s.MeanDowngradeErrPct), u.Station(s.StartM), u.Station(s.EndM))
	}
	if d.PossibleSteepM > 0 {
		l.labelled("may be as steep", "%s more, within the bound", u.Length(d.PossibleSteepM))
	}
	if d.TightestRadiusM != nil {
		l.labelled("tightest curve", "radius %s at station %s", wording.Radius(*d.TightestRadiusM, u), u.Station(*d.TightestRadiusAtM))
	} else {
		l.labelled("tightest curve", "none under %s radius", u.Height(5000))
	}
	for _, b := range d.Benches {
		l.labelled("bench", "%s at %s, station %s to %s", u.Length(b.LengthM), benchGrade(b), u.Station(b.StartM), u.Station(b.EndM))
	}
	for i := range d.GoesOn {
		l.labelled("continues in", "%s", wording.GoesOn(&d.GoesOn[i], u))
	}
	l.labelled("not on ground", "%s interpolated over bridges, tunnels and voids", u.Length(d.InterpolatedM))
	for _, t := range structures {
		if from, to := math.Max(t.FromM, math.Min(d.StartM, d.EndM)), math.Min(t.ToM, math.Max(d.StartM, d.EndM)); from < to {
			l.labelled("structure", "%s, station %s to %s", structureWords(t), u.Station(t.FromM), u.Station(t.ToM))
		}
	}
	l.labelled("crest, foot", "%.5f, %.5f and %.5f, %.5f (longitude, latitude)", d.CrestLonDeg, d.CrestLatDeg, d.FootLonDeg, d.FootLatDeg)
	if len(d.Flags) > 0 {
		l.labelled("flags", "%s", strings.Join(d.Flags, ", "))
	}
}

// structureWords names a structure and its source.
func structureWords(t routes.Structure) string {
	switch {
	case t.Flagged:
		return t.Kind.String() + " by the road data"
	case t.Kind == routes.Tunnel:
		return "tunnel or cut found in the ground, not in the road data: look"
	}
	return "bridge or fill found in the ground, not in the road data: look"
}

// boundWords writes a half-width along the road, rounded up to 10 m or 50 ft.
func boundWords(halfM float64, u catalog.Units) string {
	if u == catalog.US {
		return u.Height(math.Ceil(catalog.FtFromM(halfM)/50) * 50 * catalog.FootM)
	}
	return u.Height(math.Ceil(halfM/10) * 10)
}

func benchGrade(b routes.Bench) string {
	if b.MeanDowngradePct < 0 {
		return fmt.Sprintf("%.1f %% climbing", -b.MeanDowngradePct)
	}
	return fmt.Sprintf("%.1f %% down", b.MeanDowngradePct)
}
