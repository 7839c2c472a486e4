package network

import (
	"maps"
	"slices"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// rings are the roundabouts of a network. The arms of a roundabout count as meeting at one place; a
// road through it uses the part of the ring between its arms.
type rings struct {
	group  map[int32]int32     // first node of a roundabout, by each of its nodes
	centre map[int32]orb.Point // by first node
	next   map[int32]ringStep
}

// ringStep is one segment of a roundabout in the sense of its traffic.
type ringStep struct {
	to    int32
	point orb.Point
	line  int32
}

func newRings(j *joiner) rings {
	r := rings{group: map[int32]int32{}, centre: map[int32]orb.Point{}, next: map[int32]ringStep{}}
	find := func(n int32) int32 {
		for r.group[n] != n {
			r.group[n] = r.group[r.group[n]]
			n = r.group[n]
		}
		return n
	}
	for i := range j.lines {
		l := &j.lines[i]
		if !l.isRing {
			continue
		}
		var before int32
		for k := range l.f.Line {
			n := j.nodes.number(l.f, k)
			if _, ok := r.group[n]; !ok {
				r.group[n] = n
			}
			if k > 0 {
				a, b := find(before), find(n)
				r.group[max(a, b)] = min(a, b)
				from, to := before, n
				if l.sense < 0 {
					from, to = to, from
				}
				if from != to {
					r.next[from] = ringStep{to: to, point: j.nodes.points[to], line: int32(i)}
				}
			}
			before = n
		}
	}
	count := map[int32]float64{}
	for _, n := range r.nodes() { // in order: a sum of figures depends on it in its last digit
		g := find(n)
		c, p := r.centre[g], j.nodes.points[n]
		r.centre[g] = orb.Point{c[0] + p[0], c[1] + p[1]}
		count[g]++
	}
	for g, n := range count {
		r.centre[g] = orb.Point{r.centre[g][0] / n, r.centre[g][1] / n}
	}
	for n := range r.group {
		r.group[n] = find(n)
	}
	return r
}

// nodes are those of all roundabouts, ascending.
func (r *rings) nodes() []int32 { return slices.Sorted(maps.Keys(r.group)) }

// place is the node that represents the place of n.
func (r *rings) place(n int32) int32 {
	if g, ok := r.group[n]; ok {
		return g
	}
	return n
}

const mostRingSteps = 2000 // limit for one turn round the ring; a ring has some dozens

// arc is the part of a roundabout from one node to another in the sense of traffic, as
// a feature with the tags of the way it begins on, open both ways: against the traffic
// it represents the other half.
func (r *rings) arc(j *joiner, from, to int32) (routes.Feature, bool) {
	first, ok := r.next[from]
	if !ok {
		return routes.Feature{}, false
	}
	f := *j.lines[first.line].f
	f.Line, f.NodeIDs, f.Structures = orb.LineString{j.nodes.points[from]}, nil, nil
	f.Tags = make(map[string]string, len(f.Tags))
	for k, v := range j.lines[first.line].f.Tags {
		if k != "oneway" && k != "name" && k != "ref" {
			f.Tags[k] = v
		}
	}
	for at, n := from, 0; at != to; n++ {
		s, ok := r.next[at]
		if !ok || n == mostRingSteps {
			return routes.Feature{}, false
		}
		f.Line = append(f.Line, s.point)
		at = s.to
	}
	return f, true
}
