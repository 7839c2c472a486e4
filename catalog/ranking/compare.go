package ranking

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// Candidate is one way to go: a surveyed route travelled from its first vertex
// to its last, with the descents met in that direction and one hold each.
type Candidate struct {
	Route    string
	LengthM  float64
	Profile  *routes.Profile // nil where only the catalogue's entries are known
	Limits   []routes.SpeedLimit
	MissingM float64
	Reliable bool
	Entries  []catalog.Entry
	// SteepParts are outside any descent, in the direction of travel.
	SteepParts []routes.SteepPart
}

// CompareOptions set the mass and the order of a comparison.
type CompareOptions struct {
	MassKg float64 // 0: the class's upper end
	Prefer Prefer  // order of candidates with the same surfaces and margin; "" is time
}

// Verdict is the result of a class on one candidate.
type Verdict struct {
	Class       string   `json:"class"`
	MassKg      float64  `json:"mass_kg"`
	Place       int      `json:"place"` // 1 is recommended first
	Route       string   `json:"route"`
	LengthM     float64  `json:"length_m"`
	Held        *bool    `json:"held"`     // null: not known
	Holds       bool     `json:"holds"`    // every descent has advice, and none is known to be not held
	Unknown     string   `json:"unknown"`  // why parts of it could not be judged; empty if all were
	NotHeld     []string `json:"not_held"` // ids of descents that are not held
	Descents    int      `json:"descents"`
	Worst       string   `json:"worst"` // id of the worst descent; empty if there is none
	WorstName   string   `json:"worst_name"`
	SurfacesOut []string `json:"surfaces_excluded"` // on which some descent is not held
	MarginPct   int      `json:"margin_pct"`        // unused share of the retarder on the hardest descent, in steps of ten points; 0 where not held
	TimeS       *float64 `json:"time_s"`            // null where it is not held, or its grade line has gaps
	// TimeAtLeastS is the advised time of its descents, the rest at the class's top speed.
	TimeAtLeastS   float64 `json:"time_at_least_s"`
	PlaceByPrefer  int     `json:"place_by_preference"` // place among those held and known by the preference alone, as route ranks; 0 for others
	SlowestMPS     float64 `json:"slowest_speed_mps"`   // lowest advised speed; 0 without a held descent
	SlowestOn      string  `json:"slowest_on"`          // id of the descent that has it; empty without one
	SlowestBy      string  `json:"slowest_limited_by"`  // its limit, one of catalog's Limit… values
	OnRetarderS    float64 `json:"on_retarder_s"`       // over the held descents
	DropM          float64 `json:"drop_m"`              // of all descents
	Steepest100Pct float64 `json:"steepest_100m_pct"`   // downgrade; that of the descents where no profile is known; 0 where nothing falls
	// ExcessDropM is the drop beyond the grade on which the truck rolls freely; null
	// without a profile.
	ExcessDropM *float64 `json:"excess_drop_m"`
	// ExcessInDescentsM is the part of it within the descents, known even without a profile: a
	// lower limit.
	ExcessInDescentsM float64 `json:"excess_drop_in_descents_m"`
	HeaviestMassKg    float64 `json:"heaviest_mass_kg"` // heaviest mass that every descent allows; 0 without a descent or advice
	MissingM          float64 `json:"missing_m"`
	WhyHere           string  `json:"why"`
	// SteepParts are outside any descent: no class's answer covers them.
	SteepParts []routes.SteepPart `json:"steep_parts"`

	unknownUS string // Unknown in feet, where it names a length
}

// UnknownIn is Unknown in a unit system.
func (v *Verdict) UnknownIn(u catalog.Units) string {
	if u == catalog.US && v.unknownUS != "" {
		return v.unknownUS
	}
	return v.Unknown
}

// IsDryRoadOnly reports whether it is held on a dry road only.
func (v *Verdict) IsDryRoadOnly() bool {
	return v.Holds && slices.Contains(v.SurfacesOut, catalog.SurfaceWet)
}

// Compare judges candidates for one class and orders them: held and known first, then those not
// completely known, then those not held. Those held are ordered by the number of road surfaces
// excluded, by the unused margin in steps of ten points, then by the preference, like ways of a
// network. Those not held are ordered by the heaviest mass that is held.
func Compare(c *vehicle.Class, list []Candidate, o CompareOptions) []Verdict {
	if o.MassKg == 0 {
		o.MassKg = c.MassMaxKg
	}
	out := []Verdict{}
	for i := range list {
		out = append(out, judge(c, &list[i], o.MassKg))
	}
	slices.SortStableFunc(out, func(a, b Verdict) int { return compareVerdicts(&a, &b, o.Prefer) })
	for i := range out {
		out[i].Place = i + 1
		out[i].WhyHere = out[i].WhyIn(catalog.Metric)
	}
	placeByPreference(out, o.Prefer)
	return out
}

// compareVerdicts is the order of Compare.
func compareVerdicts(a, b *Verdict, p Prefer) int {
	if a.rank() != b.rank() {
		return cmp.Compare(a.rank(), b.rank())
	}
	if a.rank() == rankNotHeld {
		return cmp.Or(cmp.Compare(b.HeaviestMassKg, a.HeaviestMassKg), cmp.Compare(len(a.NotHeld), len(b.NotHeld)), cmp.Compare(a.LengthM, b.LengthM))
	}
	return cmp.Or(cmp.Compare(len(a.SurfacesOut), len(b.SurfacesOut)), cmp.Compare(b.MarginPct, a.MarginPct), a.order().compare(b.order(), p))
}

// placeByPreference numbers the candidates that are held and known, by the preference alone.
func placeByPreference(list []Verdict, p Prefer) {
	var known []*Verdict
	for i := range list {
		if list[i].rank() == rankHeld {
			known = append(known, &list[i])
		}
	}
	slices.SortStableFunc(known, func(a, b *Verdict) int { return a.order().compare(b.order(), p) })
	for i, v := range known {
		v.PlaceByPrefer = i + 1
	}
}

// order holds the figures that a preference compares.
func (v *Verdict) order() order {
	o := order{marginStep: v.MarginPct / 10, timeS: v.TimeAtLeastS, lengthM: v.LengthM}
	if v.TimeS != nil {
		o.timeS = *v.TimeS
	}
	return o
}

// judge returns the verdict on one candidate, without its place.
func judge(c *vehicle.Class, k *Candidate, massKg float64) Verdict {
	t := Trip{LengthM: k.LengthM, Entries: k.Entries}
	v := Verdict{Class: c.ID, MassKg: massKg, Route: k.Route, LengthM: k.LengthM, Holds: true, Descents: len(k.Entries), MissingM: k.MissingM, NotHeld: []string{}, SteepParts: append([]routes.SteepPart{}, k.SteepParts...),
		SurfacesOut: t.SurfacesOut(c.ID), MarginPct: 10 * t.MarginStep(c.ID), HeaviestMassKg: t.HeaviestMassKg(c.ID)}
	v.unknownGround(k)
	worst := math.Inf(1)
	for i := range k.Entries {
		v.addDescent(c, &k.Entries[i], &worst)
	}
	if k.Profile != nil {
		x := excessDropM(k.Profile, c.Truck.RollingResistance)
		v.ExcessDropM = &x
		v.Steepest100Pct = math.Max(v.Steepest100Pct, steepestPct(k.Profile, 100))
	}
	restM := k.LengthM
	for i := range k.Entries {
		restM -= k.Entries[i].Descent.LengthM
	}
	v.TimeAtLeastS = v.OnRetarderS + math.Max(0, restM)/TopSpeedMPS(c)
	switch {
	case v.rank() == rankNotHeld: // a route that is not held has no speed
		v.SlowestMPS, v.OnRetarderS, v.TimeAtLeastS = 0, 0, 0
		v.SlowestBy, v.SlowestOn = "", ""
	case v.rank() == rankHeld && k.Profile != nil:
		s := TimeS(k.Profile, k.Limits, k.Entries, c, massKg)
		v.TimeS = &s
	}
	if isHeld := v.rank() == rankHeld; isHeld || v.rank() == rankNotHeld {
		v.Held = &isHeld
	}
	return v
}

// unknownGround names the parts of a candidate without known ground.
func (v *Verdict) unknownGround(k *Candidate) {
	switch {
	case !k.Reliable:
		v.Unknown = "its grade line is unreliable"
	case k.MissingM > 0:
		v.Unknown = fmt.Sprintf("%.0f m of it have no known ground", k.MissingM)
		v.unknownUS = fmt.Sprintf("%s of it have no known ground", catalog.US.Height(k.MissingM))
	}
}

// addDescent adds a descent to the verdict. worstKg is the least of the heaviest masses so far.
func (v *Verdict) addDescent(c *vehicle.Class, e *catalog.Entry, worstKg *float64) {
	d := &e.Descent
	v.DropM += d.DropM
	v.Steepest100Pct = math.Max(v.Steepest100Pct, d.Steepest100Pct)
	v.ExcessInDescentsM += math.Max(0, d.DropM-c.Truck.RollingResistance*d.LengthM)
	a, h, why := wording.AnswerFor(e, c.ID)
	switch {
	case h == nil:
		v.Holds, v.unknownUS, v.Unknown = false, "", fmt.Sprintf("no advice for class %s on %s", c.ID, d.ID)
		if e.Review.InQuestion != "" {
			v.Unknown += ": " + e.Review.InQuestion
		}
		return
	case a == wording.NotHeld:
		v.Holds = false
		v.NotHeld = append(v.NotHeld, d.ID)
	default:
		v.addHeld(h, d.ID)
	}
	if v.Worst == "" || h.HeaviestMassKg < *worstKg {
		*worstKg, v.Worst, v.WorstName = h.HeaviestMassKg, d.ID, d.Name
	}
	switch {
	case d.HasFlag(routes.FlagAgainstOneWay):
		v.unknownUS, v.Unknown = "", "it runs against a one-way road at "+d.ID
	case e.Review.InQuestion != "":
		v.unknownUS, v.Unknown = "", d.ID+" is in question: "+e.Review.InQuestion
	case a == wording.Unknown && v.Unknown == "":
		v.Unknown = d.ID + ": " + why
	}
}

// addHeld adds the time and speed of a descent that is held.
func (v *Verdict) addHeld(h *catalog.Hold, id string) {
	v.OnRetarderS += h.TimeS
	// Of two with the same speed, the one that no curve limits: its retarder would not hold more.
	isTie := h.SpeedMPS == v.SlowestMPS && v.SlowestBy == catalog.LimitCurve
	if v.SlowestMPS == 0 || h.SpeedMPS < v.SlowestMPS || isTie {
		v.SlowestMPS, v.SlowestBy, v.SlowestOn = h.SpeedMPS, h.LimitedBy, id
	}
}

func holdOf(e *catalog.Entry, class string) *catalog.Hold {
	for i := range e.Holds {
		if e.Holds[i].Class == class {
			return &e.Holds[i]
		}
	}
	return nil
}

// excessDropM is the drop beyond a free-rolling grade: the work of brakes and retarder at walking
// pace, per unit weight.
func excessDropM(p *routes.Profile, rollingResistance float64) float64 {
	var sum float64
	for i := 0; i+1 < p.Count(); i++ {
		drop := p.ElevationM[i] - p.ElevationM[i+1] - rollingResistance*p.StepM
		if drop > 0 { // false for NaN in a gap; MissingM reports gaps
			sum += drop
		}
	}
	return sum
}

// steepestPct is the steepest mean downgrade, forward, over spans of at least a length;
// 0 where nothing falls. Spans over a gap don't count: MissingM reports gaps.
func steepestPct(p *routes.Profile, spanM float64) float64 {
	n := max(1, int(math.Ceil(spanM/p.StepM-1e-9)))
	steepest := 0.0
	for i := 0; i+n < p.Count(); i++ {
		if pct := 100 * (p.ElevationM[i] - p.ElevationM[i+n]) / (p.StationM(i+n) - p.StationM(i)); pct > steepest {
			steepest = pct
		}
	}
	return steepest
}

// The ranks of a verdict.
const (
	rankHeld = iota
	rankUnknown
	rankNotHeld
)

// rank is the first key of the order.
func (v *Verdict) rank() int {
	switch {
	case len(v.NotHeld) > 0:
		return rankNotHeld
	case v.Unknown != "":
		return rankUnknown
	}
	return rankHeld
}

// steepWords names the steepest part outside descents; empty without one.
func (v *Verdict) steepWords(u catalog.Units) string {
	if len(v.SteepParts) == 0 {
		return ""
	}
	p := slices.MaxFunc(v.SteepParts, func(a, b routes.SteepPart) int { return cmp.Compare(a.MeanDowngradePct, b.MeanDowngradePct) })
	return fmt.Sprintf("; %s outside descents, the steepest %s for %s", wording.Counted(len(v.SteepParts), "steep part"), catalog.GradeWithBound(p.MeanDowngradePct, p.MeanDowngradeErrPct), u.Length(p.LengthM))
}

// WhyIn gives the reason for the candidate's place, in a unit system.
func (v *Verdict) WhyIn(u catalog.Units) string {
	switch {
	case len(v.NotHeld) > 0:
		return fmt.Sprintf("not held: %d of its %d descents", len(v.NotHeld), v.Descents)
	case v.MissingM >= v.LengthM:
		return "nothing is known of it: no ground under it"
	case v.Unknown != "":
		return "held as far as known; " + v.UnknownIn(u)
	case v.Descents == 0:
		return "no sustained downgrade" + v.steepWords(u)
	case v.ExcessDropM != nil:
		return fmt.Sprintf("held throughout; %s of drop for the retarder to carry", u.Height(*v.ExcessDropM))
	}
	return fmt.Sprintf("held throughout; %s of drop in its descents", u.Height(v.DropM))
}
