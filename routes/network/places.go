package network

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// Snap is a requested place and the place on the network that is used for it.
type Snap struct {
	Asked, Found orb.Point
	DistanceM    float64
}

const maxSnapM = 2000.0 // a place farther from every road is not on the network

// WithPlaces returns the graph with the places as nodes, each on the nearest line that isUsable
// allows (nil: any), or on the nearest of all where none is near that it allows. The graph itself is unchanged. The numbers of edges and features
// are the same in both, except for those that a place splits.
func (g *Graph) WithPlaces(places []orb.Point, isUsable func(*routes.Feature) bool) (*Graph, []Snap, error) {
	if len(places) == 0 {
		return g, nil, nil
	}
	n := *g
	n.cut = g.cut.clipped()
	n.stops, n.points = nil, slices.Clip(g.points)
	n.replaced = maps.Clone(g.replaced)
	if n.replaced == nil {
		n.replaced = map[int32][]int32{}
	}
	var snaps []Snap
	for _, p := range places {
		s, err := n.snap(p, isUsable)
		if err != nil && isUsable != nil { // a search of a way then says what closes the road
			if closed, e := n.snap(p, nil); e == nil {
				s, err = closed, nil
			}
		}
		if err != nil {
			return nil, nil, err
		}
		snaps = append(snaps, s.Snap)
		n.stops = append(n.stops, n.nodeOn(s))
	}
	if len(n.cut.edges) > len(g.cut.edges) {
		n.reindex(len(g.cut.edges))
		n.bans = n.bans.replaced(n.replaced)
		n.rules = n.bans
	}
	return &n, snaps, nil
}

// spot is where a place lies on a line: share t of the way from vertex i-1 to vertex i.
type spot struct {
	Snap
	feature, i int
	t          float64
}

// snap finds the nearest place on a usable line; for split lines it searches the newer form.
func (g *Graph) snap(p orb.Point, isUsable func(*routes.Feature) bool) (spot, error) {
	m := planeAt(p[1])
	best := spot{Snap: Snap{Asked: p, DistanceM: math.Inf(1)}, feature: -1}
	for f := range g.Lines() {
		if beyondM(m, p, g.bounds[g.base(f)]) >= best.DistanceM || !g.isOpen(f) || isUsable != nil && !isUsable(g.line(f)) {
			continue
		}
		line := g.line(f).Line
		for i := 1; i < len(line); i++ {
			ax, ay := m.vector(p, line[i-1])
			bx, by := m.vector(p, line[i])
			dx, dy := bx-ax, by-ay
			t := 0.0
			if l := dx*dx + dy*dy; l > 0 {
				t = math.Max(0, math.Min(1, -(ax*dx+ay*dy)/l))
			}
			if d := math.Hypot(ax+t*dx, ay+t*dy); d < best.DistanceM {
				best.DistanceM, best.feature, best.i, best.t = d, f, i, t
			}
		}
	}
	if best.feature < 0 || best.DistanceM > maxSnapM {
		what := "no road that this truck may use is near it"
		if best.feature >= 0 {
			what = fmt.Sprintf("the nearest road that this truck may use is %.1f km away", best.DistanceM/1000)
		}
		return spot{}, &routes.Fault{Kind: terrain.ErrInput, Point: &terrain.Point{LonDeg: p[0], LatDeg: p[1]}, What: what, Fix: "use the longitude, latitude of a place on the network"}
	}
	line := g.line(best.feature).Line
	a, b := line[best.i-1], line[best.i]
	x, y := m.vector(a, b)
	switch l := math.Hypot(x, y); {
	case best.t*l < 1:
		best.i, best.t = best.i-1, 1
		best.Found = a
	case (1-best.t)*l < 1:
		best.t = 1
		best.Found = b
	default:
		best.Found = orb.Point{a[0] + best.t*(b[0]-a[0]), a[1] + best.t*(b[1]-a[1])}
	}
	return best, nil
}

// isOpen reports whether a feature has edges; a split feature has none, and a newer form of it
// follows.
func (g *Graph) isOpen(f int) bool {
	span := g.span(f)
	_, isCut := g.replaced[span[0]]
	return span[0] < span[1] && !isCut
}

// beyondM is a lower bound of the distance of any place in a bound.
func beyondM(m plane, p orb.Point, b orb.Bound) float64 {
	if b.Min[0] < -179 || b.Max[0] > 179 { // a line may cross the meridian
		return 0
	}
	x := math.Max(0, math.Max(b.Min[0]-p[0], p[0]-b.Max[0])) * m.eastM
	y := math.Max(0, math.Max(b.Min[1]-p[1], p[1]-b.Max[1])) * m.northM
	return 0.99 * math.Hypot(x, y)
}

// nodeOn returns the node at a spot. If there is none it replaces the line by one with the node,
// and its edges by those of the new line.
func (g *Graph) nodeOn(s spot) int32 {
	span := g.span(s.feature)
	if s.t == 1 {
		for i := span[0]; i < span[1]; i++ {
			switch e := g.edge(i); {
			case int(e.First) == s.i && !e.IsReversed, int(e.Last) == s.i && e.IsReversed:
				return e.From
			case int(e.Last) == s.i && !e.IsReversed, int(e.First) == s.i && e.IsReversed:
				return e.To
			}
		}
	}
	f := *g.line(s.feature)
	shift := int32(0)
	if s.t < 1 {
		shift = 1
		f.Line = slices.Insert(slices.Clone(f.Line), s.i, s.Found)
		if f.NodeIDs != nil {
			f.NodeIDs = slices.Insert(slices.Clone(f.NodeIDs), s.i, math.MinInt64+int64(len(g.points)))
		}
	}
	shifted := func(v int32) int32 {
		if int(v) >= s.i {
			return v + shift
		}
		return v
	}
	numbers := make([]int32, len(f.Line))
	for i := range numbers {
		numbers[i] = -1
	}
	for i := span[0]; i < span[1]; i++ {
		e := g.edge(i)
		from, to := e.From, e.To
		if e.IsReversed {
			from, to = to, from
		}
		numbers[shifted(e.First)], numbers[shifted(e.Last)] = from, to
	}
	node := int32(len(g.points))
	numbers[s.i] = node
	g.points, g.mostDeg = append(g.points, s.Found), math.Max(g.mostDeg, math.Abs(s.Found[1]))
	begin := int32(g.Edges())
	g.addCut(s.feature, &f, numbers)
	g.replaceEdges(span, begin, shifted)
	return node
}

// replaceEdges records the edges of a line that the edges from begin on replace.
func (g *Graph) replaceEdges(span [2]int32, begin int32, shifted func(int32) int32) {
	for i := span[0]; i < span[1]; i++ {
		e := g.edge(i)
		lo, hi := shifted(e.First), shifted(e.Last)
		var parts []int32
		for k := begin; k < int32(g.Edges()); k++ {
			if n := g.edge(k); n.IsReversed == e.IsReversed && n.First >= lo && n.Last <= hi {
				parts = append(parts, k)
			}
		}
		if e.IsReversed {
			slices.Reverse(parts)
		}
		g.replaced[i] = parts
	}
}

// replaced returns the bans with split edges replaced by their parts. For a split edge at an end of
// a turn rule the part at the junction counts.
func (b *bans) replaced(by map[int32][]int32) *bans {
	isHit := false
	for _, seq := range b.list {
		for _, e := range seq {
			_, is := by[e]
			isHit = isHit || is
		}
	}
	if !isHit {
		return b
	}
	out := &bans{}
	for k, seq := range b.list {
		var next []int32
		for i, e := range seq {
			parts := expanded(e, by)
			switch {
			case len(parts) < 2 || len(seq) == 1:
			case i == 0:
				parts = parts[len(parts)-1:]
			case i == len(seq)-1:
				parts = parts[:1]
			}
			next = append(next, parts...)
		}
		out.list, out.costs = append(out.list, next), append(out.costs, b.costs[k])
	}
	out.build()
	return out
}

// expanded are the parts of an edge that was split, perhaps by several places.
func expanded(e int32, by map[int32][]int32) []int32 {
	parts, isCut := by[e]
	if !isCut {
		return []int32{e}
	}
	var out []int32
	for _, p := range parts {
		out = append(out, expanded(p, by)...)
	}
	return out
}

// PartOf returns where an edge begins and ends along its line as drawn, as shares of the line's
// length.
func (g *Graph) PartOf(i int32) (fromShare, toShare float64) {
	e := g.edge(i)
	lengthM := g.lineLengthM(int(e.Feature))
	if lengthM == 0 {
		return 0, 1
	}
	return e.firstM / lengthM, (e.firstM + e.LengthM) / lengthM
}
