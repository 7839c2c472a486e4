package whatif

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// heights are elevations in metres; NaN, where it is unknown, is null in JSON.
type heights []float64

func (h heights) MarshalJSON() ([]byte, error) {
	out := make([]*float64, len(h))
	for i := range h {
		if !math.IsNaN(h[i]) {
			out[i] = &h[i]
		}
	}
	return json.Marshal(out)
}

func (h *heights) UnmarshalJSON(b []byte) error {
	var in []*float64
	if err := json.Unmarshal(b, &in); err != nil {
		return err
	}
	*h = make(heights, len(in))
	for i, v := range in {
		(*h)[i] = math.NaN()
		if v != nil {
			(*h)[i] = *v
		}
	}
	return nil
}

// GradeLine is a descent's own grade line for a page: the figures of routes.Profile and
// routes.Descent from which advice is made, and nothing else. It goes through JSON without loss.
type GradeLine struct {
	// Unknown says why no answer may be given on this line; empty where one may.
	Unknown string `json:"unknown,omitempty"`

	OriginM    float64           `json:"origin_m"`
	StepM      float64           `json:"step_m"`
	RouteM     float64           `json:"route_m"`
	CellM      float64           `json:"cell_m"`
	ElevationM heights           `json:"elevation_m"` // unknown ones may stand beyond the descent
	State      []int             `json:"state"`
	EaseM      []float64         `json:"ease_m"`
	RadiusM    []float64         `json:"radius_m"` // 0 is straight
	Bound      routes.ErrorModel `json:"bound"`
	Coarser    []routes.Part     `json:"coarser"`

	Direction  string  `json:"direction"`
	StartM     float64 `json:"start_m"`
	EndM       float64 `json:"end_m"`
	StartErrM  float64 `json:"start_err_m"`
	LengthM    float64 `json:"length_m"`
	MeanPct    float64 `json:"mean_downgrade_pct"`
	MeanErrPct float64 `json:"mean_downgrade_err_pct"`

	Weather   *catalog.Weather   `json:"weather,omitempty"` // of the stored advice
	PostedMPS map[string]float64 `json:"posted_mps"`        // by class, and under "" for all others; 0 for none
}

// NewGradeLine takes the grade line of a descent from its stored profile, which may be nil. Where
// an answer on it would be surer than the catalogue is, the line says why it is unknown instead.
func NewGradeLine(p *routes.Profile, e *catalog.Entry) *GradeLine {
	d := &e.Descent
	switch {
	case p == nil:
		return &GradeLine{Unknown: "the catalogue keeps no grade line of this descent; survey its road again"}
	case d.HasFlag(routes.FlagUnreliable) && !wording.IsFieldChecked(e):
		return &GradeLine{Unknown: "the grade line is unreliable and not field-checked"}
	case len(d.GoesOn) > 0:
		return &GradeLine{Unknown: "the hill continues in " + wording.Plain(d.GoesOn[0].Route) + ", whose grade line is not part of this one; the catalogue's answer counts it"}
	}
	lo := max(0, int(math.Floor(p.IndexFromStationM(min(d.StartM, d.EndM)))))
	hi := min(p.Count()-1, int(math.Ceil(p.IndexFromStationM(max(d.StartM, d.EndM)))))
	if lo > hi || slices.ContainsFunc(p.ElevationM[lo:hi+1], math.IsNaN) {
		return &GradeLine{Unknown: "the grade line has a gap on this descent"}
	}
	g := &GradeLine{OriginM: p.OriginM, StepM: p.StepM, RouteM: p.LengthM, CellM: p.CellM, ElevationM: p.ElevationM, EaseM: p.EaseM, Bound: p.Bound, Coarser: p.Coarser,
		Direction: d.Direction.String(), StartM: d.StartM, EndM: d.EndM, StartErrM: d.StartErrM, LengthM: d.LengthM, MeanPct: d.MeanDowngradePct, MeanErrPct: d.MeanDowngradeErrPct,
		PostedMPS: map[string]float64{}}
	for _, s := range p.State {
		g.State = append(g.State, int(s))
	}
	for _, r := range p.RadiusM {
		if math.IsInf(r, 1) {
			r = 0
		}
		g.RadiusM = append(g.RadiusM, r)
	}
	for i := range e.Holds {
		g.Weather = cmp.Or(g.Weather, e.Holds[i].Weather)
		v := PostedMPS(&e.Holds[i])
		g.PostedMPS[e.Holds[i].Class] = v
		if least := g.PostedMPS[""]; v > 0 && (least == 0 || v < least) {
			g.PostedMPS[""] = v
		}
	}
	return g
}

// PostedMPS is the lowest posted limit that a hold was made under; 0 for none.
func PostedMPS(h *catalog.Hold) float64 {
	least := 0.0
	for _, l := range h.Limits {
		if l.Reason == catalog.LimitPosted && (least == 0 || l.SpeedMPS < least) {
			least = l.SpeedMPS
		}
	}
	return least
}

// mostStations is far above the stations of any descent, and limits what a page may ask for.
const mostStations = 1_000_000

// ParseGradeLine reads the JSON of a GradeLine.
func ParseGradeLine(b []byte) (*GradeLine, error) {
	var g GradeLine
	if err := json.Unmarshal(b, &g); err != nil {
		return nil, &catalog.Fault{Kind: catalog.ErrImpossible, What: "the grade line cannot be read", Err: err}
	}
	n := len(g.ElevationM)
	if g.Unknown == "" && (n < 2 || n > mostStations || !isFor(n, len(g.State), len(g.RadiusM), len(g.EaseM)) || !(g.StepM > 0) || len(g.Bound.SpanM) != len(g.Bound.SpanPct)) {
		return nil, &catalog.Fault{Kind: catalog.ErrImpossible, What: "the grade line is not complete"}
	}
	return &g, nil
}

// isFor reports whether each count is that of n stations, or none.
func isFor(n int, counts ...int) bool {
	return !slices.ContainsFunc(counts, func(c int) bool { return c != 0 && c != n })
}

// Hill is the hill of the line for a class, as a survey makes it.
func (g *GradeLine) Hill(class string) (holding.Hill, error) {
	if g.Unknown != "" {
		return holding.Hill{}, &catalog.Fault{Kind: catalog.ErrImpossible, What: "unknown: " + g.Unknown}
	}
	p := &routes.Profile{OriginM: g.OriginM, StepM: g.StepM, LengthM: g.RouteM, CellM: g.CellM, ElevationM: g.ElevationM, EaseM: g.EaseM, Bound: g.Bound, Coarser: g.Coarser, Reliable: true}
	for _, s := range g.State {
		p.State = append(p.State, routes.StationState(s))
	}
	for _, r := range g.RadiusM {
		if r == 0 {
			r = math.Inf(1)
		}
		p.RadiusM = append(p.RadiusM, r)
	}
	d := &routes.Descent{StartM: g.StartM, EndM: g.EndM, StartErrM: g.StartErrM, LengthM: g.LengthM, MeanDowngradePct: g.MeanPct, MeanDowngradeErrPct: g.MeanErrPct}
	if g.Direction == routes.Backward.String() {
		d.Direction = routes.Backward
	}
	if !g.isWithin(p) {
		return holding.Hill{}, &catalog.Fault{Kind: catalog.ErrImpossible, What: fmt.Sprintf("a descent from station %.0f to %.0f m on a line that ends before", g.StartM, g.EndM)}
	}
	h := holding.HillFromDescent(p, d, nil)
	posted, isKnown := g.PostedMPS[class]
	if !isKnown {
		posted = g.PostedMPS[""]
	}
	if posted > 0 {
		h = holding.WithPosted(h, posted)
	}
	return h, nil
}

// isWithin reports whether the stations of the profile reach from crest to foot.
func (g *GradeLine) isWithin(p *routes.Profile) bool {
	lo, hi := min(g.StartM, g.EndM), max(g.StartM, g.EndM)
	return hi-lo >= 1 && lo >= p.StationM(0)-p.StepM && hi <= p.StationM(p.Count()-1)+p.StepM
}
