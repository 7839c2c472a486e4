package survey

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/ranking"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/terrain"
)

// KeptNetwork is the road network of a catalogue, ready for queries of one class. The
// catalogue must stay open: grade lines are read when a way first needs them. It is not
// for concurrent use.
type KeptNetwork struct {
	Sources []store.NetworkSource
	Note    string // what its user should know of it; empty: nothing
	cat     *store.Catalog
	graph   *network.Graph
	roads   []keptRoad
	at      []keptSpan // by line of the graph
	class   *vehicle.Class
	massKg  float64
	figures *classFigures
	turns   *turnTable
	// Of edges that the places of a query have made.
	cuts     map[int32]*edgeCost
	cutTurns map[int32]*edgeTurn
	refused  map[network.Vehicle][]bool // edges, by vehicle
	rules    map[rulesKey]*network.Rules
	// A query is answered after slackAfter ways, if none can be better by more than slackShare; the
	// answer states the possible difference.
	slackShare float64
	slackAfter int
}

// keptRoad is a road with its grade line, which is read on first use.
type keptRoad struct {
	id          string
	lengthM     float64
	first, last int // lines of the graph: from first up to last
	isOpened    bool
	profile     *routes.Profile // nil where it has none
}

// keptSpan is the position of a line of the graph on its road.
type keptSpan struct {
	road       int
	fromM, toM float64
	isReversed bool
}

// rulesKey says for which question the rules of the search were made.
type rulesKey struct {
	prefer ranking.Prefer
	step   int
}

const (
	keptSlackShare = 0.01
	keptSlackAfter = 1
)

// OpenNetwork reads the network of a catalogue for a class at a mass (0: its upper end) in a weather
// (nil: the usual one).
// It takes longer for a class that the network was not surveyed with: then all roads are
// read, and Note says so.
func OpenNetwork(ctx context.Context, cat *store.Catalog, class *vehicle.Class, massKg float64, w *catalog.Weather) (*KeptNetwork, error) {
	sources, parts, err := cat.NetworkParts(ctx, graphPart, classPart(class, w))
	if err != nil {
		return nil, err
	}
	var k *KeptNetwork
	if parts[graphPart] != nil && parts[classPart(class, w)] != nil {
		if k, err = unpackNetwork(parts[graphPart], parts[classPart(class, w)]); err != nil {
			return nil, err
		}
	} else if k, err = networkOfRoads(ctx, cat, parts[graphPart], class, massKg, w); err != nil {
		return nil, err
	} else {
		sources = k.Sources
		k.Note = fmt.Sprintf("the road network was not surveyed with class %s as it is now, for this weather: all roads were read and its hills are looked for on each way, which takes longer; survey the network with it to keep them", class.ID)
		if parts[graphPart] == nil {
			k.Note = "the catalogue keeps no search graph of its road network: all roads were read, which takes longer; survey the network again to keep one"
		}
	}
	if massKg == 0 {
		massKg = class.MassMaxKg
	}
	k.Sources, k.cat, k.class, k.massKg = sources, cat, class, massKg
	k.turns = newTurnTable(class, k.graph.Edges())
	k.refused, k.rules = map[network.Vehicle][]bool{}, map[rulesKey]*network.Rules{}
	k.slackShare, k.slackAfter = keptSlackShare, keptSlackAfter
	return k, nil
}

// networkOfRoads makes the network of a class from all the roads of a catalogue, with the stored
// graph where there is one.
func networkOfRoads(ctx context.Context, cat *store.Catalog, graph []byte, class *vehicle.Class, massKg float64, w *catalog.Weather) (k *KeptNetwork, err error) {
	err = cat.ReadNetwork(ctx, func(sources []store.NetworkSource, each func(func(*store.NetworkRoad) error) error) error {
		var figures []*classFigures
		var err error
		if graph != nil {
			if k, err = unpackGraph(graph); err == nil {
				figures, err = k.figuresOf([]vehicle.Class{*class}, massKg, w, each)
			}
		} else {
			k, figures, err = buildNetwork(sources, []vehicle.Class{*class}, massKg, w, each)
		}
		if err != nil {
			return err
		}
		if len(k.roads) == 0 {
			return &catalog.Fault{Kind: catalog.ErrNotFound, File: cat.Path(), What: "the catalogue has no road network", Fix: "survey an OpenStreetMap extract or a file of joined lines into it, or name the network and its terrain"}
		}
		k.Sources, k.figures = sources, figures[0]
		return nil
	})
	return k, err
}

// stations are those of an edge on its road, in travel.
func (k *KeptNetwork) stations(g *network.Graph, e int32) (fromM, toM float64) {
	s := k.at[g.Base(e)]
	a, b := g.PartOf(e)
	if g.Edge(e).IsReversed {
		a, b = b, a
	}
	if s.isReversed {
		a, b = 1-a, 1-b
	}
	return s.fromM + a*(s.toM-s.fromM), s.fromM + b*(s.toM-s.fromM)
}

// openRoads reads the grade lines of the roads of a way that were not read before.
func (k *KeptNetwork) openRoads(ctx context.Context, g *network.Graph, w network.Way) error {
	var numbers []int
	for _, e := range w.Edges {
		if road := k.at[g.Base(e)].road; !k.roads[road].isOpened && !slices.Contains(numbers, road) {
			numbers = append(numbers, road)
		}
	}
	ids := make([]string, len(numbers))
	for i, n := range numbers {
		ids[i] = k.roads[n].id
	}
	list, err := k.cat.NetworkRoads(ctx, ids)
	if err != nil {
		return err
	}
	for i, n := range numbers {
		r := &k.roads[n]
		if list[i].LengthM != r.lengthM {
			return &catalog.Fault{Kind: terrain.ErrRead, File: k.cat.Path(), Feature: "road " + r.id, What: "it changed since the network was opened", Fix: "ask again"}
		}
		if r.profile, err = list[i].Profile(); err != nil {
			return damagedRoad(r.id, err)
		}
		r.isOpened = true
	}
	return nil
}

func damagedRoad(id string, err error) error {
	return &catalog.Fault{Kind: terrain.ErrRead, Feature: "road " + id, What: "its stored grade line cannot be read", Err: err, Fix: "survey the network again"}
}

// FindTrips finds the best ways between places; the query's class and mass are those
// that the network was opened for.
func (k *KeptNetwork) FindTrips(ctx context.Context, places []orb.Point, q TripQuery) (*Trips, []network.Snap, error) {
	t, snaps, err := k.tripper(ctx, places, q)
	if err != nil {
		return nil, nil, err
	}
	out, err := t.find(ctx)
	return out, snaps, err
}

// tripper prepares a query.
func (k *KeptNetwork) tripper(ctx context.Context, places []orb.Point, q TripQuery) (*tripper, []network.Snap, error) {
	base, snaps, err := k.graph.WithPlaces(places, func(f *routes.Feature) bool {
		return q.Vehicle.Refusal(f, false) == "" || q.Vehicle.Refusal(f, true) == ""
	})
	if err != nil {
		return nil, nil, err
	}
	if err := k.costCuts(ctx, base); err != nil {
		return nil, nil, err
	}
	t := newTripper(base, q)
	t.result = func(ctx context.Context, w network.Way, r *routes.Route) Result {
		return k.result(ctx, base, w, r, t.query.Options)
	}
	times, refused := k.edgeTimes(), k.refusedBy(q.Vehicle)
	t.timeS = func(e int32) float64 {
		if int(e) < len(times) {
			return times[e]
		}
		return k.costOf(base, e).timeS
	}
	t.isRefused = func(e int32) bool {
		if int(e) < len(refused) {
			return refused[e]
		}
		return q.Vehicle.Refusal(base.Feature(e), base.Edge(e).IsReversed) != ""
	}
	t.turnS = func(from, to int32) float64 { return k.turnS(base, from, to) }
	t.ruled = func(step int) (*network.Graph, error) {
		key := rulesKey{q.Prefer, step}
		if k.rules[key] == nil {
			k.rules[key] = k.graph.MakeRules(k.maskRules(q.Prefer, step))
		}
		return base.WithRules(k.rules[key]), nil
	}
	t.slackShare, t.slackAfter = k.slackShare, k.slackAfter
	if q.Prefer != ranking.PreferLength {
		t.overstated = overstatedS
	}
	t.forQuery = func(ctx context.Context, q TripQuery) (*tripper, error) {
		other, err := OpenNetwork(ctx, k.cat, &q.Classes[0], q.MassKg, q.Weather)
		if err != nil {
			return nil, err
		}
		t, _, err := other.tripper(ctx, places, q)
		return t, err
	}
	return t, snaps, nil
}

// costCuts reads the grade lines of the roads that places have cut.
func (k *KeptNetwork) costCuts(ctx context.Context, g *network.Graph) error {
	k.cuts, k.cutTurns = map[int32]*edgeCost{}, map[int32]*edgeTurn{}
	var w network.Way
	for e := k.graph.Edges(); e < g.Edges(); e++ {
		w.Edges = append(w.Edges, int32(e))
	}
	return k.openRoads(ctx, g, w)
}

// refusedBy says for each edge whether a vehicle may not use it.
func (k *KeptNetwork) refusedBy(v network.Vehicle) []bool {
	if list, ok := k.refused[v]; ok {
		return list
	}
	list := make([]bool, k.graph.Edges())
	for e := range int32(len(list)) {
		if k.graph.StatesLimits(e) {
			list[e] = v.Refusal(k.graph.Feature(e), k.graph.Edge(e).IsReversed) != ""
		}
	}
	k.refused[v] = list
	return list
}

// maskRules are the hills of the roads as sequences of edges: hills that are not held, or with less
// margin than wanted, are banned together with the road around them. The others cost the time at
// the advised speed.
func (k *KeptNetwork) maskRules(prefer ranking.Prefer, step int) []network.Rule {
	var out []network.Rule
	for i := range k.figures.hills {
		h := &k.figures.hills[i]
		if cost := k.hillCost(h, prefer, step); cost > 0 {
			out = append(out, network.Rule{Edges: h.edges, Cost: cost})
		}
	}
	return out
}

// hillCost is the least cost of a hill: +Inf where the truck is not held.
func (k *KeptNetwork) hillCost(h *keptHill, prefer ranking.Prefer, step int) float64 {
	const rounding = 1.001 // of the heaviest mass
	isSame, isHeavier := k.massKg == k.figures.massKg, k.massKg >= k.figures.massKg
	switch {
	case !h.isHeld && isHeavier, h.heaviestKg*rounding < k.massKg:
		return math.Inf(1)
	case isSame && h.isHeld && math.Floor((100-h.usePct)/10+1e-9) < float64(step):
		return math.Inf(1)
	case h.isHeld && isHeavier && prefer != ranking.PreferLength:
		return h.lostS * 0.95 // the same hill may be a little shorter when entered elsewhere
	}
	return 0
}

// result is the survey of a way from the stored grade lines of its roads.
func (k *KeptNetwork) result(ctx context.Context, g *network.Graph, w network.Way, r *routes.Route, o Options) Result {
	res := Result{Route: *r}
	if res.Err = k.openRoads(ctx, g, w); res.Err != nil {
		return res
	}
	p := k.stitch(g, w, r)
	res.Stations = p.Count()
	if p.MissingM >= p.LengthM {
		res.Err = fmt.Errorf("its roads have no stored grade line")
		return res
	}
	res.describe(p, r, o)
	return res
}
