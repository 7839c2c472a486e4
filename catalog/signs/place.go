package signs

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"gradeline/catalog"
	"gradeline/routes"
)

// Need says why a sign is in a schedule.
const (
	NeedWarranted = "warranted"
	NeedCantTell  = "can't tell"  // its criterion is within the terrain's bound
	NeedSite      = "for a site"  // a brake check area or a ramp that exists
	NeedCurve     = "for a curve" // from the line as drawn
	NeedAdvice    = "advice to an engineer"
	NeedCandidate = "candidate" // its standard has no numeric warrant; an engineer judges
)

// Placement is one sign of a schedule. Figures are as the legend shows them;
// nil where it shows none.
type Placement struct {
	Number      int              `json:"number"`
	Role        string           `json:"role"`
	Designation string           `json:"designation"`
	Name        string           `json:"sign"`
	Plaques     []string         `json:"plaques"`
	Legend      string           `json:"legend"`
	StationM    float64          `json:"station_m"`
	ErrM        float64          `json:"station_err_m"` // 95 % half-width, from its anchor
	Side        string           `json:"side"`          // "right", "left" or "both", in travel
	Direction   routes.Direction `json:"direction"`
	OnLine      bool             `json:"on_line"` // false: beyond the line, or beyond the part of it that is known
	LonDeg      float64          `json:"longitude_deg"`
	LatDeg      float64          `json:"latitude_deg"`
	AnchorM     float64          `json:"anchor_m"` // station of the hazard
	AheadM      float64          `json:"ahead_m"`  // distance before its anchor
	How         string           `json:"distance_from"`
	Need        string           `json:"need"`
	GradePct    *float64         `json:"grade_pct"`
	GradeLowPct float64          `json:"grade_low_pct"` // what the bound allows
	GradeHiPct  float64          `json:"grade_high_pct"`
	LengthM     *float64         `json:"shown_length_m"`
	SpeedMPS    *float64         `json:"shown_speed_mps"`
	MovedM      float64          `json:"moved_m"`     // moved upstream from its rule's place, for the distance from others
	PostOf      int              `json:"post_number"` // number of the sign whose post it shares; 0: a post of its own
	Conflicts   []Conflict       `json:"conflicts"`
	Why         string           `json:"why"`
	Source      catalog.Source   `json:"source"`

	also   []string
	sign   SignType
	postID int // of the post that it shares; 0 for one of its own
}

// placer builds the placements of one schedule.
type placer struct {
	rs      *RuleSet
	t       *travel
	in      *Input
	s       *Schedule
	chosen  map[string]string
	endErrM float64
	out     []Placement
	posts   int // how many posts are shared
}

func (pl *placer) has(role string) bool {
	for _, s := range pl.rs.Signs {
		if s.Role == role {
			return true
		}
	}
	return false
}

func (pl *placer) placeAll() {
	endNeed := "" // of the most certain stretch
	for _, st := range pl.s.Stretches {
		if !st.Verdict.CallsForSign() {
			continue
		}
		pl.hill(st)
		if need := needOf(st.Verdict); endNeed == "" || need == NeedWarranted {
			endNeed = need
		}
	}
	for _, s := range pl.rs.Signs {
		switch s.Role {
		case RolePanel:
			if len(pl.s.Panel) > 0 {
				pl.addSign(s, siting{xM: 0, aheadM: s.DistanceM, how: "rule", need: NeedAdvice, why: "speeds that each class holds on its retarder alone"})
			}
		case RoleGear:
			pl.gear(s)
		case RoleEnd:
			if endNeed != "" {
				pl.addSign(s, siting{xM: pl.outerFootM(), how: "anchor", need: endNeed, why: "foot of the descent, at the latest place within its bound", errM: math.Max(pl.in.Descent.EndErrM, pl.t.bound.EndM)})
			}
		case RoleCheck, RoleCheckAdvance:
			pl.sites(s, catalog.BrakeCheck)
		case RoleChain, RoleChainAdvance:
			pl.sites(s, catalog.ChainUp)
		case RoleRamp, RoleRampAdvance:
			pl.sites(s, catalog.EscapeRamp)
		}
	}
	pl.curves()
	sort.SliceStable(pl.out, func(i, j int) bool { return pl.t.pastM(pl.out[i].StationM) < pl.t.pastM(pl.out[j].StationM)-1e-9 })
	pl.space()
	for i := range pl.out {
		pl.out[i].Number = i + 1
	}
	pl.namePosts()
	pl.conflicts()
}

// siting is the place of one sign and the reason for it.
type siting struct {
	xM, aheadM, errM float64
	how, need, why   string
	figure           *Figure
	lengthM          float64 // {length} and {remaining}
	speedMPS         float64 // {speed}
}

// needOf is the reason for the signs of a stretch.
func needOf(v Verdict) string {
	return map[Verdict]string{Warranted: NeedWarranted, CantTell: NeedCantTell, Candidate: NeedCandidate}[v]
}

// hill places the signs for one stretch.
func (pl *placer) hill(st Judgement) {
	need := needOf(st.Verdict)
	why := fmt.Sprintf("%s, stations %s to %s: %.2f ± %.2f %% against %s", st.Warrant, length(pl.rs.Units, st.FromM), length(pl.rs.Units, st.ToM), st.MeasuredPct, st.BoundPct, st.Row)
	for _, s := range pl.rs.Signs {
		if s.Warrant != st.Warrant {
			continue
		}
		a := siting{xM: st.x.fromM, need: need, why: why, figure: &st.Figure, lengthM: st.LengthM, errM: pl.endErrM}
		switch s.Role {
		case RoleAdvance:
			a.aheadM, a.how = s.DistanceM, "rule"
			if a.aheadM == 0 {
				d := pl.ahead(st.x.fromM, pl.s.AdvisedMPS)
				a.aheadM, a.how = d.LengthM, d.How
			}
			pl.beforeCrest(&a)
			pl.addSign(s, a)
		case RoleStart:
			a.how = "anchor"
			pl.addSign(s, a)
		case RoleRepeat:
			for k := 1; ; k++ {
				x := st.x.fromM + float64(k)*s.EveryM
				left := st.x.toM - x
				if left < s.LeastLeftM || left <= 0 || k > 10000 {
					break
				}
				r := a
				r.xM, r.how, r.lengthM = x, "interval", left
				f := pl.t.figure(pl.rs, span{x, st.x.toM}, pl.chosen["figure"])
				r.figure = &f
				pl.addSign(s, r)
			}
		case RoleSteepest:
			pl.steepest(s, st, a)
		}
	}
}

// leastSteeperPct is the amount by which a part must be steeper than its stretch to have its own
// sign, regardless of the rule set.
const leastSteeperPct = 2

// steepest places a sign where the steepest 500 m starts (100 m where the figure
// is chosen so), if that is steeper than the stretch by the rule's amount.
func (pl *placer) steepest(s SignType, st Judgement, a siting) {
	by, windowM := "steepest-500", 500.0
	if pl.chosen["figure"] == "steepest-100" {
		by, windowM = "steepest-100", 100
	}
	if st.LengthM < 2*windowM {
		return
	}
	x, pct := pl.t.steepest(st.x.fromM, st.x.toM, windowM)
	if x-st.x.fromM < pl.rs.Spacing.LeastM || pct-st.MeanPct < math.Max(leastSteeperPct, s.SteeperByPct)-1e-9 {
		return
	}
	f := pl.t.figure(pl.rs, span{x, x + windowM}, by)
	if st.Figure.ShownPct >= f.ShownPct && pl.showsFigure(st.Warrant) {
		return // the sign of the stretch already shows it
	}
	a.xM, a.how, a.figure, a.lengthM = x, "anchor", &f, windowM
	a.why = fmt.Sprintf("steepest %s, %.1f %%, against %.1f %% over the stretch", length(pl.rs.Units, windowM), pct, st.MeanPct)
	pl.addSign(s, a)
}

// gear places the gear-select point before the first station at which any class
// must be in its gear.
func (pl *placer) gear(s SignType) {
	first, class := math.Inf(1), ""
	for _, h := range pl.in.Holds {
		if x := pl.t.pastM(h.GearByM); h.Holds && h.Gear > 0 && x < first {
			first, class = x, h.Class
		}
	}
	if class != "" {
		pl.addSign(s, siting{xM: first, aheadM: s.DistanceM, how: "anchor", need: NeedAdvice, why: "class " + class + " must be in its gear before this station"})
	}
}

// sites places the signs of the sites of one kind in this direction, from one
// kilometre of approach before the first advance sign to the foot.
func (pl *placer) sites(s SignType, kind catalog.SiteKind) {
	for _, site := range pl.in.Sites {
		if site.Kind != kind || !site.Serves(pl.s.Direction) {
			continue
		}
		x := pl.t.pastM(*site.StationM)
		if x > pl.t.lenM+1000 || x < -10000 {
			continue
		}
		name := site.Name
		if name == "" {
			name = string(kind)
		}
		pl.addSign(s, siting{xM: x, aheadM: s.DistanceM, how: "rule", need: NeedSite, why: name})
	}
}

// curves places a sign for each bend.
func (pl *placer) curves() {
	for _, b := range pl.t.bends(pl.rs, pl.s.ApproachMPS) {
		s, ok := pl.rs.curveSign(b.variant(pl.rs.Curve))
		if !ok || b.speedMPS == 0 {
			continue
		}
		d := pl.ahead(b.at.fromM, b.speedMPS)
		pl.addSign(s, siting{xM: b.at.fromM, aheadM: d.LengthM, how: d.How, need: NeedCurve, speedMPS: b.speedMPS, errM: pl.t.p.StepM,
			why: fmt.Sprintf("radius %s at its tightest, %d curve(s) over %s", radius(pl.rs.Units, b.radiusM), b.curves, length(pl.rs.Units, b.at.lengthM()))})
	}
}

// ahead is the advance distance to x, on the grade under its approach if so chosen.
func (pl *placer) ahead(xM, toMPS float64) Distance {
	d := pl.rs.Placement.Advance(pl.s.ApproachMPS, toMPS, 0)
	if pl.chosen["downgrade-approach"] != "lengthen" {
		return d
	}
	foot := pl.t.stationM(xM)
	fall := 100 * (pl.t.p.ElevationAtM(foot-pl.t.sgn()*d.LengthM) - pl.t.p.ElevationAtM(foot)) / d.LengthM
	if !(fall > 0) || d.LengthM == 0 { // rising, level, or before the line
		return d
	}
	if longer := pl.rs.Placement.Advance(pl.s.ApproachMPS, toMPS, fall); longer.LengthM > d.LengthM && !math.IsInf(longer.LengthM, 1) {
		return longer
	}
	return d
}

// addSign adds one sign.
func (pl *placer) addSign(s SignType, a siting) {
	units := pl.rs.Units
	p := Placement{Role: s.Role, Designation: s.Designation, Name: s.Name, Plaques: append([]string{}, s.Plaques...),
		StationM: pl.t.stationM(a.xM - a.aheadM), ErrM: a.errM, Side: pl.rs.Side, Direction: pl.s.Direction, AnchorM: pl.t.stationM(a.xM),
		AheadM: a.aheadM, How: a.how, Need: a.need, Why: a.why, Source: pl.rs.source(s.Source), also: s.Also, sign: s, Conflicts: []Conflict{}}
	if s.Advice && a.need != NeedCantTell {
		p.Need = NeedAdvice
	}
	if pl.chosen["sides"] == "both" {
		p.Side = "both"
	}
	pl.locate(&p)
	fill := map[string]string{}
	if a.figure != nil && strings.Contains(s.Legend, "{grade}") {
		v := a.figure.ShownPct
		p.GradePct, p.GradeLowPct, p.GradeHiPct = &v, a.figure.LowPct, a.figure.HighPct
		fill["grade"] = fmt.Sprintf("%.0f", v)
	}
	if strings.Contains(s.Legend, "{length}") || strings.Contains(s.Legend, "{remaining}") {
		words, shown := legendLength(units, a.lengthM)
		p.LengthM = &shown
		fill["length"], fill["remaining"] = words, words
	}
	if strings.Contains(s.Legend, "{speed}") {
		v := a.speedMPS
		p.SpeedMPS = &v
		fill["speed"] = legendSpeed(units, v)
	}
	fill["distance"], _ = legendLength(units, a.aheadM)
	p.Legend = s.Legend
	for _, k := range []string{"grade", "length", "remaining", "speed", "distance"} {
		p.Legend = strings.ReplaceAll(p.Legend, "{"+k+"}", fill[k])
	}
	pl.out = append(pl.out, p)
}
