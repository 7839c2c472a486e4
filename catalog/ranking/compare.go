package ranking

import (
	"fmt"
	"math"
	"sort"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
)

// Candidate is one way to go: a surveyed route travelled from its first vertex
// to its last, with the descents met in that direction and one hold each.
type Candidate struct {
	Route    string
	LengthM  float64
	Profile  *routes.Profile // nil where only the catalogue is known
	MissingM float64
	Reliable bool
	Entries  []catalog.Entry
}

// Verdict is what a class can do on one candidate.
type Verdict struct {
	Place       int      `json:"place"` // 1 is recommended first
	Route       string   `json:"route"`
	LengthM     float64  `json:"length_m"`
	Holds       bool     `json:"holds"`    // every descent is held
	Unknown     string   `json:"unknown"`  // why parts of it could not be judged; empty if all were
	NotHeld     []string `json:"not_held"` // ids of descents that nothing holds
	Descents    int      `json:"descents"`
	Worst       string   `json:"worst"` // id of the worst descent; empty if there is none
	WorstName   string   `json:"worst_name"`
	SlowestMPS  float64  `json:"slowest_speed_mps"`  // lowest advised speed; 0 without a held descent
	SlowestOn   string   `json:"slowest_on"`         // id of the descent that has it; empty without one
	SlowestBy   string   `json:"slowest_limited_by"` // what sets it there, one of catalog's Limit… values
	OnRetarderS float64  `json:"on_retarder_s"`      // over the held descents
	DropM       float64  `json:"drop_m"`             // of all descents
	ExcessDropM *float64 `json:"excess_drop_m"`      // drop beyond the grade on which the truck rolls freely; null without a profile
	// ExcessInDescentsM is the part of it within the descents, known without a
	// profile too: at least so much is to be carried.
	ExcessInDescentsM float64 `json:"excess_drop_in_descents_m"`
	HeaviestMassKg    float64 `json:"heaviest_mass_kg"` // that every descent holds; 0 without a descent
	MissingM          float64 `json:"missing_m"`
	WhyHere           string  `json:"why"`

	unknownUS string // Unknown for readers of feet, where it names a length
}

// UnknownIn is Unknown in a unit system.
func (v *Verdict) UnknownIn(u catalog.Units) string {
	if u == catalog.US && v.unknownUS != "" {
		return v.unknownUS
	}
	return v.Unknown
}

// Compare judges candidates for one class and puts them in order: those that
// hold everything and are wholly known first, then by less excess drop to carry
// (drop of the descents where no profile is known), then by length. A descent
// without advice for the class counts as not held.
func Compare(c *vehicle.Class, list []Candidate) []Verdict {
	out := []Verdict{}
	for i := range list {
		out = append(out, judge(c, &list[i]))
	}
	sort.SliceStable(out, func(i, j int) bool {
		a, b := &out[i], &out[j]
		switch ra, rb := a.rank(), b.rank(); {
		case ra != rb:
			return ra < rb
		case a.load() != b.load():
			return a.load() < b.load()
		}
		return a.LengthM < b.LengthM
	})
	for i := range out {
		out[i].Place = i + 1
		out[i].WhyHere = out[i].WhyIn(catalog.Metric)
	}
	return out
}

// judge is one candidate without its place.
func judge(c *vehicle.Class, k *Candidate) Verdict {
	v := Verdict{Route: k.Route, LengthM: k.LengthM, Holds: true, Descents: len(k.Entries), MissingM: k.MissingM, NotHeld: []string{}}
	if k.Profile != nil {
		x := excessDropM(k.Profile, c.Truck.RollingResistance)
		v.ExcessDropM = &x
	}
	switch {
	case !k.Reliable:
		v.Unknown = "its grade line is unreliable"
	case k.MissingM > 0:
		v.Unknown = fmt.Sprintf("%.0f m of it have no ground under them", k.MissingM)
		v.unknownUS = fmt.Sprintf("%s of it have no ground under them", catalog.US.Height(k.MissingM))
	}
	var worst *catalog.Hold
	heaviestKg := math.Inf(1)
	for i := range k.Entries {
		e := &k.Entries[i]
		v.DropM += e.Descent.DropM
		v.ExcessInDescentsM += math.Max(0, e.Descent.DropM-c.Truck.RollingResistance*e.Descent.LengthM)
		h := holdOf(e, c.ID)
		if h == nil {
			v.Holds, v.unknownUS, v.Unknown = false, "", fmt.Sprintf("no advice for class %s on %s", c.ID, e.Descent.ID)
			v.NotHeld = append(v.NotHeld, e.Descent.ID)
			heaviestKg = 0
			continue
		}
		heaviestKg = math.Min(heaviestKg, h.HeaviestMassKg)
		if h.Holds {
			v.OnRetarderS += h.TimeS
			// Of two as slow, the one that no curve limits: its retarder would not hold more.
			isTie := h.SpeedMPS == v.SlowestMPS && v.SlowestBy == catalog.LimitCurve
			if v.SlowestMPS == 0 || h.SpeedMPS < v.SlowestMPS || isTie {
				v.SlowestMPS, v.SlowestBy, v.SlowestOn = h.SpeedMPS, h.LimitedBy, e.Descent.ID
			}
		} else {
			v.Holds = false
			v.NotHeld = append(v.NotHeld, e.Descent.ID)
		}
		if worst == nil || h.HeaviestMassKg < worst.HeaviestMassKg {
			worst, v.Worst, v.WorstName = h, e.Descent.ID, e.Descent.Name
		}
		switch {
		case e.Descent.HasFlag(routes.FlagAgainstOneWay):
			v.unknownUS, v.Unknown = "", "it runs against a one-way road at "+e.Descent.ID
		case e.Review.InQuestion != "":
			v.unknownUS, v.Unknown = "", e.Descent.ID+" is in question: "+e.Review.InQuestion
		}
	}
	if !math.IsInf(heaviestKg, 1) {
		v.HeaviestMassKg = heaviestKg
	}
	if !v.Holds {
		v.SlowestMPS, v.OnRetarderS = 0, 0 // a route that is not held has no speed
		v.SlowestBy, v.SlowestOn = "", ""
	}
	return v
}

func holdOf(e *catalog.Entry, class string) *catalog.Hold {
	for i := range e.Holds {
		if e.Holds[i].Class == class {
			return &e.Holds[i]
		}
	}
	return nil
}

// excessDropM is the drop beyond a free-rolling grade: what brakes and retarder
// must carry at walking pace, per unit weight.
func excessDropM(p *routes.Profile, rollingResistance float64) float64 {
	var sum float64
	for i := 0; i+1 < p.Count(); i++ {
		drop := p.ElevationM[i] - p.ElevationM[i+1] - rollingResistance*p.StepM
		if drop > 0 { // false for a gap's NaN, which MissingM tells
			sum += drop
		}
	}
	return sum
}

// rank is 0 held and known, 1 held as far as known, 2 not held.
func (v *Verdict) rank() int {
	switch {
	case !v.Holds:
		return 2
	case v.Unknown != "":
		return 1
	}
	return 0
}

func (v *Verdict) load() float64 {
	if v.ExcessDropM != nil {
		return *v.ExcessDropM
	}
	return v.DropM
}

// WhyIn says why the candidate stands at its place, in a unit system.
func (v *Verdict) WhyIn(u catalog.Units) string {
	switch {
	case !v.Holds:
		return fmt.Sprintf("not held: %d of its %d descents", len(v.NotHeld), v.Descents)
	case v.Unknown != "":
		return "held as far as known; " + v.UnknownIn(u)
	case v.Descents == 0:
		return "no sustained downgrade"
	case v.ExcessDropM != nil:
		return fmt.Sprintf("held throughout; %s of drop for the retarder to carry", u.Height(*v.ExcessDropM))
	}
	return fmt.Sprintf("held throughout; %s of drop in its descents", u.Height(v.DropM))
}
