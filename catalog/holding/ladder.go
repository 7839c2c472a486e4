package holding

import (
	"fmt"
	"math"
	"sort"

	"gradeline/catalog"
	"gradeline/routes"
)

// changeHalfRetarder names the change of the sensitivity table that a practice
// grade must survive.
const changeHalfRetarder = "half the retarder"

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
	SpeedMPS         float64          `json:"speed_mps"`
	RetarderUsePct   float64          `json:"retarder_use_pct"`
	OnRetarderS      float64          `json:"on_retarder_s"`
	MarginPct        float64          `json:"margin_pct"` // of the retarder's power, unused
	Easier           string           `json:"easier"`     // id of the rung below; empty at the bottom
	Harder           string           `json:"harder"`
	TurnRound        []string         `json:"turn_round"` // places on record to turn or pull out near its ends
	Flags            []string         `json:"flags"`
}

// DifficultyPart is one reason for a rung's difficulty.
type DifficultyPart struct {
	PointsScore float64 `json:"points_score"`
	Words       string  `json:"words"`
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
// of the retarder in use, up to two for the tightest curve, one for each bench.
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
	for i := range rungs {
		if i > 0 {
			rungs[i].Easier = rungs[i-1].Descent
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
		Steepest500Pct: d.Steepest500Pct, Gear: h.Gear, SpeedMPS: h.SpeedMPS, RetarderUsePct: h.RetarderUsePct, OnRetarderS: h.TimeS,
		MarginPct: 100 - h.RetarderUsePct, TurnRound: turnRound(d, sites), Flags: d.Flags}
	add := func(points float64, format string, a ...any) {
		if points = math.Round(points*10) / 10; points > 0 {
			r.Parts = append(r.Parts, DifficultyPart{points, fmt.Sprintf(format, a...)})
			r.DifficultyScore = math.Round((r.DifficultyScore+points)*10) / 10
		}
	}
	add(d.Steepest500Pct, "%.1f %% over its steepest 500 m", d.Steepest500Pct)
	add(h.TimeS/300, "%.0f minutes on the retarder", h.TimeS/60)
	add(h.RetarderUsePct/20, "%.0f %% of the retarder in use", h.RetarderUsePct)
	if d.TightestRadiusM != nil {
		switch radiusM := *d.TightestRadiusM; {
		case radiusM < 60:
			add(2, "a curve of %.0f m radius", radiusM)
		case radiusM < 150:
			add(1, "a curve of %.0f m radius", radiusM)
		}
	}
	for _, b := range d.Benches {
		add(1, "a bench of %.0f m, with the hill going on after it", b.LengthM)
	}
	return r
}

// holdsOnHalf reports whether half the retarder still holds the hill.
func holdsOnHalf(h *catalog.Hold) bool {
	for _, s := range h.Sensitivity {
		if s.Change == changeHalfRetarder {
			return s.Holds
		}
	}
	return false
}

// turnRound names pullouts, chain-up and brake check areas within 3 km of the
// crest or foot, where a learner can stop or turn.
func turnRound(d *routes.Descent, sites []catalog.Site) []string {
	const nearM = 3000
	out := []string{}
	for _, s := range sites {
		if s.Route != d.Route || s.StationM == nil || s.Kind == catalog.EscapeRamp || s.Kind == catalog.SignStands {
			continue
		}
		if s.Direction != "" && s.Direction != d.Direction.String() {
			continue
		}
		if m := math.Min(math.Abs(*s.StationM-d.StartM), math.Abs(*s.StationM-d.EndM)); m <= nearM {
			out = append(out, fmt.Sprintf("%s %s at station %.0f m", s.Kind, s.Name, *s.StationM))
		}
	}
	return out
}
