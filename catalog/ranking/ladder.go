package ranking

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/routes"
)

// Rung is one practice grade for a class, with its difficulty explained.
type Rung struct {
	Descent          string           `json:"descent"`
	Name             string           `json:"name"`
	Route            string           `json:"route"`
	Direction        routes.Direction `json:"direction"`
	DifficultyScore  float64          `json:"difficulty_score"`
	Parts            []DifficultyPart `json:"parts"`
	LengthM          float64          `json:"length_m"`
	MeanDowngradePct float64          `json:"mean_downgrade_pct"`
	Steepest500Pct   float64          `json:"steepest_500m_pct"`
	Gear             int              `json:"gear"`
	GearName         string           `json:"gear_name"`
	SurfacesOut      []string         `json:"surfaces_excluded"`
	SpeedMPS         float64          `json:"speed_mps"`
	RetarderUsePct   float64          `json:"retarder_use_pct"`
	OnRetarderS      float64          `json:"on_retarder_s"`
	MarginPct        float64          `json:"margin_pct"` // of the retarder's power, unused
	Easier           string           `json:"easier"`     // id of the rung below; empty at the bottom
	Harder           string           `json:"harder"`
	HarderBy         string           `json:"harder_by"`  // what makes it harder than the rung below; empty at the bottom
	TurnRound        []string         `json:"turn_round"` // places on record to turn or pull out near its ends, in words
	Places           []TurnPlace      `json:"places"`     // the same as data
	Flags            []string         `json:"flags"`
}

// DifficultyPart is one reason for a rung's difficulty. WordsUS is Words for
// readers of feet.
type DifficultyPart struct {
	Kind        string  `json:"kind"` // one of the keys of harderWords
	PointsScore float64 `json:"points_score"`
	Words       string  `json:"words"`
	WordsUS     string  `json:"words_us"`
}

// WordsIn is the reason in a unit system.
func (p *DifficultyPart) WordsIn(u catalog.Units) string {
	if u == catalog.US {
		return p.WordsUS
	}
	return p.Words
}

// TurnPlace is a place on record near a grade where a learner can stop or turn.
type TurnPlace struct {
	Kind     catalog.SiteKind `json:"kind"`
	Name     string           `json:"name"`
	StationM float64          `json:"station_m"`
	Side     string           `json:"side"`
	Where    string           `json:"where"`      // "before the crest", "at the crest", "on the grade", "at the foot" or "past the foot"
	FromEndM float64          `json:"from_end_m"` // to the nearer end
}

// Words names the place and says where it lies, in a unit system.
func (p *TurnPlace) Words(u catalog.Units) string {
	kind := map[catalog.SiteKind]string{catalog.BrakeCheck: "brake check area", catalog.ChainUp: "chain-up area"}[p.Kind]
	if kind == "" {
		kind = string(p.Kind)
	}
	return fmt.Sprintf("%s %s, %s, station %s", kind, p.Name, p.Where, u.Station(p.StationM))
}

// LadderOptions say which grades are fit for practice.
type LadderOptions struct {
	// MarginPct is the share of the top stage's power that must stay unused at the
	// advised speed; 0 is 20. With half its retarder gone the truck must still be
	// held too, in a lower gear. Our own choice.
	MarginPct float64
}

// Ladder puts the descents that a class holds with a margin in order of
// difficulty, easiest first, and says why the others are left out. The points
// are ours, to rank with and not to measure by: one for each per cent of the
// steepest 500 m, one for each five minutes on the retarder, one for each fifth
// of the retarder in use, up to two for the tightest curve, one for each bench. The hardest of the hills given
// is never a practice grade, even where none of them is left out for another reason.
func Ladder(es []catalog.Entry, class string, sites []catalog.Site, o LadderOptions) (rungs []Rung, left []routes.Skipped) {
	if o.MarginPct == 0 {
		o.MarginPct = 20
	}
	left = []routes.Skipped{}
	for i := range es {
		e := &es[i]
		h := holdOf(e, class)
		switch why := unfit(e, h, o); {
		case why != "":
			left = append(left, routes.Skipped{Where: e.Descent.ID, Why: why})
		default:
			rungs = append(rungs, rung(e, h, sites))
		}
	}
	sort.SliceStable(rungs, func(i, j int) bool {
		if rungs[i].DifficultyScore != rungs[j].DifficultyScore {
			return rungs[i].DifficultyScore < rungs[j].DifficultyScore
		}
		return rungs[i].Descent < rungs[j].Descent
	})
	if n := len(rungs); n > 0 && n == len(es) { // every hill is fit, so the hardest of all is among them
		top := rungs[n-1]
		rungs, left = rungs[:n-1], append(left, routes.Skipped{Where: top.Descent, Why: "the hardest hill of those looked at: not for practice"})
	}
	for i := range rungs {
		if i > 0 {
			rungs[i].Easier, rungs[i].HarderBy = rungs[i-1].Descent, harderBy(&rungs[i-1], &rungs[i])
		}
		if i+1 < len(rungs) {
			rungs[i].Harder = rungs[i+1].Descent
		}
	}
	return rungs, left
}

// unfit says why a descent is no practice grade; empty if it is one.
func unfit(e *catalog.Entry, h *catalog.Hold, o LadderOptions) string {
	switch {
	case h == nil:
		return "no answer for this class"
	case !h.Holds:
		return "this truck does not hold it"
	case 100-h.RetarderUsePct < o.MarginPct:
		return fmt.Sprintf("%.0f %% of the retarder in use leaves less than %.0f %% in hand", h.RetarderUsePct, o.MarginPct)
	case !holdsOnHalf(h):
		return "not held with half the retarder"
	case e.Descent.HasFlag(routes.FlagUnreliable):
		return "its grade line is unreliable"
	case e.Descent.HasFlag(routes.FlagAgainstOneWay):
		return "it runs against a one-way road"
	case e.Review.State == catalog.Retired:
		return "retired"
	}
	return ""
}

func rung(e *catalog.Entry, h *catalog.Hold, sites []catalog.Site) Rung {
	d := &e.Descent
	r := Rung{Descent: d.ID, Name: d.Name, Route: d.Route, Direction: d.Direction, LengthM: d.LengthM, MeanDowngradePct: d.MeanDowngradePct,
		Steepest500Pct: d.Steepest500Pct, Gear: h.Gear, GearName: h.GearLabel(), SurfacesOut: append([]string{}, h.SurfacesOut...), SpeedMPS: h.SpeedMPS, RetarderUsePct: h.RetarderUsePct, OnRetarderS: h.TimeS,
		MarginPct: 100 - h.RetarderUsePct, TurnRound: []string{}, Places: turnPlaces(d, sites), Flags: d.Flags}
	for i := range r.Places {
		r.TurnRound = append(r.TurnRound, r.Places[i].Words(catalog.Metric))
	}
	add := func(kind string, points float64, of func(u catalog.Units) string) {
		if points = math.Round(points*10) / 10; points > 0 {
			r.Parts = append(r.Parts, DifficultyPart{kind, points, of(catalog.Metric), of(catalog.US)})
			r.DifficultyScore = math.Round((r.DifficultyScore+points)*10) / 10
		}
	}
	add(partSteep, d.Steepest500Pct, func(u catalog.Units) string {
		if u == catalog.US {
			return fmt.Sprintf("%.1f %% over its steepest 1,600 ft", d.Steepest500Pct)
		}
		return fmt.Sprintf("%.1f %% over its steepest 500 m", d.Steepest500Pct)
	})
	add(partTime, h.TimeS/300, func(catalog.Units) string { return fmt.Sprintf("%.0f minutes on the retarder", h.TimeS/60) })
	add(partUse, h.RetarderUsePct/20, func(catalog.Units) string { return fmt.Sprintf("%.0f %% of the retarder in use", h.RetarderUsePct) })
	if d.TightestRadiusM != nil {
		curve := func(u catalog.Units) string {
			return fmt.Sprintf("a curve of %s radius", metresOrFeet(u, *d.TightestRadiusM))
		}
		switch radiusM := *d.TightestRadiusM; {
		case radiusM < 60:
			add(partCurve, 2, curve)
		case radiusM < 150:
			add(partCurve, 1, curve)
		}
	}
	for _, b := range d.Benches {
		add(partBench, 1, func(u catalog.Units) string {
			return fmt.Sprintf("a bench of %s, with the hill going on after it", metresOrFeet(u, b.LengthM))
		})
	}
	return r
}

// What can make a grade hard.
const (
	partSteep = "steepness"
	partTime  = "time"
	partUse   = "retarder"
	partCurve = "curve"
	partBench = "bench"
)

// harderWords say what a part that is larger than the neighbour's means.
var harderWords = []struct{ kind, words string }{
	{partSteep, "steeper"}, {partTime, "longer on the retarder"}, {partUse, "nearer to the retarder's limit"}, {partCurve, "a tight curve"}, {partBench, "a bench with the hill going on after it"},
}

// harderBy names the parts by which a rung is harder than the one below, those
// that make half a point or more, else the largest.
func harderBy(below, r *Rung) string {
	more, most, words := map[string]float64{}, "", []string{}
	for _, p := range r.Parts {
		more[p.Kind] += p.PointsScore
	}
	for _, p := range below.Parts {
		more[p.Kind] -= p.PointsScore
	}
	best := 0.0
	for _, k := range harderWords {
		if more[k.kind] >= 0.5-1e-9 {
			words = append(words, k.words)
		}
		if more[k.kind] > best+1e-9 {
			best, most = more[k.kind], k.words
		}
	}
	if len(words) == 0 && most != "" {
		words = []string{most}
	}
	if len(words) == 0 {
		return "about as hard"
	}
	return strings.Join(words, ", ")
}

// metresOrFeet writes a length in whole metres, or in feet to 10.
func metresOrFeet(u catalog.Units, lengthM float64) string {
	if u == catalog.US {
		return u.Height(math.Round(lengthM/3.048) * 3.048)
	}
	return u.Height(lengthM)
}

// holdsOnHalf reports whether half the retarder still holds the hill.
func holdsOnHalf(h *catalog.Hold) bool {
	for _, s := range h.Sensitivity {
		if s.Change == holding.ChangeHalfRetarder {
			return s.Holds
		}
	}
	return false
}

// turnPlaces are pullouts, chain-up and brake check areas within 3 km of the
// crest or foot, where a learner can stop or turn.
func turnPlaces(d *routes.Descent, sites []catalog.Site) []TurnPlace {
	const nearM = 3000
	out := []TurnPlace{}
	for _, s := range sites {
		if s.Route != d.Route || s.StationM == nil || s.Kind == catalog.EscapeRamp || s.Kind == catalog.SignStands {
			continue
		}
		if s.Direction != "" && s.Direction != d.Direction.String() {
			continue
		}
		m := math.Min(math.Abs(*s.StationM-d.StartM), math.Abs(*s.StationM-d.EndM))
		if m > nearM {
			continue
		}
		p := TurnPlace{Kind: s.Kind, Name: s.Name, StationM: *s.StationM, Side: s.Side, Where: "on the grade", FromEndM: m}
		switch at := d.TravelFromStationM(*s.StationM); {
		case at < -50:
			p.Where = "before the crest"
		case at <= 50:
			p.Where = "at the crest"
		case at > d.LengthM+50:
			p.Where = "past the foot"
		case at >= d.LengthM-50:
			p.Where = "at the foot"
		}
		out = append(out, p)
	}
	sort.SliceStable(out, func(i, j int) bool {
		return d.TravelFromStationM(out[i].StationM) < d.TravelFromStationM(out[j].StationM)
	})
	return out
}
