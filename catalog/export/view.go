package export

import (
	"fmt"
	"math"
	"sort"

	"gradeline/catalog"
	"gradeline/routes"
)

// ProfileView is a profile as a driver meets it: everything in travel order,
// so that stations fall where the direction is backward. GroundM and State may
// be nil where only the grade line is known.
type ProfileView struct {
	Title      string
	Subtitle   Both
	Warnings   []string // what a reader must know before trusting the figures
	Caption    []string // small print under the plot
	StationM   []float64
	GroundM    []float64 // NaN where the terrain has no height
	ElevationM []float64 // the grade line; NaN where nothing supports it
	State      []routes.StationState
	Structures []routes.Structure
	Bound      routes.ErrorModel
	// ErrPct is the 95 % half-width of the mean grade between two stations, in points
	// of per cent; nil where it is not known.
	ErrPct    func(fromM, toM float64) float64
	Direction routes.Direction
	CrestM    float64 // station from which distance is counted
	Marks     []Mark
	Invented  bool
}

// Both is a text in both unit systems.
type Both struct{ Metric, US string }

// In gives the text in one of them.
func (b Both) In(u catalog.Units) string {
	if u == catalog.US {
		return b.US
	}
	return b.Metric
}

// inBoth makes a text in both unit systems.
func inBoth(of func(u catalog.Units) string) Both { return Both{of(catalog.Metric), of(catalog.US)} }

// asIs is a text that has no units in it.
func asIs(s string) Both { return Both{s, s} }

// Mark is a place (FromM and ToM equal) or a stretch that a plot points out.
type Mark struct {
	Label      Both
	FromM, ToM float64 // stations, in travel
}

// DistanceM is how far along in travel a station lies from the crest, negative
// before it.
func (v *ProfileView) DistanceM(stationM float64) float64 {
	if v.Direction == routes.Backward {
		return v.CrestM - stationM
	}
	return stationM - v.CrestM
}

// ViewFromProfile cuts a descent out of its route's profile, with marginM more
// at either end. h gives the mark for the gear and may be nil.
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
	return v
}

// ViewFromEntry makes a view from what the catalogue keeps: the grade line at
// the vertices of the entry's line, without the ground under it.
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
		Title: fmt.Sprintf("%s, %s", Title(d), Heading(d)),
		Subtitle: inBoth(func(u catalog.Units) string {
			return fmt.Sprintf("%s long, drops %s, mean downgrade %s (95 %%)", u.Length(d.LengthM), u.Height(d.DropM), meanWithBound(d))
		}),
		Warnings:  FlagWords(d.Flags),
		Caption:   []string{ReviewLine(e), SourceLine(e.Provenance), catalog.Cautions()[0]},
		Direction: d.Direction, CrestM: d.StartM, Invented: e.Provenance.Invented,
	}
	ahead := 1.0
	if d.Direction == routes.Backward {
		ahead = -1
	}
	stretch := func(label Both, from, lengthM float64) {
		v.Marks = append(v.Marks, Mark{label, from, from + ahead*lengthM})
	}
	stretch(inBoth(func(u catalog.Units) string { return "crest " + u.Height(d.CrestElevationM) }), d.StartM, 0)
	stretch(inBoth(func(u catalog.Units) string { return "foot " + u.Height(d.FootElevationM) }), d.EndM, 0)
	stretch(inBoth(func(u catalog.Units) string {
		return fmt.Sprintf("steepest %s: %s", Window(u, 500), downgrade(d.Steepest500Pct))
	}), d.Steepest500AtM, math.Min(500, d.LengthM))
	if d.TightestRadiusM != nil && d.TightestRadiusAtM != nil {
		stretch(inBoth(func(u catalog.Units) string { return "tightest curve, radius " + Radius(*d.TightestRadiusM, u) }), *d.TightestRadiusAtM, 0)
	}
	for _, b := range d.Benches {
		label := "bench " + downgrade(b.MeanDowngradePct)
		if b.MeanDowngradePct < 0 {
			label = "climbs " + downgrade(-b.MeanDowngradePct)
		}
		v.Marks = append(v.Marks, Mark{asIs(label), b.StartM, b.EndM})
	}
	if h == nil {
		return v
	}
	if a, _, _ := AnswerFor(e, h.Class); a == Held { // a gear that nobody should act on is not marked
		whose := func(u catalog.Units) string { return plain(h.Class) + ", up to " + u.MassDown(h.MassKg) }
		stretch(inBoth(func(u catalog.Units) string { return fmt.Sprintf("%s: gear %d in by here", whose(u), h.Gear) }), h.GearByM, 0)
		v.Caption = append(v.Caption, fmt.Sprintf("The gear is that of %s (%s) alone; other classes and masses have their own.", whose(catalog.US), catalog.Metric.MassDown(h.MassKg)))
	}
	return v
}

// check refuses a view whose series don't go together.
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
			what = fmt.Sprintf("station %d of the profile does not lie ahead of the one before it", i+1)
		}
	}
	if what != "" {
		return &catalog.Fault{Kind: catalog.ErrImpossible, Feature: v.Title, What: what, Fix: "survey the route again"}
	}
	return nil
}

// at gives the grade line's height at a distance from the crest, NaN outside.
func (v *ProfileView) at(distanceM float64) float64 {
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

// gradeBar is the downgrade over one piece of the profile.
type gradeBar struct {
	fromM, toM   float64 // distance from the crest
	downgradePct float64 // negative where it climbs; NaN in a gap
	errPct       float64 // 95 % half-width; 0 where not known
	measured     bool    // every station of it rests on the ground
	apart        bool    // the ground lies further from the line than the bound
}

// barStepM is the length of a drawing's grade bars: 100 m, or more on a hill so
// long that bars would run into each other.
func (v *ProfileView) barStepM() float64 {
	lengthM := v.DistanceM(v.StationM[len(v.StationM)-1]) - v.DistanceM(v.StationM[0])
	for _, s := range []float64{100, 200, 500, 1000, 2000, 5000} {
		if lengthM/s <= 150 {
			return s
		}
	}
	return 10000
}

// bars cuts the profile into pieces of stepM, counted from the crest.
func (v *ProfileView) bars(stepM float64) []gradeBar {
	first, last := v.DistanceM(v.StationM[0]), v.DistanceM(v.StationM[len(v.StationM)-1])
	var out []gradeBar
	for k := math.Floor(first / stepM); k*stepM < last-1; k++ {
		a, b := math.Max(first, k*stepM), math.Min(last, (k+1)*stepM)
		if b-a < stepM/5 { // a sliver at an end says nothing about grade
			continue
		}
		out = append(out, gradeBar{a, b, -100 * (v.at(b) - v.at(a)) / (b - a), v.barErrPct(a, b), v.measuredOver(a, b), v.isApart(a, b)})
	}
	return out
}

// barErrPct is the bound of a bar's downgrade, 0 where it is not known.
func (v *ProfileView) barErrPct(fromM, toM float64) float64 {
	if v.ErrPct == nil {
		return 0
	}
	a, b := v.CrestM+fromM, v.CrestM+toM
	if v.Direction == routes.Backward {
		a, b = v.CrestM-fromM, v.CrestM-toM
	}
	if e := v.ErrPct(a, b); e < 1e3 {
		return e
	}
	return 0
}

func (v *ProfileView) measuredOver(fromM, toM float64) bool {
	for i, s := range v.State {
		x := v.DistanceM(v.StationM[i])
		if s != routes.Measured && x >= fromM-1e-6 && x <= toM+1e-6 {
			return false
		}
	}
	return true
}

// isApart reports whether ground and grade line differ over a bar, on average, by
// more than the bound of heights: what a dip under an untagged bridge looks like
// that was not told from the road.
func (v *ProfileView) isApart(fromM, toM float64) bool {
	sum, n := 0.0, 0
	for i, g := range v.GroundM {
		if x := v.DistanceM(v.StationM[i]); x >= fromM-1e-6 && x <= toM+1e-6 && !math.IsNaN(g+v.ElevationM[i]) {
			sum += math.Abs(g - v.ElevationM[i])
			n++
		}
	}
	return n > 0 && v.Bound.ElevationM > 0 && sum/float64(n) > v.Bound.ElevationM
}

// gap is a stretch that does not rest on measured ground, and why.
type gap struct {
	fromM, toM float64 // distance from the crest
	label      string
}

// gaps gives the stretches off the ground: by state where the view has it,
// else by its structures.
func (v *ProfileView) gaps() []gap {
	var out []gap
	if v.State == nil {
		for _, s := range v.Structures {
			a, b := v.DistanceM(s.FromM), v.DistanceM(s.ToM)
			out = append(out, gap{math.Min(a, b), math.Max(a, b), s.Kind.String()})
		}
		return out
	}
	for i := 0; i < len(v.State); i++ {
		if v.State[i] == routes.Measured {
			continue
		}
		j := i
		for j+1 < len(v.State) && v.State[j+1] == v.State[i] {
			j++
		}
		a, b := v.DistanceM(v.StationM[max(0, i-1)]), v.DistanceM(v.StationM[min(len(v.State)-1, j+1)])
		label := v.State[i].String()
		switch v.State[i] {
		case routes.OutsideTerrain:
			label = "no terrain"
		case routes.FoundStructure:
			label = "structure without a tag"
		}
		out = append(out, gap{a, b, label})
		i = j
	}
	return out
}
