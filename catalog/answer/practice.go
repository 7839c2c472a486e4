package answer

import (
	"context"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/overlay"
	"gradeline/catalog/ranking"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/routes/stationing"
)

// Practice is the ladder of practice grades for a training truck, easiest first.
type Practice struct {
	Schema   string                `json:"schema"`
	Class    string                `json:"class"`
	Ladder   []ranking.Rung        `json:"ladder"`
	Days     []ranking.PracticeDay `json:"days"` // empty without a plan
	Skipped  []routes.Skipped      `json:"skipped"`
	Cautions []string              `json:"cautions"`

	className string // its name where its figures are known, else its id
	hasSites  bool   // the catalogue has sites along the roads
	entries   []catalog.Entry
}

// PracticeOptions say which practice grades are wanted.
type PracticeOptions struct {
	Class   string
	Figures *vehicle.Class // of the class, so that a lower gear can be tried where the advised one leaves too little; nil: none is tried
	Days    int            // to spread the grades over; 0: no plan
	// TrafficPerDay is the annual average daily traffic by descent, where it is known.
	TrafficPerDay map[string]float64
	MarginPct     float64 // of the retarder, that must stay unused
	Near          string  // only grades with the crest within WithinM of this place (see FindPlace); "" for all
	WithinM       float64
}

// NewPractice selects the practice grades for a class from some entries and puts them in order.
// Places to stop or turn come from the catalogue.
func NewPractice(ctx context.Context, cat *store.Catalog, es []catalog.Entry, o PracticeOptions) (*Practice, error) {
	if o.Near != "" {
		near, err := FindPlace(ctx, cat, o.Near)
		if err == nil {
			err = checkNotSwapped(es, near, o.WithinM)
		}
		if err != nil {
			return nil, err
		}
		es = crestsWithin(es, near, o.WithinM)
	}
	sites, err := cat.Sites(ctx, store.SiteFilter{})
	if err != nil {
		return nil, err
	}
	a := &Practice{Schema: catalog.Schema, Class: o.Class, Cautions: catalog.Cautions(), hasSites: len(sites) > 0, entries: es, className: o.Class}
	if o.Figures != nil {
		a.className = wording.Plain(o.Figures.Name)
	}
	lo := ranking.LadderOptions{MarginPct: o.MarginPct, TrafficPerDay: o.TrafficPerDay}
	if err = checkTraffic(es, o.TrafficPerDay); err != nil {
		return nil, err
	}
	if lo.Slower, err = slowerHolds(ctx, cat, es, o); err != nil {
		return nil, err
	}
	a.Ladder, a.Skipped = ranking.Ladder(es, o.Class, sites, lo)
	a.Ladder, a.Days = notNil(a.Ladder), ranking.PracticeDays(a.Ladder, o.Days)
	return a, nil
}

// slowerHolds are holds in a lower gear that keep the margin in reserve, for the entries whose own
// hold does not.
func slowerHolds(ctx context.Context, cat *store.Catalog, es []catalog.Entry, o PracticeOptions) (map[string]catalog.Hold, error) {
	out := map[string]catalog.Hold{}
	if o.Figures == nil {
		return out, nil
	}
	for i := range es {
		h := catalog.HoldFor(es[i].Holds, o.Class)
		if h == nil || !h.Holds || 100-h.RetarderUsePct >= o.MarginPct {
			continue
		}
		line, err := storedLine(ctx, cat, &es[i])
		if err != nil {
			return nil, err
		}
		now, err := lowerGear(line, &es[i], h, o)
		if err != nil {
			return nil, err
		}
		if now != nil {
			out[es[i].Descent.ID] = *now
		}
	}
	return out, nil
}

// lowerGear is the advice of the highest speed in a lower gear that leaves the margin, by the same
// rules as the driver's page. Without one it is the last that was tried; nil for none. A larger
// reserve would not do: the span over which a steep part counts depends on it.
func lowerGear(line *routes.Profile, e *catalog.Entry, h *catalog.Hold, o PracticeOptions) (*catalog.Hold, error) {
	unitMPS := o.Figures.Units.SpeedUnitMPS()
	var last *catalog.Hold
	for v := h.SpeedMPS - unitMPS; v > unitMPS; v -= unitMPS {
		capped := *h
		capped.Limits = append(slices.Clone(h.Limits), catalog.SpeedCeiling{Reason: catalog.LimitPosted, SpeedMPS: v})
		now, _, err := adviseStored(line, e, &capped, o.Figures, holding.Options{MassKg: h.MassKg})
		if err != nil {
			return nil, err
		}
		if now == nil || !now.Holds {
			return last, nil
		}
		v = min(v, now.SpeedMPS)
		if now.Gear >= h.Gear {
			continue
		}
		if last = now; 100-now.RetarderUsePct >= o.MarginPct {
			return last, nil
		}
	}
	return last, nil
}

// checkTraffic refuses traffic of descents that are not among the chosen ones.
func checkTraffic(es []catalog.Entry, perDay map[string]float64) error {
	for _, id := range slices.Sorted(maps.Keys(perDay)) {
		if !slices.ContainsFunc(es, func(e catalog.Entry) bool { return e.Descent.ID == id }) {
			return &catalog.Fault{Kind: catalog.ErrNotFound, Feature: "traffic of " + id, What: "no such descent is among the chosen ones", Fix: "gradeline list prints the ids"}
		}
	}
	return nil
}

// crestsWithin returns the entries whose crest is near one of some points.
func crestsWithin(es []catalog.Entry, near []orb.Point, mostM float64) []catalog.Entry {
	var out []catalog.Entry
	for _, e := range es {
		crest := orb.Point{e.Descent.CrestLonDeg, e.Descent.CrestLatDeg}
		if slices.ContainsFunc(near, func(p orb.Point) bool { return stationing.DistanceM(p, crest) <= mostM }) {
			out = append(out, e)
		}
	}
	return out
}

// WriteText writes the ladder, one rung after the other.
func (a *Practice) WriteText(w io.Writer, u catalog.Units) error {
	l := &lines{w: w, units: u}
	l.banner(wording.AnyInvented(a.entries))
	l.printf("Practice grades for %s, easiest first\n", a.Class)
	if len(a.entries) == 0 {
		l.printf("\nNone: no descent was considered. None is near enough, or the filter excludes all.\n")
	} else if len(a.Ladder) == 0 {
		l.printf("\nNone: no examined descent is held with the requested margin.\n")
	}
	for i := range a.Ladder {
		l.rung(&a.Ladder[i], i+1)
	}
	l.days(a)
	l.printf("\n")
	for _, k := range a.Skipped {
		l.setIn(0, "Left out: %s: %s.", k.Where, k.Why)
	}
	if !a.hasSites {
		l.setIn(0, "No places to stop or turn are on record: add them with gradeline sites import.")
	}
	l.setIn(0, "Difficulty ranks, it does not measure: a point for each per cent of the steepest %s, each five minutes on the retarder, each fifth of the retarder in use, up to two for the tightest curve, one for each bench, half a point for each kind of place that is not on record (to stop before, on and after the grade, and an escape ramp), one for each 5,000 vehicles a day up to three where traffic is given. In reserve: the share of the retarder that stays unused; with half the retarder gone each is still held, in a lower gear.", wording.Window(u, 500))
	l.cautions(nil)
	return l.err
}

// rung writes one practice grade.
func (l *lines) rung(r *ranking.Rung, number int) {
	u := l.units
	name := withFlags(wording.Shortened(r.Name, wording.MostNameColumns), r.Flags)
	l.printf("\n%d. %s (%s): difficulty %.1f\n", number, wording.OneLine(name), r.Descent, r.DifficultyScore)
	loud := ""
	if slices.Contains(r.SurfacesOut, catalog.SurfaceWet) {
		loud = catalog.DryRoadOnly + ": "
	}
	l.setIn(3, "%s%s at %.1f %% mean; gear %s, %s, %s; %.0f %% of the retarder in reserve", loud, u.Length(r.LengthM), r.MeanDowngradePct, r.GearName, wording.Plain(r.StageWords()), u.Speed(r.SpeedMPS), math.Floor(r.MarginPct))
	if r.PageGearName != "" {
		l.setIn(3, "SLOWER THAN THE DRIVER'S PAGE, which says gear %s and %s: for practice take the lower gear, which leaves more in reserve.", r.PageGearName, u.Speed(r.PageSpeedMPS))
	}
	var why []string
	for k := range r.Parts {
		why = append(why, fmt.Sprintf("%.1f for %s", r.Parts[k].PointsScore, r.Parts[k].WordsIn(u)))
	}
	l.setIn(3, "Why: %s.", strings.Join(why, "; "))
	if r.HarderBy != "" {
		l.setIn(3, "Harder than no. %d: %s.", number-1, r.HarderBy)
	}
	places := []string{}
	for k := range r.Places {
		places = append(places, r.Places[k].Words(u))
	}
	if len(r.Places) == 0 {
		l.setIn(3, "NO PLACE TO STOP OR TURN ON RECORD: find one on a map and visit it before a trainee drives here.")
		return
	}
	l.setIn(3, "To stop or turn: %s.", strings.Join(places, "; "))
	places = places[:0]
	for k := range r.Ramps {
		places = append(places, r.Ramps[k].Words(u))
	}
	if len(places) > 0 {
		l.setIn(3, "In an emergency: %s.", strings.Join(places, "; "))
	}
}

// WriteOverlay writes the crest of each practice grade, with its difficulty, as RFC 7946
// GeoJSON.
func (a *Practice) WriteOverlay(w io.Writer) error {
	byID := map[string]*catalog.Entry{}
	o := overlay.PlacesOptions{Kind: "practice", Class: a.Class, Notes: []string{"Each point is the crest of a practice grade; rung 1 is the easiest."}}
	for i := range a.entries {
		byID[a.entries[i].Descent.ID] = &a.entries[i]
	}
	var ps []overlay.Place
	for i, r := range a.Ladder {
		e := byID[r.Descent]
		o.Provenance = append(o.Provenance, e.Provenance)
		why := []string{}
		for _, p := range r.Parts {
			why = append(why, p.Words)
		}
		ps = append(ps, overlay.Place{ID: r.Descent, LonDeg: e.Descent.CrestLonDeg, LatDeg: e.Descent.CrestLatDeg, Properties: map[string]any{
			"rung": i + 1, "name": r.Name, "difficulty_score": r.DifficultyScore, "why": why, "gear": r.Gear, "gear_name": r.GearName, "levers": r.Levers, "speed_mps": r.SpeedMPS,
			"length_m": r.LengthM, "mean_downgrade_pct": r.MeanDowngradePct, "flags": r.Flags}})
	}
	return overlay.PlacesOverlay(w, ps, o)
}
