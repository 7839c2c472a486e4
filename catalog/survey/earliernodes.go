package survey

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"github.com/paulmach/orb"

	"gradeline/catalog/store"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// A catalogue may have roads of earlier surveys that meet the roads of this one. Their grade lines
// are stored with the road network. When the new network has been stored, they are compared with
// those of this survey as the roads of one survey are compared with each other.

// earlierRoads compares the roads of a survey with stored ones that it did not survey.
type earlierRoads struct {
	ours        *nodeCheck
	nameOf      map[string]string // of our routes, by road
	ends        map[uint64]string // of stored roads, at none of our nodes
	ownAt       map[string][]ownNode
	found       []contradiction
	datumOf     func(road string) (string, error)
	datum       string   // vertical datum of this survey
	otherDatums []string // stored roads with heights of another one
}

// ownNode is a vertex of one of our roads at which a stored road ends.
type ownNode struct {
	route  string
	height nodeHeight
}

// compare compares a node of one of our routes with that of a stored road.
func (e *earlierRoads) compare(route string, f nodeFirst, stored string, n *nodeHeight) error {
	if !isApart(n.ElevationM-float64(f.elevationM), n.ErrM, float64(f.errM)) {
		return nil
	}
	datum, err := e.datumOf(stored)
	switch {
	case err != nil:
		return err
	case datum == "" || e.datum == "" || datum == e.datum:
		e.found = append(e.found, e.ours.compare(route, f, stored, n)...)
	case !slices.Contains(e.otherDatums, stored):
		e.otherDatums = append(e.otherDatums, stored)
	}
	return nil
}

// addStored compares a stored road with the nodes of this survey, and notes its other ends.
func (e *earlierRoads) addStored(r *store.NetworkRoad) error {
	isOurs := func(key uint64) bool { _, ok := e.ours.first[key]; return ok }
	first, last := r.Lines[0].Line, r.Lines[len(r.Lines)-1].Line
	meets := hasVertex(r, isOurs)
	for _, at := range []orb.Point{first[0], first[len(first)-1], last[0], last[len(last)-1]} { // whichever way they are drawn
		key := nodeKey(at[0], at[1])
		if meets = meets || isOurs(key); !isOurs(key) {
			e.ends[key] = r.ID
		}
	}
	if !meets {
		return nil
	}
	nodes, err := storedNodes(r, isOurs)
	if err != nil {
		return err
	}
	for i := range nodes {
		if f, ok := e.ours.first[nodeKey(nodes[i].LonDeg, nodes[i].LatDeg)]; ok {
			if err := e.compare(e.ours.routes[f.route], f, r.ID, &nodes[i]); err != nil {
				return err
			}
		}
	}
	return nil
}

// addOwn notes the vertices of a road of this survey at which stored roads end.
func (e *earlierRoads) addOwn(r *store.NetworkRoad) error {
	isEnd := func(key uint64) bool { _, ok := e.ends[key]; return ok }
	if !hasVertex(r, isEnd) || len(storedVertices(r, isEnd)) == 0 {
		return nil
	}
	nodes, err := storedNodes(r, isEnd)
	for i := range nodes {
		if stored, ok := e.ends[nodeKey(nodes[i].LonDeg, nodes[i].LatDeg)]; ok {
			e.ownAt[stored] = append(e.ownAt[stored], ownNode{e.nameOf[r.ID], nodes[i]})
		}
	}
	return err
}

// addEnds compares the ends of a stored road with the vertices that addOwn noted.
func (e *earlierRoads) addEnds(r *store.NetworkRoad) error {
	nodes, err := storedNodes(r, func(uint64) bool { return false })
	if err != nil {
		return err
	}
	for i := range nodes {
		for _, own := range e.ownAt[r.ID] {
			if nodeKey(own.height.LonDeg, own.height.LatDeg) != nodeKey(nodes[i].LonDeg, nodes[i].LatDeg) {
				continue
			}
			if err := e.compare(own.route, nodeFirstOf(&own.height, 0), r.ID, &nodes[i]); err != nil {
				return err
			}
		}
	}
	return nil
}

// storedNodes are the heights of a stored road at its ends and at the vertices that isNode accepts.
func storedNodes(r *store.NetworkRoad, isNode func(key uint64) bool) ([]nodeHeight, error) {
	p, err := r.Profile()
	if err != nil {
		return nil, damagedRoad(r.ID, err)
	}
	if p == nil {
		return nil, nil
	}
	return nodeHeights(p, storedVertices(r, isNode)), nil
}

// hasVertex reports whether isNode accepts a vertex of a stored road. It measures nothing along it.
func hasVertex(r *store.NetworkRoad, isNode func(key uint64) bool) bool {
	for i := range r.Lines {
		for _, at := range r.Lines[i].Line {
			if isNode(nodeKey(at[0], at[1])) {
				return true
			}
		}
	}
	return false
}

// storedVertices are the vertices of a stored road that isNode accepts, without its ends.
func storedVertices(r *store.NetworkRoad, isNode func(key uint64) bool) []nodePlace {
	var out []nodePlace
	accepts := func(at orb.Point) bool { return isNode(nodeKey(at[0], at[1])) }
	for i := range r.Lines {
		l := &r.Lines[i]
		line := l.Line
		if l.IsReversed {
			line = slices.Clone(line)
			slices.Reverse(line)
		}
		if at := line[0]; i > 0 && accepts(at) {
			out = append(out, nodePlace{at[0], at[1], l.FromM})
		}
		for _, n := range innerNodes(&routes.Route{Line: line}, l.ToM-l.FromM, accepts) {
			n.stationM += l.FromM
			out = append(out, n)
		}
	}
	return out
}

// compareWithEarlier compares the roads of this survey with those of the stored network that it did
// not survey, and marks what is contradicted.
func (j *Job) compareWithEarlier(ctx context.Context) error {
	e := earlierRoads{ours: &j.nodeCheck, nameOf: map[string]string{}, ends: map[uint64]string{}, ownAt: map[string][]ownNode{}, datum: j.setup.Provenance.VertDatum,
		datumOf: func(road string) (string, error) { return j.batch.VertDatum(ctx, road) }}
	for _, route := range j.nodeCheck.routes {
		e.nameOf[j.roadOf(route)] = route
	}
	stored, err := j.batch.SurveyedRoads(ctx)
	if err != nil {
		return err
	}
	var others, own []string
	for _, id := range stored {
		if _, isOwn := e.nameOf[id]; isOwn {
			own = append(own, id)
		} else {
			others = append(others, id)
		}
	}
	if len(others) == 0 {
		return nil
	}
	if err := j.batch.EachRoadOf(ctx, others, e.addStored); err != nil {
		return err
	}
	if err := j.batch.EachRoadOf(ctx, own, e.addOwn); err != nil {
		return err
	}
	if err := j.batch.EachRoadOf(ctx, slices.Sorted(maps.Keys(e.ownAt)), e.addEnds); err != nil {
		return err
	}
	for _, road := range e.otherDatums {
		j.warned[fmt.Sprintf("%s was surveyed before with heights of another vertical datum: it is not compared with the roads of this survey that it meets", road)] = true
	}
	return j.markContradicted(ctx, e.found)
}

// warnOfUncompared says how many roads of earlier surveys were not compared with those of this one.
// The heights of a road are kept all along it only in a network.
func (j *Job) warnOfUncompared(ctx context.Context) error {
	if j.cat == nil {
		return nil
	}
	stored, err := j.cat.RouteIDs(ctx, j.setup.DryRun, j.drawn)
	if len(stored) == 0 {
		return err
	}
	own := map[string]bool{}
	for _, route := range j.nodeCheck.routes {
		own[route] = true
	}
	n := 0
	for _, route := range stored {
		if !own[route] {
			n++
		}
	}
	if n > 0 {
		j.warned[fmt.Sprintf("heights were not compared with those of %s of earlier surveys in this catalogue, where they may meet roads of this one: "+
			"only roads of a network (lines that name no route and share an end) keep heights for that; survey roads that meet together", wording.Counted(n, "road"))] = true
	}
	return err
}
