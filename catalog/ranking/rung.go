package ranking

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/wording"
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
	Stage            int              `json:"stage"` // of the first lever
	Levers           []catalog.Lever  `json:"levers"`
	SurfacesOut      []string         `json:"surfaces_excluded"`
	SpeedMPS         float64          `json:"speed_mps"`
	RetarderUsePct   float64          `json:"retarder_use_pct"`
	OnRetarderS      float64          `json:"on_retarder_s"`
	MarginPct        float64          `json:"margin_pct"`           // of the retarder's power, unused
	GearByM          float64          `json:"gear_by_past_crest_m"` // where the gear must be in, in travel, negative before the crest
	Easier           string           `json:"easier"`               // id of the rung below; empty at the bottom
	Harder           string           `json:"harder"`
	HarderBy         string           `json:"harder_by"`  // why it is harder than the rung below; empty at the bottom
	TurnRound        []string         `json:"turn_round"` // places on record to turn or pull out near its ends, in words
	Places           []TurnPlace      `json:"places"`     // the same as data
	Ramps            []TurnPlace      `json:"escape_ramps"`
	Flags            []string         `json:"flags"`

	// The driver's page's own gear and speed, where a lower gear is needed to leave the margin;
	// else empty and 0.
	PageGearName string  `json:"page_gear_name"`
	PageSpeedMPS float64 `json:"page_speed_mps"`
}

// DifficultyPart is one reason for a rung's difficulty. WordsUS is Words in feet.
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
	Where    string           `json:"where"`        // one of the five below
	FromEndM float64          `json:"from_end_m"`   // to the nearer end
	PastM    float64          `json:"past_crest_m"` // in travel, negative before the crest
}

// Words names the place and its position, in a unit system.
func (p *TurnPlace) Words(u catalog.Units) string {
	where := p.Where
	switch {
	case where == beforeCrest:
		where = u.Length(-p.PastM) + " " + where
	case where == pastFoot:
		where = u.Length(p.FromEndM) + " " + where
	case where != atCrest:
		where += ", " + u.Length(p.PastM) + " past the crest"
	}
	return fmt.Sprintf("%s %s, %s, station %s", p.Kind.Words(), p.Name, where, u.Station(p.StationM))
}

// newRung describes a practice grade by the hold for practice; page is the hold of the driver's
// page where that differs, else nil.
func newRung(e *catalog.Entry, h, page *catalog.Hold, sites []catalog.Site, o LadderOptions) Rung {
	d := &e.Descent
	places, ramps := PlacesNear(d, sites)
	r := Rung{Descent: d.ID, Name: d.Name, Route: d.Route, Direction: d.Direction, LengthM: d.LengthM, MeanDowngradePct: d.MeanDowngradePct,
		Steepest500Pct: d.Steepest500Pct, Gear: h.Gear, GearName: h.GearLabel(), Stage: h.Stage, Levers: append([]catalog.Lever{}, h.Levers...), SurfacesOut: append([]string{}, h.SurfacesOut...), SpeedMPS: h.SpeedMPS, RetarderUsePct: h.RetarderUsePct, OnRetarderS: h.TimeS,
		MarginPct: 100 - h.RetarderUsePct, GearByM: d.TravelFromStationM(h.GearByM), TurnRound: []string{}, Places: places, Ramps: ramps, Flags: d.Flags}
	if page != nil {
		r.PageGearName, r.PageSpeedMPS = page.GearLabel(), page.SpeedMPS
	}
	for i := range r.Places {
		r.TurnRound = append(r.TurnRound, r.Places[i].Words(catalog.Metric))
	}
	add := func(kind string, points float64, of func(u catalog.Units) string) {
		if points = math.Round(points*10) / 10; points > 0 {
			r.Parts = append(r.Parts, DifficultyPart{kind, points, of(catalog.Metric), of(catalog.US)})
			r.DifficultyScore = math.Round((r.DifficultyScore+points)*10) / 10
		}
	}
	add(PartSteep, d.Steepest500Pct, func(u catalog.Units) string {
		if u == catalog.US {
			return fmt.Sprintf("%.1f %% over its steepest 1,600 ft", d.Steepest500Pct)
		}
		return fmt.Sprintf("%.1f %% over its steepest 500 m", d.Steepest500Pct)
	})
	add(PartTime, h.TimeS/300, func(catalog.Units) string { return fmt.Sprintf("%.0f minutes on the retarder", h.TimeS/60) })
	add(PartUse, h.RetarderUsePct/20, func(catalog.Units) string { return fmt.Sprintf("%.0f %% of the retarder in use", h.RetarderUsePct) })
	if d.TightestRadiusM != nil {
		curve := func(u catalog.Units) string {
			return fmt.Sprintf("a curve of %s radius", wording.Radius(*d.TightestRadiusM, u))
		}
		switch radiusM := *d.TightestRadiusM; {
		case radiusM < 60:
			add(PartCurve, 2, curve)
		case radiusM < 150:
			add(PartCurve, 1, curve)
		}
	}
	for _, b := range d.Benches {
		add(PartBench, 1, func(u catalog.Units) string {
			return fmt.Sprintf("a bench of %s, after which the hill continues", metresOrFeet(u, b.LengthM))
		})
	}
	if perDay := o.TrafficPerDay[d.ID]; perDay > 0 {
		add(PartTraffic, min(3, perDay/5000), func(catalog.Units) string { return fmt.Sprintf("%.0f vehicles a day", perDay) })
	}
	if len(sites) > 0 {
		lacks, words := lacking(&r)
		add(PartPlaces, 0.5*float64(lacks), func(catalog.Units) string { return words })
	}
	return r
}

// lacking counts and names the places that a trainer wants along a practice grade and that are not
// on record.
func lacking(r *Rung) (int, string) {
	has := map[string]bool{}
	for i := range r.Places {
		has[r.Places[i].Where] = true
	}
	var stops, out []string
	if !has[beforeCrest] && !has[atCrest] {
		stops = append(stops, beforeCrest)
	}
	if !has[onGrade] {
		stops = append(stops, onGrade)
	}
	if !has[atFoot] && !has[pastFoot] {
		stops = append(stops, "after the foot")
	}
	if len(stops) > 0 {
		out = append(out, "no place on record to stop "+strings.Join(stops, ", "))
	}
	n := len(stops)
	if len(r.Ramps) == 0 {
		n, out = n+1, append(out, "no escape ramp on record")
	}
	return n, strings.Join(out, ", ")
}

// The kinds of a DifficultyPart.
const (
	PartSteep = "steepness"
	PartTime  = "time"
	PartUse   = "retarder"
	PartCurve = "curve"
	PartBench = "bench"

	PartTraffic = "traffic"
	PartPlaces  = "places"
)

// harderWords describe a part that is larger than that of the rung below.
var harderWords = []struct{ kind, words string }{
	{PartSteep, "steeper"}, {PartTime, "longer on the retarder"}, {PartUse, "nearer to the retarder's limit"}, {PartCurve, "a tight curve"}, {PartBench, "a bench after which the hill continues"},
	{PartTraffic, "more traffic"}, {PartPlaces, "fewer places to stop, or no escape ramp"},
}

// HarderKinds are the kinds of part by which a rung is harder than the one below: those of at least
// half a point, else the largest; none where it is about as hard.
func HarderKinds(below, r *Rung) []string {
	more, most, out := map[string]float64{}, "", []string{}
	for _, p := range r.Parts {
		more[p.Kind] += p.PointsScore
	}
	for _, p := range below.Parts {
		more[p.Kind] -= p.PointsScore
	}
	best := 0.0
	for _, k := range harderWords {
		if more[k.kind] >= 0.5-1e-9 {
			out = append(out, k.kind)
		}
		if more[k.kind] > best+1e-9 {
			best, most = more[k.kind], k.kind
		}
	}
	if len(out) == 0 && most != "" {
		out = []string{most}
	}
	return out
}

// harderBy is HarderKinds in words.
func harderBy(below, r *Rung) string {
	kinds, words := HarderKinds(below, r), []string{}
	for _, k := range harderWords {
		if slices.Contains(kinds, k.kind) {
			words = append(words, k.words)
		}
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

// StageWords is the setting of all levers.
func (r *Rung) StageWords() string {
	h := catalog.Hold{Stage: r.Stage, Levers: r.Levers}
	return h.StageWords()
}
