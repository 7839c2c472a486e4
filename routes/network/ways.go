package network

import (
	"context"
	"math"
	"slices"
)

// Verdict is the result of the survey of a way as one line.
type Verdict struct {
	IsHeld bool
	// Cost is the figure by which ways are ranked; it is never less than the sum of the query's
	// costs.
	Cost float64
	// FailedM are the stretches of the way, by station, that are not held. None, where the way is
	// not held, means the complete way.
	FailedM [][2]float64
}

// Query asks for the best way through the graph's places.
type Query struct {
	// EdgeCost is the least cost of an edge; +Inf where it may not be used.
	EdgeCost []float64
	// TurnCost is the least additional cost from one edge to the next; nil: none.
	TurnCost func(from, to int32) float64
	// Judge surveys a way as one line.
	Judge func(context.Context, Way) (Verdict, error)
	// OverstatedCost is the amount by which the costs of a way's edges and turns may together
	// exceed its cost.
	OverstatedCost float64
	// MostSurveys limits the surveys of a search without proof; 0 is DefaultSurveys.
	MostSurveys int
	// After this number of surveys a way counts as the best if no other can beat it by more than
	// SlackShare of its cost; 0: it must be proven the best.
	SlackShare float64
	SlackAfter int
	// contextM is the length of road before and after a failed stretch that counts as part of it.
	contextM float64
}

func (q *Query) turnCost(from, to int32) float64 {
	if q.TurnCost == nil {
		return 0
	}
	return q.TurnCost(from, to)
}

// DefaultSurveys is the largest number of ways that one query surveys.
const DefaultSurveys = 200

// ContextM: the hold of a stretch depends on 100 m of road beyond it, and the ends of a descent on
// the relief near them. 300 m covers both on every network that was compared with all its ways.
const ContextM = 300.0

// Found is the answer to a query.
type Found struct {
	Best     *Way // nil if no held way was found
	Cost     float64
	Surveyed int
	// IsProven is true if no other way can be better, or, without a best way, if none is held;
	// false where the search stopped early.
	IsProven bool
	// GapShare is the largest share of its cost by which another way could be better; 0 if it is
	// proven the best.
	GapShare float64
	// First is the way that would be best by the edge costs alone, whether it is held or
	// not; nil if the places are not connected.
	First *Way
}

// Best finds the way of the least cost that is held. Ways are tried in the order of
// their edge costs; each is surveyed as one line. A failed stretch is banned with the
// road around it, and a held way is banned completely. The search continues until the
// edge costs of the next way reach the cost of the best. No later way can be better,
// because edge costs never overstate.
func (g *Graph) Best(ctx context.Context, q Query) (Found, error) {
	var out Found
	b := newBans()
	most := q.MostSurveys
	if most == 0 {
		most = DefaultSurveys
	}
	if q.contextM == 0 {
		q.contextM = ContextM
	}
	if len(g.stops) < 2 || slices.Equal(g.stops[1:], g.stops[:len(g.stops)-1]) {
		out.IsProven = true
		return out, nil
	}
	guide, err := newGuide(ctx, g, &q)
	if err != nil {
		return out, err
	}
	first, err := g.withoutRules(ctx, &q, guide)
	if err != nil || first == nil {
		out.IsProven = err == nil
		return out, err
	}
	out.First = first
	for {
		w, cost, ok, err := g.cheapest(ctx, &q, guide, b)
		if err != nil {
			return out, err
		}
		cost -= q.OverstatedCost
		if out.GapShare = 0; ok && out.Best != nil {
			out.GapShare = math.Max(0, (out.Cost-cost)/out.Cost)
		}
		if !ok || out.Best != nil && cost >= out.Cost*(1-1e-12) {
			out.IsProven = true
			return out, nil
		}
		if from, to, isTwice := repeats(w.Edges); isTwice {
			b = b.with(w.Edges[from : to+1])
			continue
		}
		if out.Surveyed == most || out.Best != nil && out.Surveyed >= q.SlackAfter && out.GapShare <= q.SlackShare {
			return out, nil
		}
		out.Surveyed++
		v, err := q.Judge(ctx, w)
		if err != nil {
			return out, err
		}
		out.add(w, v)
		if v.IsHeld {
			v.FailedM = nil // the complete way is banned
		}
		b = b.with(g.failing(w, v.FailedM, q.contextM)...)
	}
}

// withoutRules is the cheapest way by the costs and turn rules alone; nil if there is none
// that takes no edge twice.
func (g *Graph) withoutRules(ctx context.Context, q *Query, guide *guide) (*Way, error) {
	plain := *g
	plain.rules = g.bans
	for b := newBans(); ; {
		w, _, ok, err := plain.cheapest(ctx, q, guide, b)
		if err != nil || !ok {
			return nil, err
		}
		from, to, isTwice := repeats(w.Edges)
		if !isTwice {
			return &w, nil
		}
		b = b.with(w.Edges[from : to+1])
	}
}

// add includes a judged way.
func (f *Found) add(w Way, v Verdict) {
	if v.IsHeld && (f.Best == nil || v.Cost < f.Cost) {
		f.Best, f.Cost = &w, v.Cost
	}
}

// repeats finds the first edge that a way uses twice.
func repeats(edges []int32) (from, to int, isTwice bool) {
	seen := map[int32]int{}
	for i, e := range edges {
		if k, ok := seen[e]; ok {
			return k, i, true
		}
		seen[e] = i
	}
	return 0, 0, false
}

// failing are the edges under each stretch and contextM around it; the complete way where no
// stretch is named.
func (g *Graph) failing(w Way, stretches [][2]float64, contextM float64) [][]int32 {
	var out [][]int32
	for _, s := range stretches {
		lo, hi := math.Min(s[0], s[1])-contextM, math.Max(s[0], s[1])+contextM
		var seq []int32
		atM := 0.0
		for _, e := range w.Edges {
			toM := atM + g.edge(e).LengthM
			if toM > lo && atM < hi {
				seq = append(seq, e)
			}
			atM = toM
		}
		if len(seq) > 0 {
			out = append(out, seq)
		}
	}
	if len(out) == 0 {
		out = append(out, w.Edges)
	}
	return out
}
