package network

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// Edge is a piece of a line between two junctions, in one direction of travel.
type Edge struct {
	From, To    int32 // nodes
	Feature     int32 // of Graph.Feature
	First, Last int32 // vertices of the feature's line, First before Last as drawn
	IsReversed  bool  // travelled against the drawing
	LengthM     float64
	twin        int32 // the same piece the other way; -1 where one-way
}

// Graph is a network as junctions and directed edges, by number.
type Graph struct {
	features []routes.Feature
	nodes    *nodeTable
	edges    []Edge
	out      []int32 // edges by their From: out[first[n]:first[n+1]]
	first    []int32
	stops    []int32 // nodes of the places asked for
	bans     *bans
	banned   int // turn rules that found their edges
}

// Snap is a place asked for and where on the network it was taken to be.
type Snap struct {
	Asked, Found orb.Point
	DistanceM    float64
}

const maxSnapM = 2000.0 // a place farther from any road is not on the network

// NewGraph makes a graph of lines and turn rules. The places are put on the nearest
// line that isUsable allows (nil: any) and become nodes there.
func NewGraph(features []routes.Feature, turns []routes.Turn, places []orb.Point, isUsable func(*routes.Feature) bool) (*Graph, []Snap, error) {
	g := &Graph{features: append([]routes.Feature(nil), features...), nodes: newNodeTable()}
	var snaps []Snap
	for i, p := range places {
		s, err := g.snap(p, int64(i), isUsable)
		if err != nil {
			return nil, nil, err
		}
		snaps = append(snaps, s)
	}
	numbers, isJunction := g.junctions()
	for _, s := range snaps {
		n := g.nodeAt(s.Found, numbers)
		g.stops = append(g.stops, n)
		isJunction[n] = true
	}
	for f := range g.features {
		g.cut(int32(f), numbers[f], isJunction)
	}
	g.index()
	g.addTurns(turns)
	return g, snaps, nil
}

// Edges is the number of directed edges, Turns that of the turn rules that apply.
func (g *Graph) Edges() int { return len(g.edges) }
func (g *Graph) Turns() int { return g.banned }

// Edge returns an edge by number.
func (g *Graph) Edge(i int32) Edge { return g.edges[i] }

// Feature returns the line that an edge is a piece of; it must not be changed.
func (g *Graph) Feature(i int32) *routes.Feature { return &g.features[g.edges[i].Feature] }

// snap puts a place on the nearest usable line, as a vertex of it.
func (g *Graph) snap(p orb.Point, k int64, isUsable func(*routes.Feature) bool) (Snap, error) {
	m := planeAt(p[1])
	bestM, bestF, bestI, bestT := math.Inf(1), -1, 0, 0.0
	for f := range g.features {
		if isUsable != nil && !isUsable(&g.features[f]) {
			continue
		}
		line := g.features[f].Line
		for i := 1; i < len(line); i++ {
			ax, ay := m.vector(p, line[i-1])
			bx, by := m.vector(p, line[i])
			dx, dy := bx-ax, by-ay
			t := 0.0
			if l := dx*dx + dy*dy; l > 0 {
				t = math.Max(0, math.Min(1, -(ax*dx+ay*dy)/l))
			}
			if d := math.Hypot(ax+t*dx, ay+t*dy); d < bestM {
				bestM, bestF, bestI, bestT = d, f, i, t
			}
		}
	}
	if bestF < 0 || bestM > maxSnapM {
		what := "no road that this truck may use is near it"
		if bestF >= 0 {
			what = fmt.Sprintf("the nearest road that this truck may use is %.1f km away", bestM/1000)
		}
		return Snap{}, &routes.Fault{Kind: terrain.ErrInput, Point: &terrain.Point{LonDeg: p[0], LatDeg: p[1]}, What: what, Fix: "give longitude, latitude of a place on the network"}
	}
	f := &g.features[bestF]
	a, b := f.Line[bestI-1], f.Line[bestI]
	x, y := m.vector(a, b)
	switch l := math.Hypot(x, y); {
	case bestT*l < 1:
		return Snap{p, a, bestM}, nil
	case (1-bestT)*l < 1:
		return Snap{p, b, bestM}, nil
	}
	at := orb.Point{a[0] + bestT*(b[0]-a[0]), a[1] + bestT*(b[1]-a[1])}
	f.Line = insert(f.Line, bestI, at)
	if f.NodeIDs != nil {
		f.NodeIDs = insert(f.NodeIDs, bestI, math.MinInt64+k)
	}
	return Snap{p, at, bestM}, nil
}

func insert[T any](list []T, i int, v T) []T {
	out := make([]T, 0, len(list)+1)
	out = append(out, list[:i]...)
	return append(append(out, v), list[i:]...)
}

// junctions numbers the vertices of all lines and finds the nodes where lines meet or
// end. Without node numbers a bridge or tunnel shares no vertex but its ends.
func (g *Graph) junctions() (numbers [][]int32, isJunction []bool) {
	numbers = make([][]int32, len(g.features))
	var count []uint8
	for f := range g.features {
		ft := &g.features[f]
		last := len(ft.Line) - 1
		isApart := ft.NodeIDs == nil && isSet(ft.Tags["bridge"], ft.Tags["tunnel"])
		numbers[f] = make([]int32, last+1)
		for i := range ft.Line {
			var n int32
			if isApart && i > 0 && i < last {
				n = g.nodes.add(ft.Line[i])
			} else {
				n = g.nodes.number(ft, i)
			}
			numbers[f][i] = n
			for int(n) >= len(count) {
				count = append(count, 0)
			}
			add := uint8(1)
			if i == 0 || i == last {
				add = 2 // an edge belongs to one line, so each line's end is a node
			}
			count[n] = min(2, count[n]+add)
		}
	}
	isJunction = make([]bool, len(count))
	for n, c := range count {
		isJunction[n] = c >= 2
	}
	return numbers, isJunction
}

func isSet(values ...string) bool {
	for _, v := range values {
		if v != "" && v != "no" {
			return true
		}
	}
	return false
}

// nodeAt finds the node of a snapped place.
func (g *Graph) nodeAt(p orb.Point, numbers [][]int32) int32 {
	for f := range g.features {
		for i, q := range g.features[f].Line {
			if p == q {
				return numbers[f][i]
			}
		}
	}
	return -1 // not reached: snap returns vertices only
}

// cut makes the edges of a line, in the directions that its oneway tag allows.
func (g *Graph) cut(f int32, numbers []int32, isJunction []bool) {
	ft := &g.features[f]
	sense, from := senseOf(ft.Tags), 0
	lengthM := 0.0
	for i := 1; i < len(numbers); i++ {
		lengthM += stationing.DistanceM(ft.Line[i-1], ft.Line[i])
		if !isJunction[numbers[i]] {
			continue
		}
		e := Edge{From: numbers[from], To: numbers[i], Feature: f, First: int32(from), Last: int32(i), LengthM: lengthM, twin: -1}
		back := e
		back.From, back.To, back.IsReversed = e.To, e.From, true
		n := int32(len(g.edges))
		switch {
		case lengthM == 0:
		case sense > 0:
			g.edges = append(g.edges, e)
		case sense < 0:
			g.edges = append(g.edges, back)
		default:
			e.twin, back.twin = n+1, n
			g.edges = append(g.edges, e, back)
		}
		from, lengthM = i, 0
	}
}

// index sorts the edges by their first node.
func (g *Graph) index() {
	g.first = make([]int32, len(g.nodes.points)+1)
	for i := range g.edges {
		g.first[g.edges[i].From+1]++
	}
	for n := 1; n < len(g.first); n++ {
		g.first[n] += g.first[n-1]
	}
	g.out = make([]int32, len(g.edges))
	next := append([]int32(nil), g.first...)
	for i := range g.edges {
		n := g.edges[i].From
		g.out[next[n]] = int32(i)
		next[n]++
	}
}

func (g *Graph) leaving(node int32) []int32 { return g.out[g.first[node]:g.first[node+1]] }

// Way is a way through the network.
type Way struct {
	Edges   []int32
	LengthM float64
}

// Pieces are the lines of a way in order, for stationing.Through. Edges of one line
// that follow each other are one piece.
func (g *Graph) Pieces(w Way) []stationing.Piece {
	var out []stationing.Piece
	var open Edge
	flush := func() {
		if open.Last > open.First {
			out = append(out, stationing.Piece{Feature: part(g.features[open.Feature], int(open.First), int(open.Last)), Reversed: open.IsReversed})
		}
	}
	for _, i := range w.Edges {
		e := g.edges[i]
		goesOn := e.Feature == open.Feature && e.IsReversed == open.IsReversed && open.Last > open.First
		switch {
		case goesOn && !e.IsReversed && e.First == open.Last:
			open.Last = e.Last
		case goesOn && e.IsReversed && e.Last == open.First:
			open.First = e.First
		default:
			flush()
			open = e
		}
	}
	flush()
	return out
}
