package ranking

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

// LadderOptions set which grades are fit for practice.
type LadderOptions struct {
	// MarginPct is the share of the top stage's power that must stay unused at the
	// advised speed; 0 is 20. The truck must also be held with half its retarder
	// failed, in a lower gear. Our own choice.
	MarginPct float64
	// Slower are holds of the class by descent id that keep the margin, in a lower gear than the
	// usual hold. They are used where the usual hold leaves less than the margin.
	Slower map[string]catalog.Hold
	// TrafficPerDay is the annual average daily traffic by descent id, where it is known.
	TrafficPerDay map[string]float64
}

// Ladder puts the descents that a class holds with a margin in order of difficulty,
// easiest first, and says why the others are left out. The points are our own, to rank
// and not to measure: one for each per cent of the steepest 500 m, one for each five
// minutes on the retarder, one for each fifth of the retarder in use, up to two for the
// tightest curve, one for each bench, one for each 5,000 vehicles a day up to three
// where traffic is given. Where places are on record at all, there is half a point each
// for no place to stop before the crest, on the grade or after the foot, and for no
// escape ramp. The hardest of the given hills by these points is never a practice
// grade, whether others are left out as too hard or not.
func Ladder(es []catalog.Entry, class string, sites []catalog.Site, o LadderOptions) (rungs []Rung, left []routes.Skipped) {
	if o.MarginPct == 0 {
		o.MarginPct = 20
	}
	left = []routes.Skipped{}
	hardest := 0.0 // of those left out as too hard, in points
	for i := range es {
		e := &es[i]
		h, page := holdInHand(e, class, o)
		why, isHarder := unfit(e, h, holdOf(e, class), o)
		if why != "" {
			left = append(left, routes.Skipped{Where: e.Descent.ID, Why: why})
			if isHarder {
				hardest = max(hardest, pointsOf(e, h, sites, o))
			}
			continue
		}
		rungs = append(rungs, newRung(e, h, page, sites, o))
	}
	sort.SliceStable(rungs, func(i, j int) bool {
		if rungs[i].DifficultyScore != rungs[j].DifficultyScore {
			return rungs[i].DifficultyScore < rungs[j].DifficultyScore
		}
		return rungs[i].Descent < rungs[j].Descent
	})
	if n := len(rungs); n > 0 && rungs[n-1].DifficultyScore > hardest { // the hardest hill is among them
		top := rungs[n-1]
		rungs, left = rungs[:n-1], append(left, routes.Skipped{Where: top.Descent, Why: "the hardest of these hills: not for practice"})
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

// pointsOf is the difficulty of a hill that is left out: beyond any where the truck is not held.
func pointsOf(e *catalog.Entry, h *catalog.Hold, sites []catalog.Site, o LadderOptions) float64 {
	if h == nil || !h.Holds {
		return math.Inf(1)
	}
	r := newRung(e, h, nil, sites, o)
	return r.DifficultyScore
}

// holdInHand is the class's hold on an entry. Where that leaves less than the margin, it is the
// slower hold that leaves it, together with the hold of the driver's page.
func holdInHand(e *catalog.Entry, class string, o LadderOptions) (h, page *catalog.Hold) {
	h = holdOf(e, class)
	if h == nil || !h.Holds || 100-h.RetarderUsePct >= o.MarginPct {
		return h, nil
	}
	if slower, ok := o.Slower[e.Descent.ID]; ok && slower.Holds && 100-slower.RetarderUsePct >= o.MarginPct && slower.SpeedMPS < h.SpeedMPS {
		return &slower, h
	}
	return h, nil
}

// unfit says why a descent is not a practice grade, empty if it is one, and whether the reason is
// that it is too hard. own is the hold of the driver's page.
func unfit(e *catalog.Entry, h, own *catalog.Hold, o LadderOptions) (why string, isHarder bool) {
	switch {
	case h == nil:
		return "no answer for this class", false
	case e.Review.State == catalog.Retired:
		return "retired", false
	case !h.Holds:
		return "this truck does not hold it", true
	case 100-h.RetarderUsePct < o.MarginPct:
		why = fmt.Sprintf("%.0f %% of the retarder in use leaves less than %.0f %% in reserve", h.RetarderUsePct, o.MarginPct)
		if _, isTried := o.Slower[e.Descent.ID]; isTried {
			why += ", and no lower gear leaves enough"
		}
		return why, true
	case !holdsOnHalf(own):
		return "not held with half the retarder", true
	case e.Descent.HasFlag(routes.FlagUnreliable):
		return "its grade line is unreliable", false
	case e.Descent.HasFlag(routes.FlagAgainstOneWay):
		return "it runs against a one-way road", false
	case e.Review.InQuestion != "":
		return "in question: " + e.Review.InQuestion, false
	}
	return "", false
}

// ParseTraffic reads a descent and its traffic, as in "some-road-f-1.5=4200": vehicles a day in both
// directions together.
func ParseTraffic(text string) (string, float64, error) {
	descent, count, _ := strings.Cut(text, "=")
	vehicles, err := strconv.ParseFloat(count, 64)
	if err != nil || descent == "" || !(vehicles >= 0 && vehicles <= 1e6) {
		return "", 0, &catalog.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%q is not a descent and its vehicles a day", text), Fix: "write both directions together, as in some-road-f-1.5=4200"}
	}
	return descent, vehicles, nil
}
