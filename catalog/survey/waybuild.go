package survey

import (
	"cmp"
	"math"
	"runtime"
	"sort"

	"golang.org/x/sync/errgroup"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/terrain"
)

// classFigures are the figures of one class for the search of a stored network.
type classFigures struct {
	class, sha256 string
	massKg        float64
	edges         []edgeCost
	hills         []keptHill
}

// edgeCost is the least cost of an edge for a class.
type edgeCost struct {
	// The time at the mass of the figures, and at any mass, without climbs; without the
	// curves near its ends.
	timeS, freeS float64
	// Time that the curves near its ends add for a way that continues along the road.
	beginS, endS float64
	// The least speed near its ends without curves, from which a turn reduces it.
	beginMPS, endMPS float64
}

// keptHill is a descent of a road as the edges under it and the road about it.
type keptHill struct {
	edges              []int32
	isHeld             bool
	heaviestKg, usePct float64
	lostS              float64
}

// buildNetwork makes the network of its roads, with the figures of classes at a mass (0:
// the upper end of each). It goes through the roads twice: at first for their lines only.
func buildNetwork(sources []store.NetworkSource, classes []vehicle.Class, massKg float64, w *catalog.Weather, each func(func(*store.NetworkRoad) error) error) (*KeptNetwork, []*classFigures, error) {
	k := &KeptNetwork{Sources: sources}
	var features []routes.Feature
	err := each(func(r *store.NetworkRoad) error {
		road := keptRoad{id: r.ID, lengthM: r.LengthM, first: len(features)}
		for _, l := range r.Lines {
			if l.IsArc { // the roundabout's own lines are roads too
				continue
			}
			features = append(features, l.Feature)
			k.at = append(k.at, keptSpan{len(k.roads), l.FromM, l.ToM, l.IsReversed})
		}
		road.last = len(features)
		k.roads = append(k.roads, road)
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	var turns []routes.Turn
	for _, s := range sources {
		turns = append(turns, s.Turns...)
	}
	if k.graph, _, err = network.NewGraph(features, turns, nil, nil); err != nil {
		return nil, nil, err
	}
	figures, err := k.figuresOf(classes, massKg, w, each)
	return k, figures, err
}

// figuresOf works out the figures of classes at a mass (0: the upper end of each), of all roads in
// the order of the network.
func (k *KeptNetwork) figuresOf(classes []vehicle.Class, massKg float64, w *catalog.Weather, each func(func(*store.NetworkRoad) error) error) ([]*classFigures, error) {
	figures := make([]*classFigures, len(classes))
	for i := range classes {
		c := &classes[i]
		figures[i] = &classFigures{class: c.ID, sha256: classMark(c, w), massKg: massKg, edges: make([]edgeCost, k.graph.Edges())}
		if massKg == 0 {
			figures[i].massKg = c.MassMaxKg
		}
	}
	ends := &edgeEnds{z: make([][2]float32, k.graph.Edges())}
	if err := k.addRoads(figures, classes, ends, each); err != nil {
		return nil, err
	}
	for _, f := range figures {
		k.levelUneven(f, ends)
	}
	return figures, nil
}

// addRoads adds the figures of each road, several roads at once: the edges are each one road's, and
// the hills stay in the order of the roads.
func (k *KeptNetwork) addRoads(figures []*classFigures, classes []vehicle.Class, ends *edgeEnds, each func(func(*store.NetworkRoad) error) error) error {
	var g errgroup.Group
	g.SetLimit(runtime.GOMAXPROCS(0))
	hills := make([][][]keptHill, len(k.roads)) // of each road, by class
	road := 0
	err := each(func(r *store.NetworkRoad) error {
		if road == len(k.roads) || k.roads[road].id != r.ID || k.roads[road].lengthM != r.LengthM {
			return otherRoads(r.ID)
		}
		at := road
		road++
		g.Go(func() error {
			p, err := r.Profile()
			if err != nil {
				return damagedRoad(r.ID, err)
			}
			k.addHeights(ends, at, p)
			hills[at] = make([][]keptHill, len(classes))
			for i := range classes {
				k.addTimes(figures[i], &classes[i], at, p)
				hills[at][i] = k.hillsOf(figures[i], at, r.Masks)
			}
			return nil
		})
		return nil
	})
	if err = cmp.Or(g.Wait(), err); err != nil {
		return err
	}
	if road < len(k.roads) {
		return otherRoads(k.roads[road].id)
	}
	for _, of := range hills[:road] {
		for i, list := range of {
			figures[i].hills = append(figures[i].hills, list...)
		}
	}
	return nil
}

// otherRoads is the fault of a search graph that was made of other roads.
func otherRoads(id string) error {
	return &store.Fault{Kind: terrain.ErrRead, Feature: "road " + id, What: "the stored search graph of the road network is of other roads", Fix: "ask again; if it stays so, survey the network again"}
}

// hillsOf are the hills of a road as a class meets them.
func (k *KeptNetwork) hillsOf(f *classFigures, road int, masks []store.Mask) []keptHill {
	var out []keptHill
	for i := range masks {
		m := &masks[i]
		if m.Class != f.class || m.ClassSHA256 != f.sha256 || m.MassKg != f.massKg {
			continue
		}
		for j := range m.Stretches {
			s := &m.Stretches[j]
			if seq := k.sequence(road, s); len(seq) > 0 {
				out = append(out, keptHill{seq, s.Held, s.HeaviestMassKg, s.RetarderUsePct, s.LostS})
			}
		}
	}
	return out
}

// sequence are the edges under a stretch of a road and contextM about it, through
// roundabouts; none where a way can't take them.
func (k *KeptNetwork) sequence(road int, s *store.MaskStretch) []int32 {
	lo, hi := math.Min(s.FromM, s.ToM)-network.ContextM, math.Max(s.FromM, s.ToM)+network.ContextM
	if lo < 0 || hi > k.roads[road].lengthM {
		return nil // another road before or after it may make another hill of it
	}
	isBack := s.Direction == routes.Backward
	type placed struct {
		edge       int32
		fromM, toM float64
	}
	var list []placed
	for f := k.roads[road].first; f < k.roads[road].last; f++ {
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
			if isRing(k.graph, e) {
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

func isRing(g *network.Graph, e int32) bool {
	j := g.Feature(e).Tags["junction"]
	return j == "roundabout" || j == "circular"
}
