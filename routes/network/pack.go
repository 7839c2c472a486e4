package network

import (
	"encoding/binary"
	"math"
	"slices"
	"strconv"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// A graph is packed in this order: texts, sets of tags, lines with the nodes on them, turn rules.
// Lines with the same tags share one set. The numbers of the vertices in the road data are left
// out: they are not needed after the turn rules have found their edges.

const (
	packLayout  = 1
	placesInDeg = 1e7 // a division restores exactly the number that was read from a file
)

// AppendBinary appends the graph in a form that is read much faster than the graph is
// made. Places are kept to 1e-7 degree. Call it on a graph without the places of a query.
func (g *Graph) AppendBinary(b []byte) ([]byte, error) {
	w := packer{texts: map[string]uint64{}, sets: map[string]uint64{}}
	for f := range g.features {
		w.line(g, f)
	}
	b = append(b, packLayout)
	b = binary.AppendUvarint(b, uint64(len(g.points)))
	b = binary.AppendUvarint(b, uint64(len(g.edges)))
	b = appendPart(b, len(w.texts), w.textBytes)
	b = appendPart(b, len(w.sets), w.setBytes)
	b = appendPart(b, len(g.features), w.lineBytes)
	b = binary.AppendUvarint(b, uint64(w.vertices))
	b = binary.AppendUvarint(b, uint64(len(g.bans.list)))
	for _, seq := range g.bans.list {
		b = binary.AppendUvarint(b, uint64(len(seq)))
		for _, e := range seq {
			b = binary.AppendUvarint(b, uint64(e))
		}
	}
	return binary.AppendUvarint(b, uint64(g.banned)), nil
}

func appendPart(b []byte, count int, part []byte) []byte {
	b = binary.AppendUvarint(b, uint64(count))
	b = binary.AppendUvarint(b, uint64(len(part)))
	return append(b, part...)
}

// packer collects the parts of a packed graph.
type packer struct {
	texts, sets                    map[string]uint64
	textBytes, setBytes, lineBytes []byte
	vertices                       int
	key                            []byte
	names                          []string
}

func (w *packer) text(s string) uint64 {
	n, ok := w.texts[s]
	if !ok {
		n = uint64(len(w.texts))
		w.texts[s] = n
		w.textBytes = append(binary.AppendUvarint(w.textBytes, uint64(len(s))), s...)
	}
	return n
}

func (w *packer) set(tags map[string]string) uint64 {
	w.names = w.names[:0]
	for k := range tags {
		w.names = append(w.names, k)
	}
	slices.Sort(w.names)
	w.key = binary.AppendUvarint(w.key[:0], uint64(len(w.names)))
	for _, k := range w.names {
		w.key = binary.AppendUvarint(binary.AppendUvarint(w.key, w.text(k)), w.text(tags[k]))
	}
	n, ok := w.sets[string(w.key)]
	if !ok {
		n = uint64(len(w.sets))
		w.sets[string(w.key)] = n
		w.setBytes = append(w.setBytes, w.key...)
	}
	return n
}

// line packs a line with the nodes on it.
func (w *packer) line(g *Graph, f int) {
	ft := &g.features[f]
	b := binary.AppendUvarint(w.lineBytes, w.set(ft.Tags))
	b = binary.AppendUvarint(b, w.text(ft.Place.File))
	flags := uint64(0)
	if ft.Place.IsWay {
		flags |= 1
	}
	isNumbered := ft.WayID == strconv.Itoa(ft.Place.Feature)
	if isNumbered {
		flags |= 2
	}
	b = binary.AppendVarint(binary.AppendUvarint(b, flags), int64(ft.Place.Feature))
	if !isNumbered {
		b = binary.AppendUvarint(b, w.text(ft.WayID))
	}
	b = binary.AppendUvarint(b, uint64(len(ft.Structures)))
	for _, s := range ft.Structures {
		b = appendFloats(append(b, byte(s.Kind)), s.FromM, s.ToM)
		b = append(b, boolByte(s.Flagged))
	}
	b = binary.AppendUvarint(b, uint64(len(ft.Line)))
	w.vertices += len(ft.Line)
	var x, y int64
	for _, p := range ft.Line {
		px, py := int64(math.Round(p[0]*placesInDeg)), int64(math.Round(p[1]*placesInDeg))
		b = binary.AppendVarint(binary.AppendVarint(b, px-x), py-y)
		x, y = px, py
	}
	stops := g.stopsOf(f)
	b = binary.AppendUvarint(b, uint64(len(stops)))
	before := stop{}
	for _, s := range stops {
		b = binary.AppendVarint(binary.AppendUvarint(b, uint64(s.vertex-before.vertex)), int64(s.node)-int64(before.node))
		b = appendFloats(b, s.atM)
		before = s
	}
	w.lineBytes = appendFloats(b, g.lengthM[f])
}

// stopsOf are the nodes at which the edges of a line begin and end, in its order.
func (g *Graph) stopsOf(f int) []stop {
	var out []stop
	for i := g.spans[f][0]; i < g.spans[f][1]; i++ {
		e := &g.edges[i]
		a, b := stop{e.First, e.From, e.firstM}, stop{e.Last, e.To, e.firstM + e.LengthM}
		if e.IsReversed {
			a.node, b.node = b.node, a.node
		}
		if n := len(out); n == 0 || out[n-1].vertex < a.vertex {
			out = append(out, a)
		}
		if out[len(out)-1].vertex < b.vertex {
			out = append(out, b)
		}
	}
	return out
}

func appendFloats(b []byte, values ...float64) []byte {
	for _, v := range values {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	return b
}

func boolByte(is bool) byte {
	if is {
		return 1
	}
	return 0
}

// GraphFromBinary reads the bytes of AppendBinary; other bytes are a fault.
func GraphFromBinary(b []byte) (*Graph, error) {
	u := unpacker{b: b}
	if u.byte() != packLayout {
		u.fail()
	}
	points, edges := u.count(1<<31), u.count(1<<31)
	texts := u.readTexts()
	sets, marks := u.readSets(texts)
	count := u.count(uint64(len(u.b)))
	lines := u.part()
	vertices := u.count(uint64(len(b)))
	if u.isDamaged || points > len(b) || edges > len(b) {
		return nil, damagedGraph()
	}
	g := &Graph{points: make([]orb.Point, points), edges: make([]Edge, 0, edges), features: make([]routes.Feature, 0, count),
		bounds: make([]orb.Bound, 0, count), spans: make([][2]int32, 0, count), lengthM: make([]float64, 0, count), marks: make([]lineMarks, 0, count)}
	r := lineReader{unpacker: unpacker{b: lines}, texts: texts, sets: sets, marks: marks, vertices: make([]orb.Point, vertices), g: g}
	for range count {
		if r.readLine(); r.isDamaged {
			return nil, damagedGraph()
		}
	}
	if len(g.edges) != edges || len(r.b) > 0 {
		return nil, damagedGraph()
	}
	g.readBans(&u)
	if u.isDamaged || len(u.b) > 0 {
		return nil, damagedGraph()
	}
	g.index()
	return g, nil
}

func damagedGraph() error {
	return &routes.Fault{Kind: terrain.ErrRead, What: "the stored search graph of the road network is damaged", Fix: "survey the network again"}
}

func (g *Graph) readBans(u *unpacker) {
	list := make([][]int32, u.count(uint64(len(u.b))))
	for i := range list {
		list[i] = make([]int32, u.count(uint64(len(u.b))))
		for k := range list[i] {
			e := u.uvarint()
			if e >= uint64(len(g.edges)) {
				u.fail()
				return
			}
			list[i][k] = int32(e)
		}
	}
	g.banned = u.count(1 << 31)
	g.bans = newBans().with(list...)
	g.rules = g.bans
}
