package survey

import (
	"context"
	"iter"
	"slices"

	"gradeline/routes"
)

// A route that a later route contradicts is already written. In the catalogue it is marked at once;
// in the journal the record is corrected when the answer is read.

// markContradicted records stretches that can't be relied on since another route contradicts them.
func (j *Job) markContradicted(ctx context.Context, list []contradiction) error {
	for _, k := range list {
		if j.doubts == nil {
			j.doubts = map[string][]routes.Doubt{}
		}
		j.doubts[k.route] = append(j.doubts[k.route], k.stretch)
		if j.batch == nil {
			continue
		}
		if _, err := j.batch.MarkUnreliable(ctx, k.route, k.stretch); err != nil {
			return err
		}
		if err := j.batch.MarkRoadUnreliable(ctx, j.roadOf(k.route), k.stretch); err != nil {
			return err
		}
	}
	return nil
}

// noteRoad keeps the id of a route's road in the network where it is not the route's.
func (j *Job) noteRoad(n *routeNodes) {
	if n.Road == "" || n.Road == n.Route {
		return
	}
	if j.roadIDs == nil {
		j.roadIDs = map[string]string{}
	}
	j.roadIDs[n.Route] = n.Road
}

func (j *Job) roadOf(route string) string {
	if id, ok := j.roadIDs[route]; ok {
		return id
	}
	return route
}

// isContradicted reports whether a stretch of a route reaches one that is contradicted.
func (j *Job) isContradicted(route string, aM, bM float64) bool {
	return slices.ContainsFunc(j.doubts[route], func(d routes.Doubt) bool { return min(aM, bM) <= d.ToM && max(aM, bM) >= d.FromM })
}

func (j *Job) flagContradicted(d *routes.Descent) {
	if !d.HasFlag(routes.FlagUnreliable) && j.isContradicted(d.Route, d.StartM, d.EndM) {
		d.Flags = append(slices.Clone(d.Flags), routes.FlagUnreliable)
	}
}

func (j *Job) flagContradictedPart(p *routes.SteepPart, route string) {
	if !slices.Contains(p.Flags, routes.FlagUnreliable) && j.isContradicted(route, p.StartM, p.EndM) {
		p.Flags = append(slices.Clone(p.Flags), routes.FlagUnreliable)
	}
}

// addDoubts amends what was found of a route.
func (j *Job) addDoubts(f *RouteFacts) {
	list := j.doubts[f.Route]
	if len(list) == 0 {
		return
	}
	if f.Doubtful = append(f.Doubtful, list...); f.Reliable {
		f.Reliable, f.Unreliable = false, list[0].Why
	}
	for i := range f.SteepParts {
		j.flagContradictedPart(&f.SteepParts[i], f.Route)
	}
	for i := range f.BelowThreshold {
		j.flagContradicted(&f.BelowThreshold[i])
	}
}

// changed yields the elements of a list after a change of each.
func changed[T any](list iter.Seq2[T, error], change func(*T)) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		for v, err := range list {
			if err == nil {
				change(&v)
			}
			if !yield(v, err) {
				return
			}
		}
	}
}

// encoded yields each element of a list as JSON text.
func encoded[T any](list iter.Seq2[T, error]) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		for v, err := range list {
			if !yield(plainJSON(v), err) {
				return
			}
		}
	}
}
