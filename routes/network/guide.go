package network

import (
	"context"
	"math"

	"github.com/paulmach/orb"
)

// A search knows for each edge the least cost of the rest of the way from its end, so that it
// examines only edges of ways that can be the best. The costs come from a search backwards from
// each stop, over edge costs and turns but without banned sequences, which can only raise a cost.

// guide is the least cost of the rest of a way, by leg between two stops.
type guide struct {
	g     *Graph
	costs []float64
	perM  float64 // no edge costs less a metre
	plane plane   // plane in which no two places of the graph are farther apart than on the ground
	legs  []guideLeg
}

// guideLeg is the backward search of one leg.
type guideLeg struct {
	rest      []restCost // from the end of each edge to the end of the leg
	start     orb.Point  // where the leg begins
	reach     float64    // least cost from the leg's start to an edge that was not reached
	afterCost float64    // of the legs that follow
}

// restCost is the least cost from the end of an edge. Until it is final it may still become less.
type restCost struct {
	cost    float64
	isFinal bool
}

// guideMargin: the backward search continues to ways that cost this much more than the best, since
// the ways after the best are needed too.
const guideMargin = 1.15

// newGuide searches backwards from all stops.
func newGuide(ctx context.Context, g *Graph, q *Query) (*guide, error) {
	u := &guide{g: g, costs: q.EdgeCost, perM: math.Inf(1), plane: planeAt(g.mostDeg), legs: make([]guideLeg, len(g.stops)-1)}
	for i, c := range q.EdgeCost {
		if e := g.edge(int32(i)); c < u.perM*e.LengthM {
			u.perM = c / e.LengthM
		}
	}
	after := 0.0
	for leg := len(u.legs) - 1; leg >= 0; leg-- {
		l := &u.legs[leg]
		l.afterCost = after
		best, err := u.search(ctx, l, q, g.stops[leg], g.stops[leg+1])
		if err != nil {
			return nil, err
		}
		after += best
	}
	return u, nil
}

// search fills a leg and returns the least that it costs; +Inf where there is no way.
func (u *guide) search(ctx context.Context, l *guideLeg, q *Query, from, to int32) (float64, error) {
	g := u.g
	l.start = g.points[from]
	l.rest = make([]restCost, g.Edges())
	for i := range l.rest {
		l.rest[i].cost = math.Inf(1)
	}
	l.reach = math.Inf(1)
	if from == to {
		l.reach = 0
		return 0, nil
	}
	var heap edgeHeap
	add := func(e int32, rest float64) {
		if rest < l.rest[e].cost {
			l.rest[e].cost = rest
			heap.push(heapItem{rest + q.EdgeCost[e] + u.least(g.points[g.edge(e).From], l.start), e})
		}
	}
	for _, e := range g.arriving(to) {
		if !math.IsInf(q.EdgeCost[e], 1) {
			add(e, 0)
		}
	}
	best := math.Inf(1)
	for n := 0; len(heap) > 0; n++ {
		if n%4096 == 0 && ctx.Err() != nil {
			return 0, ctx.Err()
		}
		at := heap.pop()
		if at.estimate > best*guideMargin {
			l.reach = at.estimate
			break
		}
		b := at.label
		if l.rest[b].isFinal {
			continue
		}
		l.rest[b].isFinal = true
		e := g.edge(b)
		if e.From == from {
			best = math.Min(best, at.estimate)
		}
		cost := q.EdgeCost[b] + l.rest[b].cost
		for _, a := range g.arriving(e.From) {
			if k := &l.rest[a]; e.twin != a && !k.isFinal && cost < k.cost && !math.IsInf(q.EdgeCost[a], 1) {
				add(a, cost+q.turnCost(a, b))
			}
		}
	}
	return best, nil
}

// least is a lower limit of the cost of a way between two places. The .99 covers the difference of
// a sphere and the ellipsoid. One plane for all keeps the estimate consistent from edge to edge.
func (u *guide) least(from, to orb.Point) float64 {
	x, y := u.plane.vector(from, to)
	return 0.99 * u.perM * math.Sqrt(x*x+y*y)
}

// rest is a lower limit of the cost of the rest of a way after an edge, in a leg; +Inf where the
// edge does not lead to the stop.
func (u *guide) rest(edge, leg int32) float64 {
	if int(leg) == len(u.legs) {
		return 0
	}
	l := &u.legs[leg]
	if l.rest[edge].isFinal {
		return l.rest[edge].cost + l.afterCost
	}
	if math.IsInf(l.reach, 1) {
		return l.reach
	}
	// An unfinished edge costs at least reach, with the shortest way to it.
	before := u.costs[edge] + u.least(u.g.points[u.g.edge(edge).From], l.start)
	return math.Max(0, l.reach-before) + l.afterCost
}
