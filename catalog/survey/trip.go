package survey

import (
	"context"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/ranking"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/routes/stationing"
	"gradeline/routes/vector"
	"gradeline/terrain"
)

// TripQuery asks for ways through a network that a class's truck can hold.
type TripQuery struct {
	Options // of the survey of each way; Classes is the one class
	Vehicle network.Vehicle
	Prefer  ranking.Prefer
	// AllowUnknown accepts ways whose grade line has unknown stretches.
	AllowUnknown bool
	Alternatives int // further ways that differ from those before, up to MostAlternatives
	// Others are classes to try where the class has no way; only those that may have its mass are.
	Others      []vehicle.Class
	MostSurveys int // 0: network.DefaultSurveys
}

// MostAlternatives is the greatest number of further ways.
const MostAlternatives = 10

// checkAlternatives refuses a number that no search would end with.
func (q *TripQuery) checkAlternatives() error {
	if q.Alternatives < 0 || q.Alternatives > MostAlternatives {
		return &catalog.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%d alternative ways are asked for", q.Alternatives), Fix: fmt.Sprintf("ask for 0 to %d", MostAlternatives)}
	}
	return nil
}

// VehicleOf is the data of a class's truck for road signs, at a mass (0: its upper end). The
// heaviest axle is that of the upper end, or in proportion beyond it.
func VehicleOf(c *vehicle.Class, massKg float64) network.Vehicle {
	v := network.Vehicle{MassKg: massKg, HeightM: c.HeightM, LengthM: c.LengthM, AxleLoadKg: c.AxleLoadKg, IsHazmat: c.IsHazmat}
	switch {
	case massKg == 0:
		v.MassKg = c.MassMaxKg
	case massKg > c.MassMaxKg && c.MassMaxKg > 0:
		v.AxleLoadKg *= massKg / c.MassMaxKg
	}
	return v
}

// Trip is a way with its line and survey.
type Trip struct {
	ranking.Trip
	Way      network.Way
	Route    routes.Route
	Profile  *routes.Profile
	IsHeld   bool
	Why      string // why it is not held, or why that is unknown
	Unstated network.Unstated
}

// Trips is the answer to a query.
type Trips struct {
	List     []Trip // held, best first
	Refused  *Trip  // the way that would be best by time or length alone, if it is not in List
	Surveyed int
	IsProven bool // no other way can be better than the first; without a first way, no way is held
	// GapPct is the most by which another way could be better, where optimality is not proven; 0
	// without a way.
	GapPct float64
	// NoWay is the reason why there is no way, and Opens the change that would allow one; both are
	// empty if there is one.
	NoWay, Opens string
	Blocked      []network.Refusal // what bars the truck from the shortest way
}

// tripper answers one query. It keeps the surveys by way.
type tripper struct {
	graph  *network.Graph
	query  TripQuery
	class  *vehicle.Class
	kept   map[string]*Trip
	massKg float64
	// result surveys a way as one line.
	result    func(context.Context, network.Way, *routes.Route) Result
	timeS     func(edge int32) float64     // the least cost of each edge
	isRefused func(edge int32) bool        // the vehicle may not use it
	turnS     func(from, to int32) float64 // the least that a turn takes besides; nil: nothing
	// ruled is the graph for ways with at least a given step of margin.
	ruled      func(step int) (*network.Graph, error)
	slackShare float64
	slackAfter int
	overstated float64 // see network.Query.OverstatedCost
	// forQuery is the tripper of the same places for another query.
	forQuery func(context.Context, TripQuery) (*tripper, error)
}

func newTripper(g *network.Graph, q TripQuery) *tripper {
	t := &tripper{graph: g, query: q, class: &q.Classes[0], kept: map[string]*Trip{}, massKg: q.MassKg}
	if t.massKg == 0 {
		t.massKg = t.class.MassMaxKg
	}
	t.query.forwardOnly = true
	t.timeS = func(i int32) float64 {
		e := g.Edge(i)
		limit, _ := stationing.LimitMPS(g.Feature(i).Tags, e.IsReversed)
		return e.LengthM / ranking.EdgeSpeedMPS(t.class, limit)
	}
	t.isRefused = func(i int32) bool { return q.Vehicle.Refusal(g.Feature(i), g.Edge(i).IsReversed) != "" }
	t.ruled = func(int) (*network.Graph, error) { return g, nil }
	return t
}

// FindTrips finds the best ways through the places of a graph for one class. Each way
// that is considered is surveyed as one line.
func FindTrips(ctx context.Context, surface terrain.Surface, g *network.Graph, q TripQuery) (*Trips, error) {
	return groundTripper(surface, g, q).find(ctx)
}

// groundTripper surveys ways on the terrain.
func groundTripper(surface terrain.Surface, g *network.Graph, q TripQuery) *tripper {
	t := newTripper(g, q)
	t.result = func(ctx context.Context, _ network.Way, r *routes.Route) Result {
		return One(ctx, surface, r, t.query.Options)
	}
	t.forQuery = func(_ context.Context, q TripQuery) (*tripper, error) { return groundTripper(surface, g, q), nil }
	return t
}

// find runs the query.
func (t *tripper) find(ctx context.Context) (*Trips, error) {
	if err := t.query.checkAlternatives(); err != nil {
		return nil, err
	}
	out, g := &Trips{}, t.graph
	costs := t.edgeCosts()
	best, err := t.best(ctx, costs, out)
	if err != nil {
		return nil, err
	}
	if best == nil {
		if err := t.explain(ctx, out); err != nil {
			return nil, err
		}
		return out, t.addOtherClass(ctx, out)
	}
	out.List = append(out.List, *best)
	if err := t.alternatives(ctx, costs, out); err != nil {
		return nil, err
	}
	for i := range out.List {
		out.List[i].Unstated = g.Unstated(out.List[i].Way)
		if out.Refused != nil && tripKey(out.List[i].Way) == tripKey(out.Refused.Way) {
			out.Refused = nil
		}
	}
	return out, nil
}

// edgeCosts is the least that each edge can cost: seconds, or metres.
func (t *tripper) edgeCosts() []float64 {
	costs := make([]float64, t.graph.Edges())
	for i := range costs {
		if t.isRefused(int32(i)) {
			costs[i] = math.Inf(1)
			continue
		}
		costs[i] = t.graph.LengthM(int32(i))
		if t.query.Prefer != ranking.PreferLength {
			costs[i] = t.timeS(int32(i))
		}
	}
	return costs
}

// turnCost is the least that turns cost; nil where ways are ranked by length.
func (t *tripper) turnCost() func(from, to int32) float64 {
	if t.query.Prefer == ranking.PreferLength {
		return nil
	}
	return t.turnS
}

// best finds the best way; by margin the highest step that any way has, then time.
func (t *tripper) best(ctx context.Context, costs []float64, out *Trips) (*Trip, error) {
	steps := []int{0}
	if t.query.Prefer == ranking.PreferMargin {
		steps = []int{10, 9, 8, 7, 6, 5, 4, 3, 2, 1, 0}
	}
	out.IsProven = true
	for _, step := range steps {
		g, err := t.ruled(step)
		if err != nil {
			return nil, err
		}
		found, err := g.Best(ctx, network.Query{EdgeCost: costs, TurnCost: t.turnCost(), MostSurveys: t.query.MostSurveys, Judge: t.judge(step, costs), SlackShare: t.slackShare, SlackAfter: t.slackAfter, OverstatedCost: t.overstated})
		if err != nil {
			return nil, err
		}
		out.Surveyed = len(t.kept)
		out.IsProven = out.IsProven && found.IsProven
		if found.First != nil && out.Refused == nil {
			if out.Refused, err = t.survey(ctx, *found.First); err != nil {
				return nil, err
			}
		}
		if found.Best != nil {
			out.GapPct = 100 * found.GapShare
			return t.survey(ctx, *found.Best)
		}
	}
	return nil, nil
}

func tripKey(w network.Way) string { return fmt.Sprint(w.Edges) }

// judge returns a function that judges a way for at least a given step of margin.
func (t *tripper) judge(step int, costs []float64) func(context.Context, network.Way) (network.Verdict, error) {
	return func(ctx context.Context, w network.Way) (network.Verdict, error) {
		trip, err := t.survey(ctx, w)
		if err != nil {
			return network.Verdict{}, err
		}
		v := network.Verdict{IsHeld: trip.IsHeld && trip.MarginStep(t.class.ID) >= step, Cost: trip.TimeS}
		if t.query.Prefer == ranking.PreferLength {
			v.Cost = trip.LengthM
		}
		v.Cost = math.Max(v.Cost, t.leastCost(w, costs))
		if trip.IsHeld && !v.IsHeld {
			v.FailedM = trip.LowMargin(t.class.ID, step)
			return v, nil
		}
		v.FailedM = append(trip.NotHeld(t.class.ID), trip.UnknownM...)
		if t.query.AllowUnknown {
			v.FailedM = trip.NotHeld(t.class.ID)
		}
		return v, nil
	}
}

// leastCost is the least cost of a way by its edges and turns.
func (t *tripper) leastCost(w network.Way, costs []float64) float64 {
	sum, turn := 0.0, t.turnCost()
	for i, e := range w.Edges {
		sum += costs[e]
		if i > 0 && turn != nil {
			sum += turn(w.Edges[i-1], e)
		}
	}
	return sum
}

// survey surveys a way as one line, once.
func (t *tripper) survey(ctx context.Context, w network.Way) (*Trip, error) {
	key := tripKey(w)
	if trip := t.kept[key]; trip != nil {
		return trip, nil
	}
	r, _ := stationing.Through(t.graph.Pieces(w))
	if r == nil {
		return nil, &routes.Fault{Kind: terrain.ErrInput, What: "a way of no length"}
	}
	r.ID = "way"
	trip := &Trip{Way: w, Route: *r, Trip: ranking.Trip{LengthM: r.LengthM}}
	t.kept[key] = trip
	res := t.result(ctx, w, r)
	if res.Err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		trip.Unknown, trip.UnknownM = wording.OneLine(res.Err.Error()), [][2]float64{{0, r.LengthM}}
		trip.Why = "not known: " + trip.Unknown
		trip.TimeS = math.Inf(1)
		return trip, nil
	}
	trip.Profile, trip.Entries = res.Profile, res.Entries
	trip.Unknown, trip.UnknownM = unknownStretches(res.Profile)
	trip.IsKnown = trip.Unknown == ""
	trip.TimeS = ranking.TimeS(res.Profile, r.Limits, res.Entries, t.class, t.massKg)
	notHeld := trip.NotHeld(t.class.ID)
	trip.IsHeld = len(notHeld) == 0 && (trip.IsKnown || t.query.AllowUnknown)
	switch {
	case len(notHeld) > 0:
		trip.Why = fmt.Sprintf("%d of its %d descents are not held", len(notHeld), len(trip.Entries))
	case !trip.IsKnown:
		trip.Why = "not known: " + trip.Unknown
	case len(trip.Entries) == 0:
		trip.Why = "no sustained downgrade"
	default:
		trip.Why = fmt.Sprintf("all %d descents are held", len(trip.Entries))
	}
	return trip, nil
}

// unknownStretches are the stretches of a profile that can't be relied on, and why.
func unknownStretches(p *routes.Profile) (why string, at [][2]float64) {
	if !p.Reliable {
		return p.Unreliable, [][2]float64{{0, p.LengthM}}
	}
	for _, d := range p.Doubtful {
		at = append(at, [2]float64{d.FromM, d.ToM})
		why = d.Why
	}
	if p.MissingM <= 0.5 {
		return why, at
	}
	why = fmt.Sprintf("%.0f m of it have no known ground", p.MissingM)
	return why, append(at, p.MissingStretches()...)
}

// NetworkFiles are the files of a road network.
type NetworkFiles struct {
	Files []string
	Lines vector.Options
}

// Graph reads the files and makes a graph with the requested places as nodes on roads that the
// vehicle may use.
func (n NetworkFiles) Graph(ctx context.Context, places []orb.Point, v network.Vehicle) (*network.Graph, []network.Snap, *network.Summary, error) {
	features, turns, summary, err := network.Collect(ctx, n.Files, n.Lines)
	if err != nil {
		return nil, nil, summary, err
	}
	g, snaps, err := network.NewGraph(features, turns, places, func(f *routes.Feature) bool {
		return v.Refusal(f, false) == "" || v.Refusal(f, true) == ""
	})
	return g, snaps, summary, err
}
