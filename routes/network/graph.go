package network

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/stationing"
)

// Edge is a piece of a line between two junctions, in one direction of travel.
type Edge struct {
	From, To    int32 // nodes
	Feature     int32 // of Graph.Feature
	First, Last int32 // vertices of the feature's line, First before Last as drawn
	IsReversed  bool  // travelled against the drawing
	LengthM     float64
	firstM      float64 // from the beginning of the line as drawn to First
	twin        int32   // the same piece in the opposite direction; -1 where one-way
}

// Graph is a network as junctions and directed edges, by number.
type Graph struct {
	features []routes.Feature
	bounds   []orb.Bound // of the features' lines
	lengthM  []float64   // of the features' lines
	marks    []lineMarks // of the features' tags
	bridges  []int32     // features that are bridges
	spans    [][2]int32  // edges of each feature: from, to
	points   []orb.Point // of the nodes
	edges    []Edge
	cut      cutLines // of the lines that places have split
	out, in  edgeIndex
	stops    []int32           // nodes of the requested places
	bans     *bans             // turn rules
	rules    *bans             // turn rules and those of WithRules
	banned   int               // turn rules that found their edges
	replaced map[int32][]int32 // edges that places have cut, and what they were cut into
	mostDeg  float64           // the farthest from the equator of any node
}

// NewGraph makes a graph of lines and turn rules. The places are put on the nearest
// line that isUsable allows (nil: any) and become nodes there.
func NewGraph(features []routes.Feature, turns []routes.Turn, places []orb.Point, isUsable func(*routes.Feature) bool) (*Graph, []Snap, error) {
	g := &Graph{features: append([]routes.Feature(nil), features...)}
	nodes := newNodeTable()
	numbers, isJunction := g.junctions(nodes)
	// Most vertices are not junctions and get no number.
	node := make([]int32, len(isJunction))
	for n, is := range isJunction {
		if node[n] = -1; is {
			node[n] = int32(len(g.points))
			g.points = append(g.points, nodes.points[n])
		}
	}
	lines := g.measured(numbers, node)
	for f := range lines {
		g.bounds = append(g.bounds, lines[f].bound)
		g.addLine(&g.features[f], lines[f].stops, lines[f].lengthM, lines[f].marks)
	}
	g.index()
	g.addTurns(turns, func(id int64) (int32, bool) {
		n, ok := nodes.byID[id]
		if !ok {
			return 0, false
		}
		return node[n], node[n] >= 0
	})
	g.rules = g.bans
	return g.WithPlaces(places, isUsable)
}

// Rule is a sequence of edges that a way may not contain, or that costs more than its
// edges.
type Rule struct {
	Edges []int32
	Cost  float64 // +Inf: banned
}

// Rules are sequences that are prepared for the search of a graph.
type Rules struct{ bans *bans }

// MakeRules prepares rules, with the graph's turn rules.
func (g *Graph) MakeRules(list []Rule) *Rules {
	seqs, costs := make([][]int32, len(list)), make([]float64, len(list))
	for i := range list {
		seqs[i], costs[i] = list[i].Edges, list[i].Cost
	}
	return &Rules{g.bans.withCosts(seqs, costs)}
}

// WithRules returns the graph with rules for the search of Best. The graph from which this one was
// made by WithPlaces may have made them.
func (g *Graph) WithRules(r *Rules) *Graph {
	n := *g
	n.rules = r.bans.replaced(g.replaced)
	return &n
}

// RulesCost is the cost that the rules add to a way; +Inf where they ban it.
func (g *Graph) RulesCost(w Way) float64 {
	sum, state := 0.0, int32(0)
	for _, e := range w.Edges {
		state = g.rules.step(state, e)
		sum += g.rules.cost[state]
	}
	return sum
}

// Base is the number of the original line of an edge.
func (g *Graph) Base(edge int32) int {
	return g.base(int(g.edge(edge).Feature))
}

// EdgesOf returns the first edge of a line, and the one after its last.
func (g *Graph) EdgesOf(feature int) (from, to int32) {
	span := g.span(feature)
	return span[0], span[1]
}

// Leaving lists the edges that begin where an edge ends.
func (g *Graph) Leaving(edge int32) []int32 { return g.leaving(g.edge(edge).To) }

// Edges is the number of directed edges, Lines that of the lines they are pieces of, Turns
// that of the turn rules that apply.
func (g *Graph) Edges() int { return len(g.edges) + len(g.cut.edges) }
func (g *Graph) Lines() int { return len(g.features) + len(g.cut.features) }
func (g *Graph) Turns() int { return g.banned }

// Places is the number of the requested places.
func (g *Graph) Places() int { return len(g.stops) }

// Edge returns an edge by number, LengthM its length.
func (g *Graph) Edge(i int32) Edge       { return *g.edge(i) }
func (g *Graph) LengthM(i int32) float64 { return g.edge(i).LengthM }

// Feature returns the line of an edge; it must not be changed.
func (g *Graph) Feature(i int32) *routes.Feature { return g.line(int(g.edge(i).Feature)) }

// junctions numbers the vertices of all lines and finds the nodes where lines meet or
// end. Without node numbers a bridge or tunnel shares only the vertices at its ends.
func (g *Graph) junctions(nodes *nodeTable) (numbers [][]int32, isJunction []bool) {
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
				n = nodes.add(ft.Line[i])
			} else {
				n = nodes.number(ft, i)
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

// measuredLine is what the graph needs of a line.
type measuredLine struct {
	bound   orb.Bound
	stops   []stop
	lengthM float64
	marks   lineMarks
}

// measured measures the lines, several at once. numbers are those of their vertices, which become the
// numbers of nodes.
func (g *Graph) measured(numbers [][]int32, node []int32) []measuredLine {
	out := make([]measuredLine, len(g.features))
	const atOnce = 256
	var next atomic.Int64
	var running sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(out)/atOnce+1) {
		running.Go(func() {
			for {
				from := int(next.Add(atOnce)) - atOnce
				if from >= len(out) {
					return
				}
				for f := from; f < min(from+atOnce, len(out)); f++ {
					for i, n := range numbers[f] {
						numbers[f][i] = node[n]
					}
					m, ft := &out[f], &g.features[f]
					m.bound, m.marks = ft.Line.Bound(), marksOf(ft.Tags)
					m.stops, m.lengthM = stopsAt(ft.Line, numbers[f])
				}
			}
		})
	}
	running.Wait()
	return out
}

// stopsAt are the vertices of a line that have the number of a node; others have -1.
func stopsAt(line orb.LineString, numbers []int32) (stops []stop, lengthM float64) {
	for i, n := range numbers {
		if i > 0 {
			lengthM += stationing.DistanceM(line[i-1], line[i])
		}
		if n >= 0 {
			stops = append(stops, stop{int32(i), n, lengthM})
		}
	}
	return stops, lengthM
}

// stop is a vertex of a line that is a node, and its distance along the line.
type stop struct {
	vertex, node int32
	atM          float64
}

// addLine adds the edges of the next feature between the stops on its line.
func (g *Graph) addLine(ft *routes.Feature, stops []stop, lengthM float64, marks lineMarks) {
	f, begin := int32(len(g.spans)), int32(len(g.edges))
	g.edges = appendEdges(g.edges, begin, f, ft.Tags, stops)
	if marks.isBridge {
		g.bridges = append(g.bridges, f)
	}
	g.lengthM, g.marks = append(g.lengthM, lengthM), append(g.marks, marks)
	g.spans = append(g.spans, [2]int32{begin, int32(len(g.edges))})
}

// appendEdges appends the edges of a line between its stops, in the directions that its oneway tag
// allows; the first has number next.
func appendEdges(list []Edge, next, line int32, tags map[string]string, stops []stop) []Edge {
	sense := senseOf(tags)
	for i := 1; i < len(stops); i++ {
		a, b := stops[i-1], stops[i]
		e := Edge{From: a.node, To: b.node, Feature: line, First: a.vertex, Last: b.vertex, LengthM: b.atM - a.atM, firstM: a.atM, twin: -1}
		back := e
		back.From, back.To, back.IsReversed = e.To, e.From, true
		switch {
		case e.LengthM == 0:
		case sense > 0:
			list, next = append(list, e), next+1
		case sense < 0:
			list, next = append(list, back), next+1
		default:
			e.twin, back.twin = next+1, next
			list, next = append(list, e, back), next+2
		}
	}
	return list
}

// index sorts the edges by their nodes.
func (g *Graph) index() {
	g.out = g.byNode(func(e *Edge) int32 { return e.From })
	g.in = g.byNode(func(e *Edge) int32 { return e.To })
	g.mostDeg = 0
	for _, p := range g.points {
		g.mostDeg = math.Max(g.mostDeg, math.Abs(p[1]))
	}
}

// edgeIndex lists edges by a node of each: those of node n are list[of[n][0]:of[n][1]].
type edgeIndex struct {
	list []int32
	of   [][2]int32
}

func (x *edgeIndex) at(node int32) []int32 {
	span := x.of[node]
	return x.list[span[0]:span[1]]
}

func (g *Graph) byNode(of func(*Edge) int32) edgeIndex {
	x := edgeIndex{of: make([][2]int32, len(g.points))}
	for i := range g.edges {
		x.of[of(&g.edges[i])][1]++
	}
	sum := int32(0)
	for n := range x.of {
		count := x.of[n][1]
		x.of[n] = [2]int32{sum, sum}
		sum += count
	}
	x.list = make([]int32, sum)
	for i := range g.edges {
		span := &x.of[of(&g.edges[i])]
		x.list[span[1]] = int32(i)
		span[1]++
	}
	return x
}

func (g *Graph) leaving(node int32) []int32  { return g.out.at(node) }
func (g *Graph) arriving(node int32) []int32 { return g.in.at(node) }

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
			out = append(out, stationing.Piece{Feature: part(*g.line(int(open.Feature)), int(open.First), int(open.Last)), Reversed: open.IsReversed})
		}
	}
	for _, i := range w.Edges {
		e := g.Edge(i)
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
