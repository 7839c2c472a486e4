package network

import (
	"math"

	"gradeline/routes"
)

// bans are sequences of edges that no way may contain (turn rules, and hills that are
// not held), and sequences that cost more than their edges. They are stored as an
// automaton (Aho and Corasick, Efficient string matching, CACM 1975, from memory), so
// that one small number is the state of a search.
type bans struct {
	next  map[banStep]int32 // children
	fail  []int32           // the longest proper suffix that is a prefix of a sequence
	cost  []float64         // cost of the sequences that end here; +Inf where one is banned
	heads map[int32]bool    // edges with which a sequence begins
	list  [][]int32
	costs []float64 // of the list
}

type banStep struct {
	state int32
	edge  int32
}

func newBans() *bans {
	b := &bans{}
	b.build()
	return b
}

// with returns the bans and more sequences.
func (b *bans) with(more ...[]int32) *bans { return b.withCosts(more, nil) }

// withCosts returns the bans and more sequences with their costs; no costs: banned.
func (b *bans) withCosts(more [][]int32, costs []float64) *bans {
	out := &bans{list: append(append([][]int32(nil), b.list...), more...), costs: append([]float64(nil), b.costs...)}
	for i := range more {
		c := math.Inf(1)
		if costs != nil {
			c = costs[i]
		}
		out.costs = append(out.costs, c)
	}
	out.build()
	return out
}

func (b *bans) build() {
	b.next, b.fail, b.cost, b.heads = map[banStep]int32{}, []int32{0}, []float64{0}, map[int32]bool{}
	type child struct {
		parent, state int32
		edge          int32
	}
	var byDepth [][]child
	for k, seq := range b.list {
		at := int32(0)
		if len(seq) > 0 {
			b.heads[seq[0]] = true
		}
		for depth, e := range seq {
			to, ok := b.next[banStep{at, e}]
			if !ok {
				to = int32(len(b.fail))
				b.next[banStep{at, e}] = to
				b.fail, b.cost = append(b.fail, 0), append(b.cost, 0)
				for len(byDepth) <= depth {
					byDepth = append(byDepth, nil)
				}
				byDepth[depth] = append(byDepth[depth], child{at, to, e})
			}
			at = to
		}
		if len(seq) > 0 {
			b.cost[at] += b.costs[k]
		}
	}
	for depth, list := range byDepth {
		for _, c := range list {
			if depth > 0 {
				b.fail[c.state] = b.step(b.fail[c.parent], c.edge)
			}
			b.cost[c.state] += b.cost[b.fail[c.state]]
		}
	}
}

// step is the state after an edge.
func (b *bans) step(state, edge int32) int32 {
	if state == 0 && !b.heads[edge] {
		return 0
	}
	for {
		if to, ok := b.next[banStep{state, edge}]; ok {
			return to
		}
		if state == 0 {
			return 0
		}
		state = b.fail[state]
	}
}

// allows reports whether a way of edges contains no banned sequence and no turn on the spot.
func (g *Graph) allows(way []int32) bool {
	state := int32(0)
	for i, e := range way {
		if i > 0 && g.edge(way[i-1]).twin == e {
			return false
		}
		if state = g.bans.step(state, e); math.IsInf(g.bans.cost[state], 1) {
			return false
		}
	}
	return true
}

// addTurns turns the rules of the road data into banned sequences.
func (g *Graph) addTurns(turns []routes.Turn, nodeOf func(id int64) (int32, bool)) {
	byWay := map[int64][]int32{}
	for i := range g.edges {
		if f := g.Feature(int32(i)); f.Place.IsWay {
			byWay[int64(f.Place.Feature)] = append(byWay[int64(f.Place.Feature)], int32(i))
		}
	}
	var list [][]int32
	for i := range turns {
		seqs := g.turnSequences(&turns[i], byWay, nodeOf)
		if len(seqs) > 0 {
			g.banned++
		}
		list = append(list, seqs...)
	}
	g.bans = newBans().with(list...)
}

const mostViaEdges = 200 // of one rule; longer ones are errors in the data

// turnSequences are the sequences of edges that a rule bans.
func (g *Graph) turnSequences(t *routes.Turn, byWay map[int64][]int32, nodeOf func(id int64) (int32, bool)) [][]int32 {
	isTo := map[int32]bool{}
	for _, w := range t.ToWays {
		for _, e := range byWay[w] {
			isTo[e] = true
		}
	}
	var out [][]int32
	for _, h := range g.turnHeads(t, byWay, nodeOf) {
		last := h[len(h)-1]
		hasTo := false
		for _, e := range g.leaving(g.edge(last).To) {
			hasTo = hasTo || isTo[e] && g.edge(last).twin != e
		}
		for _, e := range g.leaving(g.edge(last).To) {
			switch {
			case g.edge(last).twin == e:
			case !t.IsOnly && isTo[e], t.IsOnly && !isTo[e] && (hasTo || len(t.ViaWays) == 0):
				out = append(out, append(append([]int32(nil), h...), e))
			}
		}
	}
	return out
}

// turnHeads are the sequences of edges after which a rule applies: from, via ….
func (g *Graph) turnHeads(t *routes.Turn, byWay map[int64][]int32, nodeOf func(id int64) (int32, bool)) [][]int32 {
	var heads [][]int32
	via, hasNode := nodeOf(t.ViaNode)
	for _, w := range t.FromWays {
		for _, e := range byWay[w] {
			switch {
			case len(t.ViaWays) > 0:
				heads = append(heads, g.along([]int32{e}, t.ViaWays, byWay)...)
			case hasNode && g.edge(e).To == via:
				heads = append(heads, []int32{e})
			}
		}
	}
	return heads
}

// along follows the via ways of a rule from a sequence's end; it returns the sequences
// that have passed all of them.
func (g *Graph) along(head []int32, via []int64, byWay map[int64][]int32) [][]int32 {
	if len(via) == 0 {
		return [][]int32{head}
	}
	var out [][]int32
	last := head[len(head)-1]
	for _, e := range byWay[via[0]] {
		if g.edge(e).From != g.edge(last).To || g.edge(last).twin == e {
			continue
		}
		seq := append([]int32(nil), head...)
		for at := e; at >= 0 && len(seq) < mostViaEdges; at = g.nextOnLine(at) {
			seq = append(seq, at)
			out = append(out, g.along(append([]int32(nil), seq...), via[1:], byWay)...)
		}
	}
	return out
}

// nextOnLine is the next edge along the same line; -1 at its end.
func (g *Graph) nextOnLine(i int32) int32 {
	e := g.edge(i)
	for _, k := range g.leaving(e.To) {
		o := g.edge(k)
		if o.Feature == e.Feature && o.IsReversed == e.IsReversed && (e.IsReversed && o.Last == e.First || !e.IsReversed && o.First == e.Last) {
			return k
		}
	}
	return -1
}
