package network

import (
	"slices"

	"gradeline/routes"
)

// cutLines are the lines that the places of a query have split, and their edges. They are numbered
// on from those of the graph, which all queries share.
type cutLines struct {
	features []routes.Feature
	lengthM  []float64
	spans    [][2]int32
	origins  []int32 // the graph's own line of each
	edges    []Edge
}

func (c *cutLines) clipped() cutLines {
	return cutLines{slices.Clip(c.features), slices.Clip(c.lengthM), slices.Clip(c.spans), slices.Clip(c.origins), slices.Clip(c.edges)}
}

func (g *Graph) edge(i int32) *Edge {
	if int(i) < len(g.edges) {
		return &g.edges[i]
	}
	return &g.cut.edges[int(i)-len(g.edges)]
}

func (g *Graph) line(f int) *routes.Feature {
	if f < len(g.features) {
		return &g.features[f]
	}
	return &g.cut.features[f-len(g.features)]
}

// base is the number of the graph's own line of which a line is a newer form.
func (g *Graph) base(f int) int {
	if f < len(g.features) {
		return f
	}
	return int(g.cut.origins[f-len(g.features)])
}

// span are the edges of a line: from, to.
func (g *Graph) span(f int) [2]int32 {
	if f < len(g.spans) {
		return g.spans[f]
	}
	return g.cut.spans[f-len(g.spans)]
}

func (g *Graph) lineLengthM(f int) float64 {
	if f < len(g.lengthM) {
		return g.lengthM[f]
	}
	return g.cut.lengthM[f-len(g.lengthM)]
}

// addCut adds a line that replaces another, with its nodes; -1 for a vertex that is none.
func (g *Graph) addCut(replaces int, f *routes.Feature, numbers []int32) {
	n, begin := int32(g.Lines()), int32(g.Edges())
	stops, lengthM := stopsAt(f.Line, numbers)
	c := &g.cut
	c.edges = appendEdges(c.edges, begin, n, f.Tags, stops)
	if origin := g.base(replaces); g.marks[origin].isBridge {
		g.bridges = append(slices.Clip(g.bridges), n)
	}
	c.origins = append(c.origins, int32(g.base(replaces)))
	c.features, c.lengthM = append(c.features, *f), append(c.lengthM, lengthM)
	c.spans = append(c.spans, [2]int32{begin, int32(g.Edges())})
}

// reindex makes the index of a graph whose places have cut edges: the lists of the nodes that
// changed are made anew. Cut edges from number had on are new.
func (g *Graph) reindex(had int) {
	isOut, isIn := map[int32]bool{}, map[int32]bool{}
	note := func(e *Edge) { isOut[e.From], isIn[e.To] = true, true }
	for e := range g.replaced {
		note(g.edge(e))
	}
	for i := range g.cut.edges[had:] {
		note(&g.cut.edges[had+i])
	}
	g.out = g.renewed(&g.out, isOut, had, func(e *Edge) int32 { return e.From })
	g.in = g.renewed(&g.in, isIn, had, func(e *Edge) int32 { return e.To })
}

// renewed is an index with the lists of the nodes that changed made anew, at its end.
func (g *Graph) renewed(x *edgeIndex, isChanged map[int32]bool, had int, of func(*Edge) int32) edgeIndex {
	out := edgeIndex{list: slices.Clip(x.list), of: slices.Clone(x.of)}
	for len(out.of) < len(g.points) {
		out.of = append(out.of, [2]int32{})
	}
	for n := range isChanged {
		begin, span := int32(len(out.list)), out.of[n]
		for _, e := range x.list[span[0]:span[1]] {
			if _, isCut := g.replaced[e]; !isCut {
				out.list = append(out.list, e)
			}
		}
		for i := had; i < len(g.cut.edges); i++ {
			if e := int32(len(g.edges) + i); of(&g.cut.edges[i]) == n {
				if _, isCut := g.replaced[e]; !isCut {
					out.list = append(out.list, e)
				}
			}
		}
		out.of[n] = [2]int32{begin, int32(len(out.list))}
	}
	return out
}
