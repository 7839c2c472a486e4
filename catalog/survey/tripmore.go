package survey

import (
	"context"

	"gradeline/catalog/ranking"
	"gradeline/routes/network"
)

// An alternative shares at most this part of its length with any way before it. Roads that were
// already used cost more by a factor, so that the search tries others.
const (
	sharedMost = 0.7
	usedFactor = 1.6
	triesEach  = 6
)

// alternatives adds ways that clearly differ, each the best while the roads of earlier ways cost
// more.
func (t *tripper) alternatives(ctx context.Context, costs []float64, out *Trips) error {
	dear := append([]float64(nil), costs...)
	g, err := t.ruled(0)
	if err != nil {
		return err
	}
	for tries := 0; len(out.List) <= t.query.Alternatives && tries < triesEach*t.query.Alternatives; tries++ {
		last := out.List[len(out.List)-1]
		for _, e := range last.Way.Edges {
			dear[e] *= usedFactor
		}
		found, err := g.Best(ctx, network.Query{SlackShare: 1, EdgeCost: dear, TurnCost: t.turnCost(), MostSurveys: t.query.MostSurveys, Judge: t.dearJudge(costs, dear)})
		if err != nil {
			return err
		}
		if found.Best == nil {
			return nil
		}
		trip, err := t.survey(ctx, *found.Best)
		if err != nil {
			return err
		}
		if t.differs(trip, out.List) {
			out.List = append(out.List, *trip)
			continue
		}
		for _, e := range trip.Way.Edges {
			dear[e] *= usedFactor
		}
	}
	byRank := make([]ranking.Trip, len(out.List))
	for i := range out.List {
		byRank[i] = out.List[i].Trip
	}
	ranking.SortTrips(byRank, t.class.ID, t.query.Prefer)
	sortLike(out.List, byRank)
	return nil
}

// dearJudge ranks by the raised costs only: of the survey it uses only whether the way is held.
func (t *tripper) dearJudge(costs, dear []float64) func(context.Context, network.Way) (network.Verdict, error) {
	judge := t.judge(0, costs)
	return func(ctx context.Context, w network.Way) (network.Verdict, error) {
		v, err := judge(ctx, w)
		v.Cost = t.leastCost(w, dear)
		return v, err
	}
}

// sortLike puts trips into the order of their ranked copies.
func sortLike(list []Trip, order []ranking.Trip) {
	for i := range order {
		for k := i; k < len(list); k++ {
			if list[k].LengthM == order[i].LengthM && list[k].TimeS == order[i].TimeS {
				list[i], list[k] = list[k], list[i]
				break
			}
		}
	}
}

func (t *tripper) differs(trip *Trip, list []Trip) bool {
	for i := range list {
		used := map[int32]bool{}
		for _, e := range list[i].Way.Edges {
			used[e] = true
		}
		sharedM := 0.0
		for _, e := range trip.Way.Edges {
			if used[e] {
				sharedM += t.graph.Edge(e).LengthM
			}
		}
		if sharedM > sharedMost*trip.LengthM {
			return false
		}
	}
	return true
}
