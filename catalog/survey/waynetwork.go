package survey

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sort"
	"sync"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/ranking"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// KeptNetwork is the road network of a catalogue, ready for queries of one class. It is
// not for concurrent use.
type KeptNetwork struct {
	Sources []store.NetworkSource
	graph   *network.Graph
	roads   []keptRoad
	at      []keptSpan // by line of the graph
	class   *vehicle.Class
	massKg  float64
	timeS   []float64 // the least that each edge takes
	rules   map[rulesKey]*network.Graph
	// A query is answered once slackAfter ways were looked at and none can be better by
	// more than slackShare; the answer says by how much.
	slackShare float64
	slackAfter int
}

// keptRoad is a road with its grade line, unpacked when it is first asked for.
type keptRoad struct {
	store.NetworkRoad
	lines    []int // of the graph, in the order of the road
	isOpened bool
	profile  *routes.Profile
}

// keptSpan is where a line of the graph lies on its road.
type keptSpan struct {
	road       int
	fromM, toM float64
	isReversed bool
}

// rulesKey says for which question the rules of the masks were made.
type rulesKey struct {
	prefer ranking.Prefer
	step   int
}

// OpenNetwork reads the network of a catalogue for a class at a mass (0: its upper end).
func OpenNetwork(ctx context.Context, cat *store.Catalog, class *vehicle.Class, massKg float64) (*KeptNetwork, error) {
	n, err := cat.Network(ctx)
	if err != nil {
		return nil, err
	}
	if len(n.Roads) == 0 {
		return nil, &catalog.Fault{Kind: catalog.ErrNotFound, File: cat.Path(), What: "the catalogue has no road network", Fix: "survey an OpenStreetMap extract or a file of joined lines into it, or name the network and its terrain"}
	}
	if massKg == 0 {
		massKg = class.MassMaxKg
	}
	k := &KeptNetwork{Sources: n.Sources, class: class, massKg: massKg, rules: map[rulesKey]*network.Graph{}, slackShare: keptSlackShare, slackAfter: keptSlackAfter}
	var features []routes.Feature
	for i := range n.Roads {
		r := keptRoad{NetworkRoad: n.Roads[i]}
		for _, l := range r.Lines {
			if l.IsArc { // the roundabout's own lines are roads too
				continue
			}
			r.lines = append(r.lines, len(features))
			features = append(features, l.Feature)
			k.at = append(k.at, keptSpan{i, l.FromM, l.ToM, l.IsReversed})
		}
		k.roads = append(k.roads, r)
	}
	var turns []routes.Turn
	for _, s := range n.Sources {
		turns = append(turns, s.Turns...)
	}
	if k.graph, _, err = network.NewGraph(features, turns, nil, nil); err != nil {
		return nil, err
	}
	return k, k.measure(ctx)
}

// measure works out the least time of each edge, road by road on all cores.
func (k *KeptNetwork) measure(ctx context.Context) error {
	k.timeS = make([]float64, k.graph.Edges())
	workers := runtime.GOMAXPROCS(0)
	var wg sync.WaitGroup
	errs := make([]error, workers)
	for w := range workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := w; i < len(k.roads) && errs[w] == nil; i += workers {
				if errs[w] = ctx.Err(); errs[w] == nil {
					errs[w] = k.measureRoad(i)
				}
			}
		}()
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func (k *KeptNetwork) measureRoad(i int) error {
	p, err := k.roads[i].Profile()
	if err != nil {
		return k.damaged(i, err)
	}
	for _, f := range k.roads[i].lines {
		from, to := k.graph.EdgesOf(f)
		for e := from; e < to; e++ {
			k.timeS[e] = k.edgeTimeS(k.graph, e, p)
		}
	}
	return nil
}

func (k *KeptNetwork) damaged(road int, err error) error {
	return &catalog.Fault{Kind: terrain.ErrRead, Feature: "road " + k.roads[road].ID, What: "its stored grade line cannot be read", Err: err, Fix: "survey the network again"}
}

// edgeTimeS is the time of an edge at the speed without descents. Less than a part in a
// thousand is taken off, since a way's own stations lie elsewhere.
func (k *KeptNetwork) edgeTimeS(g *network.Graph, e int32, p *routes.Profile) float64 {
	edge := g.Edge(e)
	limit, _ := stationing.LimitMPS(g.Feature(e).Tags, edge.IsReversed)
	freeS := edge.LengthM / ranking.EdgeSpeedMPS(k.class, limit)
	if p == nil {
		return freeS
	}
	fromM, toM := k.stations(g, e)
	dir := routes.Forward
	if fromM > toM {
		fromM, toM, dir = toM, fromM, routes.Backward
	}
	sum := 0.0
	for i := max(0, int(p.IndexFromStationM(fromM))); i+1 < p.Count() && p.StationM(i) < toM; i++ {
		overlapM := math.Min(toM, p.StationM(i+1)) - math.Max(fromM, p.StationM(i))
		if overlapM > 0 {
			sum += overlapM / ranking.FreeSpeedMPS(p, i, dir, limit, k.class, k.massKg)
		}
	}
	return math.Max(freeS, sum) * 0.999
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

// opened returns a road's grade line; nil where it has none.
func (k *KeptNetwork) opened(road int) (*routes.Profile, error) {
	r := &k.roads[road]
	if !r.isOpened {
		p, err := r.Profile()
		if err != nil {
			return nil, k.damaged(road, err)
		}
		r.profile, r.isOpened = p, true
	}
	return r.profile, nil
}

// FindTrips finds the best ways between places; the query's class and mass are those
// that the network was opened for.
func (k *KeptNetwork) FindTrips(ctx context.Context, places []orb.Point, q TripQuery) (*Trips, []network.Snap, error) {
	isUsable := func(f *routes.Feature) bool {
		return q.Vehicle.Refusal(f, false) == "" || q.Vehicle.Refusal(f, true) == ""
	}
	base, snaps, err := k.graph.At(places, isUsable)
	if err != nil {
		return nil, nil, err
	}
	t := newTripper(base, q)
	t.result = func(ctx context.Context, w network.Way, r *routes.Route) Result {
		return k.result(ctx, base, w, r, t.query.Options)
	}
	t.timeS = func(e int32) float64 {
		if int(e) < len(k.timeS) {
			return k.timeS[e]
		}
		p, err := k.opened(k.at[base.Base(e)].road)
		if err != nil {
			return 0 // the way's own survey says so
		}
		return k.edgeTimeS(base, e, p)
	}
	t.ruled = func(step int) (*network.Graph, error) {
		key := rulesKey{q.Prefer, step}
		if k.rules[key] == nil {
			k.rules[key] = k.graph.WithRules(k.maskRules(q.Prefer, step))
		}
		g, _, err := k.rules[key].At(places, isUsable)
		return g, err
	}
	t.slackShare, t.slackAfter = k.slackShare, k.slackAfter
	out, err := t.find(ctx)
	return out, snaps, err
}

const (
	keptSlackShare = 0.01
	keptSlackAfter = 8
)

// maskRules are the hills of the masks as sequences of edges: those that do not hold, or
// leave less margin than asked for, are banned with the road about them; the others cost
// the time that the advised speed takes.
func (k *KeptNetwork) maskRules(prefer ranking.Prefer, step int) []network.Rule {
	sha := store.ClassSHA256(mustJSON(k.class.View()))
	var out []network.Rule
	for i := range k.roads {
		for _, m := range k.roads[i].Masks {
			if m.Class != k.class.ID || m.ClassSHA256 != sha {
				continue
			}
			for _, s := range m.Stretches {
				cost := k.maskCost(&m, &s, prefer, step)
				if cost == 0 {
					continue
				}
				if seq := k.sequence(i, &s); len(seq) > 0 {
					out = append(out, network.Rule{Edges: seq, Cost: cost})
				}
			}
		}
	}
	return out
}

// maskCost is what a stretch costs at the least: +Inf where the truck is not held.
func (k *KeptNetwork) maskCost(m *store.Mask, s *store.MaskStretch, prefer ranking.Prefer, step int) float64 {
	const rounding = 1.001 // of the heaviest mass
	isSame, isHeavier := k.massKg == m.MassKg, k.massKg >= m.MassKg
	switch {
	case !s.Held && isHeavier, s.HeaviestMassKg*rounding < k.massKg:
		return math.Inf(1)
	case isSame && s.Held && math.Floor((100-s.RetarderUsePct)/10+1e-9) < float64(step):
		return math.Inf(1)
	case s.Held && isHeavier && prefer != ranking.PreferLength:
		return s.LostS * 0.95 // the same hill entered elsewhere may be a little shorter
	}
	return 0
}

// sequence are the edges under a stretch of a road and contextM about it, through
// roundabouts; none where a way can't take them.
func (k *KeptNetwork) sequence(road int, s *store.MaskStretch) []int32 {
	lo, hi := math.Min(s.FromM, s.ToM)-network.ContextM, math.Max(s.FromM, s.ToM)+network.ContextM
	if lo < 0 || hi > k.roads[road].LengthM {
		return nil // another road before or after it may make another hill of it
	}
	isBack := s.Direction == routes.Backward
	type placed struct {
		edge       int32
		fromM, toM float64
	}
	var list []placed
	for _, f := range k.roads[road].lines {
		span := k.at[f]
		if span.toM <= lo || span.fromM >= hi {
			continue
		}
		from, to := k.graph.EdgesOf(f)
		for e := from; e < to; e++ {
			a, b := k.stations(k.graph, e)
			if (b < a) == isBack && math.Max(a, b) > lo && math.Min(a, b) < hi {
				list = append(list, placed{e, a, b})
			}
		}
	}
	sort.SliceStable(list, func(i, j int) bool { return (list[i].fromM < list[j].fromM) != isBack })
	var out []int32
	for i := range list {
		if i > 0 && k.graph.Edge(list[i-1].edge).To != k.graph.Edge(list[i].edge).From {
			ring := k.ringBetween(list[i-1].edge, list[i].edge)
			if ring == nil {
				return nil
			}
			out = append(out, ring...)
		}
		out = append(out, list[i].edge)
	}
	return out
}

// ringBetween follows a roundabout from one edge's end to another's beginning; nil where
// there is none.
func (k *KeptNetwork) ringBetween(from, to int32) []int32 {
	const most = 60
	var out []int32
	for at := from; len(out) < most; {
		next := int32(-1)
		for _, e := range k.graph.Leaving(at) {
			if j := k.graph.Feature(e).Tags["junction"]; j == "roundabout" || j == "circular" {
				next = e
			}
		}
		if next < 0 {
			return nil
		}
		out = append(out, next)
		if at = next; k.graph.Edge(at).To == k.graph.Edge(to).From {
			return out
		}
	}
	return nil
}

// result is the survey of a way from the stored grade lines of its roads.
func (k *KeptNetwork) result(ctx context.Context, g *network.Graph, w network.Way, r *routes.Route, o Options) Result {
	res := Result{Route: *r}
	p, err := k.stitch(g, w, r)
	if err == nil {
		err = ctx.Err()
	}
	if err != nil {
		res.Err = err
		return res
	}
	res.Stations = p.Count()
	if p.MissingM >= p.LengthM {
		res.Err = fmt.Errorf("no grade line of its roads is kept")
		return res
	}
	res.describe(p, r, o)
	return res
}
