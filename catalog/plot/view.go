package plot

import (
	"fmt"
	"math"
	"sort"

	"gradeline/catalog"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// ProfileView is a profile in the order of travel, so stations fall where the direction
// is backward. GroundM and State may be nil where only the grade line is known.
type ProfileView struct {
	Title      string
	Subtitle   wording.Both
	Warnings   []string // warnings about the figures
	Caption    []string // small print under the plot
	StationM   []float64
	GroundM    []float64 // NaN where the terrain has no height
	ElevationM []float64 // the grade line; NaN where it is not known
	State      []routes.StationState
	Structures []routes.Structure
	Bound      routes.ErrorModel
	// ErrPct is the 95 % half-width of the mean grade between two stations, in points
	// of per cent; nil where it is not known.
	ErrPct    func(fromM, toM float64) float64
	Direction routes.Direction
	CrestM    float64 // station from which distance is counted
	Marks     []Mark
	DrivesM   [][2]float64 // stretches with a recorded drive, by stations; on a screen only
	Invented  bool
}

// Mark is a place (FromM and ToM equal) or a stretch that is marked on a plot.
type Mark struct {
	Label      wording.Both
	FromM, ToM float64 // stations, in travel
}

// DistanceM is the distance of a station from the crest in travel, negative before it.
func (v *ProfileView) DistanceM(stationM float64) float64 {
	if v.Direction == routes.Backward {
		return v.CrestM - stationM
	}
	return stationM - v.CrestM
}

// ViewFromProfile cuts a descent out of its route's profile, with marginM more at either end where
// the grade line is known; +Inf returns the complete profile. h sets the mark for the gear and may
// be nil.
func ViewFromProfile(p *routes.Profile, e *catalog.Entry, h *catalog.Hold, marginM float64) ProfileView {
	v := viewOf(e, h)
	v.Bound, v.ErrPct = p.BoundOver(e.Descent.StartM, e.Descent.EndM), p.MeanErrPct
	lo, hi := math.Min(e.Descent.StartM, e.Descent.EndM)-marginM, math.Max(e.Descent.StartM, e.Descent.EndM)+marginM
	n := p.Count()
	for k := range n {
		i := k
		if v.Direction == routes.Backward {
			i = n - 1 - k
		}
		s := math.Min(p.StationM(i), p.LengthM)
		if s < lo-1e-6 || s > hi+1e-6 {
			continue
		}
		v.StationM = append(v.StationM, s)
		v.ElevationM = append(v.ElevationM, p.ElevationM[i])
		v.GroundM = append(v.GroundM, p.GroundM[i])
		v.State = append(v.State, p.State[i])
	}
	for _, s := range p.Structures {
		if s.ToM > lo && s.FromM < hi {
			v.Structures = append(v.Structures, s)
		}
	}
	v.trimGaps()
	return v
}

// trimGaps drops the stations at either end where no grade line is known.
func (v *ProfileView) trimGaps() {
	a, b := 0, len(v.ElevationM)
	for a < b && math.IsNaN(v.ElevationM[a]) {
		a++
	}
	for b > a && math.IsNaN(v.ElevationM[b-1]) {
		b--
	}
	v.StationM, v.GroundM, v.ElevationM, v.State = v.StationM[a:b], v.GroundM[a:b], v.ElevationM[a:b], v.State[a:b]
}

// ViewFromEntry makes a view from a catalogue's entry: the grade line at the vertices of its line,
// without the ground.
func ViewFromEntry(e *catalog.Entry, h *catalog.Hold) ProfileView {
	v := viewOf(e, h)
	for i, x := range e.Line {
		if i > 0 && v.DistanceM(x.StationM) <= v.DistanceM(v.StationM[len(v.StationM)-1]) {
			continue // a vertex at the station of the one before it
		}
		v.StationM = append(v.StationM, x.StationM)
		v.ElevationM = append(v.ElevationM, x.ElevationM)
	}
	return v
}

func viewOf(e *catalog.Entry, h *catalog.Hold) ProfileView {
	d := &e.Descent
	v := ProfileView{
		Title: fmt.Sprintf("%s, %s", wording.Title(d), wording.Heading(d)),
		Subtitle: wording.InBoth(func(u catalog.Units) string {
			return fmt.Sprintf("%s long, drops %s, mean downgrade %s (95 %%)", u.Length(d.LengthM), u.Height(d.DropM), wording.MeanWithBound(d))
		}),
		Warnings:  wording.FlagWords(d.Flags),
		Caption:   []string{wording.ReviewLine(e), wording.SourceLine(e.Provenance), catalog.Cautions()[0]},
		Direction: d.Direction, CrestM: d.StartM, Invented: e.Provenance.Invented,
	}
	ahead := 1.0
	if d.Direction == routes.Backward {
		ahead = -1
	}
	stretch := func(label wording.Both, from, lengthM float64) {
		v.Marks = append(v.Marks, Mark{label, from, from + ahead*lengthM})
	}
	stretch(wording.InBoth(func(u catalog.Units) string { return "crest " + u.Height(d.CrestElevationM) }), d.StartM, 0)
	stretch(wording.InBoth(func(u catalog.Units) string { return "foot " + u.Height(d.FootElevationM) }), d.EndM, 0)
	stretch(wording.InBoth(func(u catalog.Units) string {
		return fmt.Sprintf("steepest %s: %s", wording.Window(u, 500), wording.Downgrade(d.Steepest500Pct))
	}), d.Steepest500AtM, math.Min(500, d.LengthM))
	if d.TightestRadiusM != nil && d.TightestRadiusAtM != nil {
		stretch(wording.InBoth(func(u catalog.Units) string { return "tightest curve, radius " + wording.Radius(*d.TightestRadiusM, u) }), *d.TightestRadiusAtM, 0)
	}
	for _, b := range d.Benches {
		label := "bench " + wording.Downgrade(b.MeanDowngradePct)
		if b.MeanDowngradePct < 0 {
			label = "climbs " + wording.Downgrade(-b.MeanDowngradePct)
		}
		v.Marks = append(v.Marks, Mark{wording.AsIs(label), b.StartM, b.EndM})
	}
	if h == nil {
		return v
	}
	if a, _, _ := wording.AnswerFor(e, h.Class); a == wording.Held { // a gear that is in question is not marked
		whose := func(u catalog.Units) string { return wording.Plain(h.Class) + ", up to " + u.MassDown(h.MassKg) }
		stretch(wording.InBoth(func(u catalog.Units) string { return fmt.Sprintf("%s: gear %s in by here", whose(u), h.GearLabel()) }), h.GearByM, 0)
		v.Caption = append(v.Caption, fmt.Sprintf("The gear is that of %s (%s) alone; other classes and masses have their own.", whose(catalog.US), catalog.Metric.MassDown(h.MassKg)))
	}
	return v
}

// check refuses a view whose series do not match.
func (v *ProfileView) check() error {
	n := len(v.StationM)
	what := ""
	switch {
	case n < 2:
		what = "a profile of fewer than two stations cannot be drawn"
	case len(v.ElevationM) != n || v.GroundM != nil && len(v.GroundM) != n || v.State != nil && len(v.State) != n:
		what = "the series of the profile differ in length"
	}
	for i := 1; i < n && what == ""; i++ {
		if !(v.DistanceM(v.StationM[i]) > v.DistanceM(v.StationM[i-1])) {
			what = fmt.Sprintf("station %d of the profile is not ahead of the one before it", i+1)
		}
	}
	if what != "" {
		return &catalog.Fault{Kind: catalog.ErrImpossible, Feature: v.Title, What: what, Fix: "survey the route again"}
	}
	return nil
}

// HeightAt returns the grade line's height at a distance from the crest, NaN outside.
func (v *ProfileView) HeightAt(distanceM float64) float64 {
	n := len(v.StationM)
	i := sort.Search(n, func(i int) bool { return v.DistanceM(v.StationM[i]) >= distanceM-1e-9 })
	if i == n || i == 0 && v.DistanceM(v.StationM[0]) > distanceM+1e-6 {
		return math.NaN()
	}
	x := v.DistanceM(v.StationM[i])
	if i == 0 || math.Abs(x-distanceM) < 1e-6 {
		return v.ElevationM[i]
	}
	x0 := v.DistanceM(v.StationM[i-1])
	t := (distanceM - x0) / (x - x0)
	return v.ElevationM[i-1] + t*(v.ElevationM[i]-v.ElevationM[i-1])
}
