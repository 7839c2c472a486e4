package survey

import (
	"context"
	"encoding/binary"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/routes/network"
	"gradeline/terrain"
)

// What a search needs at once is kept as two kinds of part: the graph with the place of
// each line on its road, and the figures of a class, named by the class and its
// definition. Grade lines stay with the roads.

const (
	graphPart  = "graph"
	partLayout = 1
	// Costs and speeds are rounded down: less than they are never hides the best way.
	costUnitS    = 0.002
	speedUnitMPS = 0.5
)

// classMark names a class's definition, the rules of advice and its weather (nil for the usual one),
// for what is kept of a road.
func classMark(c *vehicle.Class, w *catalog.Weather) string {
	return store.ClassSHA256(c.AdviceMark() + mustJSON(weatherOr(w)) + mustJSON(c.View()))
}

// classMarks are the marks of several classes, which take long to make.
func classMarks(classes []vehicle.Class, w *catalog.Weather) []string {
	out := make([]string, len(classes))
	for i := range classes {
		out[i] = classMark(&classes[i], w)
	}
	return out
}

func classPart(c *vehicle.Class, w *catalog.Weather) string {
	return "class " + c.ID + " " + classMark(c, w)
}

// saveNetworkParts makes the parts of the network as the batch has it.
func saveNetworkParts(ctx context.Context, batch *store.Survey, classes []vehicle.Class, massKg float64, w *catalog.Weather) error {
	sources, err := batch.NetworkSources(ctx)
	if err != nil || len(sources) == 0 {
		return err
	}
	k, figures, err := buildNetwork(sources, classes, massKg, w, func(f func(*store.NetworkRoad) error) error {
		return batch.EachNetworkRoad(ctx, func(r *store.NetworkRoad) error {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			return f(r)
		})
	})
	if err != nil || len(k.roads) == 0 {
		return err
	}
	b, err := k.appendGraph([]byte{partLayout})
	if err != nil {
		return err
	}
	if err := batch.SaveNetworkPart(ctx, graphPart, b); err != nil {
		return err
	}
	for i, f := range figures {
		if err := batch.SaveNetworkPart(ctx, classPart(&classes[i], w), f.appendTo([]byte{partLayout})); err != nil {
			return err
		}
	}
	return nil
}

// Merge merges another catalogue into one, see store.Merge, and prepares the roads of both for the
// search of ways: those of the classes with which each road was surveyed.
func Merge(ctx context.Context, dst, src *store.Catalog, o store.MergeOptions, classes []vehicle.Class) (store.MergeReport, error) {
	r, err := store.Merge(ctx, dst, src, o)
	if err != nil || o.DryRun {
		return r, err
	}
	_, parts, err := dst.NetworkParts(ctx, graphPart)
	if err != nil || parts[graphPart] != nil {
		return r, err
	}
	surveyed := map[string]int{}
	roads := 0
	err = dst.ReadNetwork(ctx, func(_ []store.NetworkSource, each func(func(*store.NetworkRoad) error) error) error {
		return each(func(road *store.NetworkRoad) error {
			if !road.IsSurveyed {
				return nil
			}
			roads++
			for i := range road.Masks {
				surveyed[road.Masks[i].Class+" "+road.Masks[i].ClassSHA256]++
			}
			return nil
		})
	})
	if err != nil || roads == 0 {
		return r, err
	}
	var known []vehicle.Class
	for i := range classes {
		if c := &classes[i]; surveyed[c.ID+" "+classMark(c, nil)] == roads {
			known = append(known, *c)
		}
	}
	batch := dst.BeginSurvey(store.SaveOptions{By: o.By})
	if err := saveNetworkParts(ctx, batch, known, 0, nil); err != nil {
		_ = batch.Abort() // nothing else is in it
		return r, err
	}
	return r, batch.Close()
}

// appendGraph packs the roads, the lines' places on them, and the graph.
func (k *KeptNetwork) appendGraph(b []byte) ([]byte, error) {
	b = binary.AppendUvarint(b, uint64(len(k.roads)))
	for i := range k.roads {
		r := &k.roads[i]
		b = append(binary.AppendUvarint(b, uint64(len(r.id))), r.id...)
		b = binary.AppendUvarint(appendFloat(b, r.lengthM), uint64(r.last-r.first))
		for l := r.first; l < r.last; l++ {
			s := k.at[l]
			b = appendFloat(appendFloat(b, s.fromM), s.toM)
			b = append(b, byteOf(s.isReversed))
		}
	}
	return k.graph.AppendBinary(b)
}

func appendFloat(b []byte, v float64) []byte {
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
}

func byteOf(is bool) byte {
	if is {
		return 1
	}
	return 0
}

// appendTo packs the figures of a class.
func (f *classFigures) appendTo(b []byte) []byte {
	b = appendFloat(b, f.massKg)
	b = binary.AppendUvarint(b, uint64(len(f.edges)))
	for i := range f.edges {
		c := &f.edges[i]
		for _, v := range []float64{c.freeS, c.timeS - c.freeS, c.beginS, c.endS} {
			b = binary.AppendUvarint(b, uint64(v/costUnitS))
		}
		b = append(b, byte(min(255, c.beginMPS/speedUnitMPS)), byte(min(255, c.endMPS/speedUnitMPS)))
	}
	b = binary.AppendUvarint(b, uint64(len(f.hills)))
	for i := range f.hills {
		h := &f.hills[i]
		b = append(b, byteOf(h.isHeld))
		b = appendFloat(appendFloat(appendFloat(b, h.heaviestKg), h.usePct), h.lostS)
		b = binary.AppendUvarint(b, uint64(len(h.edges)))
		for _, e := range h.edges {
			b = binary.AppendUvarint(b, uint64(e))
		}
	}
	return b
}

// partReader reads what is packed in a part; after what does not fit, isDamaged stays set.
type partReader struct {
	b         []byte
	isDamaged bool
}

func (r *partReader) fail() { r.b, r.isDamaged = nil, true }

func (r *partReader) bytes(n int) []byte {
	if n < 0 || n > len(r.b) {
		r.fail()
		return nil
	}
	out := r.b[:n]
	r.b = r.b[n:]
	return out
}

func (r *partReader) byte() byte {
	if b := r.bytes(1); b != nil {
		return b[0]
	}
	return 0
}

// float reads a figure that is at least 0.
func (r *partReader) float() float64 {
	b := r.bytes(8)
	if b == nil {
		return 0
	}
	v := math.Float64frombits(binary.LittleEndian.Uint64(b))
	if !(v >= 0) || math.IsInf(v, 1) {
		r.fail()
	}
	return v
}

// count reads a number of things that take at least size bytes each.
func (r *partReader) count(size int) int {
	v, n := binary.Uvarint(r.b)
	if n <= 0 || v > uint64(len(r.b))/uint64(size) {
		r.fail()
		return 0
	}
	r.b = r.b[n:]
	return int(v)
}

// cost reads a time.
func (r *partReader) cost() float64 {
	v, n := binary.Uvarint(r.b)
	if n <= 0 || v > 1<<40 {
		r.fail()
		return 0
	}
	r.b = r.b[n:]
	return float64(v) * costUnitS
}

func (r *partReader) speed() float64 { return float64(r.byte()) * speedUnitMPS }

func damagedPart() error {
	return &store.Fault{Kind: terrain.ErrRead, What: "the stored search graph of the road network is damaged", Fix: "survey the network again"}
}

// unpackNetwork reads both parts.
func unpackNetwork(graph, figures []byte) (*KeptNetwork, error) {
	k, err := unpackGraph(graph)
	if err != nil {
		return nil, err
	}
	if k.figures, err = unpackFigures(figures, k.graph.Edges()); err != nil {
		return nil, err
	}
	return k, nil
}

func unpackGraph(b []byte) (*KeptNetwork, error) {
	r, k := partReader{b: b}, &KeptNetwork{}
	if r.byte() != partLayout {
		return nil, damagedPart()
	}
	k.roads = make([]keptRoad, r.count(10))
	for i := range k.roads {
		road := keptRoad{id: string(r.bytes(r.count(1))), lengthM: r.float(), first: len(k.at)}
		for range r.count(17) {
			k.at = append(k.at, keptSpan{i, r.float(), r.float(), r.byte() == 1})
		}
		road.last = len(k.at)
		k.roads[i] = road
		if r.isDamaged {
			return nil, damagedPart()
		}
	}
	var err error
	if k.graph, err = network.GraphFromBinary(r.b); err != nil {
		return nil, err
	}
	if k.graph.Lines() != len(k.at) {
		return nil, damagedPart()
	}
	return k, nil
}

func unpackFigures(b []byte, edges int) (*classFigures, error) {
	r, f := partReader{b: b}, &classFigures{}
	if r.byte() != partLayout {
		return nil, damagedPart()
	}
	f.massKg = r.float()
	if n := r.count(6); n != edges {
		return nil, damagedPart()
	}
	f.edges = make([]edgeCost, edges)
	for i := range f.edges {
		c := edgeCost{freeS: r.cost(), timeS: r.cost(), beginS: r.cost(), endS: r.cost(), beginMPS: r.speed(), endMPS: r.speed()}
		c.timeS += c.freeS
		f.edges[i] = c
	}
	if n := r.count(26); n > 0 {
		f.hills = make([]keptHill, n)
	}
	for i := range f.hills {
		h := keptHill{isHeld: r.byte() == 1, heaviestKg: r.float(), usePct: r.float(), lostS: r.float(), edges: make([]int32, r.count(1))}
		for j := range h.edges {
			e, size := binary.Uvarint(r.b)
			if size <= 0 || e >= uint64(edges) {
				return nil, damagedPart()
			}
			h.edges[j], r.b = int32(e), r.b[size:]
		}
		f.hills[i] = h
	}
	if r.isDamaged || len(r.b) > 0 {
		return nil, damagedPart()
	}
	return f, nil
}
