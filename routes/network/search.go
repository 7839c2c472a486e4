package network

import (
	"context"
	"math"
)

// search finds the cheapest way through the stops, over edges and not over nodes, so
// that turn rules hold. A label is an edge, the state of the bans after the way to it,
// and the number of passed stops.
type search struct {
	g        *Graph
	q        *Query
	guide    *guide
	bans     *bans // of the graph
	found    *bans // of the query
	labels   []label
	known    map[labelKey]int32
	plain    map[int32]int32 // label of an edge in the initial state of the bans, which is the usual case
	heap     edgeHeap
	stops    []int32
	expanded int
}

// labelKey identifies ways to an edge that are equivalent for the rest of the search.
type labelKey struct {
	edge         int32
	state, found int32 // state of both bans
	leg          int32 // stops passed
}

type label struct {
	labelKey
	cost   float64
	before int32 // label; -1 at the start
	isDone bool
}

type heapItem struct {
	estimate float64
	label    int32
}

// cheapest returns the cheapest way that is allowed by the bans of the graph and of the query;
// false if there is none. The cost is of the edges, turns and sequences.
func (g *Graph) cheapest(ctx context.Context, q *Query, u *guide, found *bans) (Way, float64, bool, error) {
	s := &search{g: g, q: q, guide: u, bans: g.rules, found: found, known: map[labelKey]int32{}, plain: map[int32]int32{}, stops: g.stops}
	return s.run(ctx)
}

func (s *search) run(ctx context.Context) (Way, float64, bool, error) {
	for _, e := range s.g.leaving(s.stops[0]) {
		s.reach(e, -1)
	}
	for len(s.heap) > 0 {
		if s.expanded++; s.expanded%4096 == 0 && ctx.Err() != nil {
			return Way{}, 0, false, ctx.Err()
		}
		i := s.heap.pop().label
		l := &s.labels[i]
		if l.isDone {
			continue
		}
		l.isDone = true
		if int(l.leg) == len(s.stops)-1 {
			return s.way(i), l.cost, true, nil
		}
		at := s.g.edge(l.edge).To
		for _, e := range s.g.leaving(at) {
			if s.g.edge(s.labels[i].edge).twin != e {
				s.reach(e, i)
			}
		}
	}
	return Way{}, 0, false, nil
}

// reach adds an edge as the next after a label, -1 at the start.
func (s *search) reach(e, before int32) {
	cost := s.q.EdgeCost[e]
	var key labelKey
	if before >= 0 {
		b := &s.labels[before]
		cost, key = cost+b.cost+s.q.turnCost(b.edge, e), b.labelKey
	}
	if math.IsInf(cost, 1) {
		return
	}
	key.edge, key.state, key.found = e, s.bans.step(key.state, e), s.found.step(key.found, e)
	if cost += s.bans.cost[key.state] + s.found.cost[key.found]; math.IsInf(cost, 1) {
		return
	}
	to := s.g.edge(e).To
	for int(key.leg) < len(s.stops)-1 && s.stops[key.leg+1] == to {
		key.leg++
	}
	rest := 0.0
	if int(key.leg) < len(s.stops)-1 {
		if rest = s.guide.rest(e, key.leg); math.IsInf(rest, 1) {
			return
		}
	}
	i := s.labelOf(key)
	l := &s.labels[i]
	if l.isDone || cost >= l.cost {
		return
	}
	l.cost, l.before = cost, before
	s.heap.push(heapItem{cost + rest, i})
}

// labelOf finds or makes the label of a key.
func (s *search) labelOf(key labelKey) int32 {
	n := int32(len(s.labels))
	if key.state == 0 && key.found == 0 && key.leg == 0 {
		if i, ok := s.plain[key.edge]; ok {
			return i
		}
		s.plain[key.edge] = n
	} else {
		if i, ok := s.known[key]; ok {
			return i
		}
		s.known[key] = n
	}
	s.labels = append(s.labels, label{labelKey: key, cost: math.Inf(1), before: -1})
	return n
}

func (s *search) way(i int32) Way {
	var w Way
	for ; i >= 0; i = s.labels[i].before {
		w.Edges = append(w.Edges, s.labels[i].edge)
	}
	for a, b := 0, len(w.Edges)-1; a < b; a, b = a+1, b-1 {
		w.Edges[a], w.Edges[b] = w.Edges[b], w.Edges[a]
	}
	for _, e := range w.Edges {
		w.LengthM += s.g.edge(e).LengthM
	}
	return w
}

// before orders the heap: ties by label, so that a query always has the same answer.
func (a heapItem) before(b heapItem) bool {
	if a.estimate != b.estimate {
		return a.estimate < b.estimate
	}
	return a.label < b.label
}

// edgeHeap has the least estimate on top.
type edgeHeap []heapItem

func (h *edgeHeap) push(x heapItem) {
	*h = append(*h, x)
	list, i := *h, len(*h)-1
	for i > 0 {
		up := (i - 1) / 2
		if !x.before(list[up]) {
			break
		}
		list[i] = list[up]
		i = up
	}
	list[i] = x
}

func (h *edgeHeap) pop() heapItem {
	list := *h
	top, n := list[0], len(list)-1
	x := list[n]
	list = list[:n]
	*h = list
	if n == 0 {
		return top
	}
	i := 0
	for {
		down := 2*i + 1
		if down >= n {
			break
		}
		if down+1 < n && list[down+1].before(list[down]) {
			down++
		}
		if !list[down].before(x) {
			break
		}
		list[i] = list[down]
		i = down
	}
	list[i] = x
	return top
}
