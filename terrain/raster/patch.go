package raster

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"gradeline/terrain"
)

// Limits for classifying a patch of one height by its border. Our own choices; the tests show the
// effect of each.
const (
	mostPatchCells = 250_000 // followed; a patch of that size is large enough to classify
	sameShare      = 4.8e-7  // of a height: four units in the last place, the rounding of resampling
	plainSteps     = 1.5     // steps in height by which a plain's neighbours may differ …
	plainShare     = 0.6     // … for this share of them: plains have trees and banks too
	leastBorder    = 0.5     // cells of border, times the root of the patch's cells
	straightCells  = 20      // cells in one straight line, longer than in nature
	straightShare  = 0.5     // of the border, for a patch that was cut out
	leastBlockSide = 16      // cells; the border of narrower blocks is not informative
	leastStepEdges = 8       // cells of border, to find the step in which heights are stored
)

// isSame reports whether two stored heights are equal except for rounding.
func isSame(a, b float32) bool {
	return a == b || math.Abs(float64(a)-float64(b)) <= sameShare*math.Abs(float64(b))
}

// HeightStepM implements terrain.PatchSurface: the step of whole numbers.
func (s *Surface) HeightStepM(source int16) float64 {
	if source < 0 || int(source) >= len(s.tiles) || !s.tiles[source].IsWhole {
		return 0
	}
	return math.Abs(s.layerOf[source].mul)
}

// IsFlatGround implements terrain.PatchSurface.
func (s *Surface) IsFlatGround() bool { return s.opts.FlatIsGround }

// Patch implements terrain.PatchSurface. It starts at the cell nearest to the
// point and follows the patch across blocks and tiles, up to 250,000 cells.
func (s *Surface) Patch(ctx context.Context, p terrain.Point, source int16) (terrain.Patch, error) {
	if source < 0 || int(source) >= len(s.tiles) {
		return terrain.Patch{}, &terrain.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("source %d of %d", source, len(s.tiles))}
	}
	s.lifetime.RLock()
	defer s.lifetime.RUnlock()
	if s.closed {
		return terrain.Patch{}, &terrain.Fault{Kind: terrain.ErrRead, Err: errClosed}
	}
	l := s.layerOf[source]
	sc := s.scratch.Get().(*scratch)
	defer s.scratch.Put(sc)
	sc.idx = append(sc.idx[:0], 0)
	sc.resize(1)
	l.project([]terrain.Point{p}, sc)
	f := &patchFinder{s: s, l: l, blocks: map[uint64]*patchBlock{}}
	defer f.release()
	return f.patch(ctx, source, int64(math.Round(sc.u[0])), int64(math.Round(sc.v[0])))
}

// patchBlock is a block in use, with a mark for each visited cell.
type patchBlock struct {
	b     *block
	t     *tile
	c, r  int64 // its first pixel in the layer
	w, h  int64
	taken []bool
}

// borderEdge is one cell's side between the patch and its neighbour.
type borderEdge struct {
	isVertical bool
	line, at   int64 // the column or row of cells that it precedes, and the position along it
	isBlock    bool  // a stored block ends there too
}

// patchFinder follows one patch.
type patchFinder struct {
	s       *Surface
	l       *layer
	blocks  map[uint64]*patchBlock
	last    *patchBlock
	queue   [][2]int64
	edges   []borderEdge
	heights map[float32]bool // a sample of the stored heights next to the patch
	near    []float32        // stored difference of each of the edges
}

func (f *patchFinder) release() {
	for _, p := range f.blocks {
		f.s.cache.release(p.b)
	}
}

// blockAt finds the block of the first tile after one that holds a pixel of the
// layer; nil where no tile has it.
func (f *patchFinder) blockAt(i, j int64, after int32) *patchBlock {
	if p := f.last; p != nil && i >= p.c && j >= p.r && i < p.c+p.w && j < p.r+p.h && !f.l.overlaps {
		return p
	}
	t := f.l.tileAt(i, j, after)
	if t == nil {
		return nil
	}
	key := t.key(i, j)
	p := f.blocks[key]
	if p == nil {
		c, r, w, h := t.window(int64(uint32(key)))
		p = &patchBlock{t: t, c: t.col0 + c, r: t.row0 + r, w: w, h: h, taken: make([]bool, w*h)}
		p.b = f.s.cache.acquire(key, int(w*h), func(buf []float32) error { return f.s.decode(t, buf, c, r, w, h) })
		f.blocks[key] = p
	}
	f.last = p
	return p
}

// heightAt is the stored height at a pixel, of the first tile that has one, NaN in a
// void; p is nil where there is no raster or it can't be read.
func (f *patchFinder) heightAt(i, j int64) (p *patchBlock, off int64, v float32) {
	p = f.blockAt(i, j, -1)
	for p != nil && p.b.err == nil {
		off = (j-p.r)*p.w + i - p.c
		if v = p.b.data[off]; v == v || !f.l.overlaps {
			return p, off, v
		}
		next := f.blockAt(i, j, p.t.id)
		if next == nil {
			return p, off, v
		}
		p = next
	}
	return nil, 0, nan32
}

func (f *patchFinder) patch(ctx context.Context, source int16, i, j int64) (terrain.Patch, error) {
	p, off, v := f.heightAt(i, j)
	if v != v {
		return terrain.Patch{}, &terrain.Fault{Kind: terrain.ErrVoid, What: "no height there to follow"}
	}
	out := terrain.Patch{Filler: terrain.Filler{Source: source, NoData: v}, ElevationM: float64(v)*f.l.mul + f.l.add}
	if f.s.opts.FlatIsGround {
		return out, nil
	}
	f.heights = map[float32]bool{}
	p.taken[off] = true
	f.queue = append(f.queue, [2]int64{i, j})
	for n := 0; n < len(f.queue); n++ { // nearest first, so that a patch that is cut is round
		if out.Cells++; out.Cells > mostPatchCells {
			out.IsCut = true
			break
		}
		if out.Cells%4096 == 0 && ctx.Err() != nil {
			return out, ctx.Err()
		}
		at := f.queue[n]
		from, _, _ := f.heightAt(at[0], at[1])
		for _, d := range [4][2]int64{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
			f.look(from, at[0]+d[0], at[1]+d[1], d, v)
		}
	}
	step := f.step(v, f.s.tiles[source].IsWhole)
	out.StepM = step * math.Abs(f.l.mul)
	out.Kind = f.kind(out, step)
	return out, nil
}

// look continues to a neighbour of the same height or records the border to it.
func (f *patchFinder) look(from *patchBlock, i, j int64, d [2]int64, v float32) {
	p, off, z := f.heightAt(i, j)
	if p == nil {
		return // the raster's own edge
	}
	if isSame(z, v) {
		if !p.taken[off] {
			p.taken[off] = true
			f.queue = append(f.queue, [2]int64{i, j})
		}
		return
	}
	e := borderEdge{isVertical: d[0] != 0, line: i + max(0, -d[0]), at: j, isBlock: p.t != from.t}
	side, first := int64(p.t.BlockW), p.t.col0
	if !e.isVertical {
		e.line, e.at = j+max(0, -d[1]), i
		side, first = int64(p.t.BlockH), p.t.row0
	}
	e.isBlock = e.isBlock || side >= leastBlockSide && (e.line-first)%side == 0
	f.edges = append(f.edges, e)
	f.near = append(f.near, z-v)
	if z == z && len(f.heights) < 1000 {
		f.heights[z] = true
	}
}

// step is the step of the stored heights around the patch: 1, a tenth or a hundredth of the
// raster's unit, or 0 where they are continuous.
func (f *patchFinder) step(v float32, isWhole bool) float64 {
	if isWhole {
		return 1
	}
	if len(f.edges) < leastStepEdges || len(f.heights) == 0 {
		return 0
	}
	for _, q := range []float64{1, .1, .01} {
		ok := true
		for z := range f.heights {
			n := float64(z) / q
			// The rounding of a 32-bit number is not a sign of a finer step.
			ok = ok && math.Abs(n-math.Round(n)) <= math.Max(1e-6, 2e-7*math.Abs(n))
		}
		n := float64(v) / q
		if ok && math.Abs(n-math.Round(n)) <= math.Max(1e-6, 2e-7*math.Abs(n)) {
			return q
		}
	}
	return 0
}

// kind classifies the patch by its border.
func (f *patchFinder) kind(p terrain.Patch, step float64) terrain.PatchKind {
	border := len(f.edges)
	if float64(border) < leastBorder*math.Sqrt(float64(p.Cells)) && !p.IsCut || border == 0 {
		return terrain.PatchFiller
	}
	near, block := 0, 0
	for i, e := range f.edges {
		if math.Abs(float64(f.near[i])) <= plainSteps*step {
			near++
		}
		if e.isBlock {
			block++
		}
	}
	share := func(n int) float64 { return float64(n) / float64(border) }
	switch {
	case share(block) > straightShare:
		return terrain.PatchFiller
	case step > 0 && share(near) >= plainShare && !p.IsCut:
		return terrain.PatchPlain
	case share(f.straight()) > straightShare:
		return terrain.PatchFiller
	}
	return terrain.PatchBasin
}

// straight is the share of the border in long straight lines along the grid.
func (f *patchFinder) straight() int {
	slices.SortFunc(f.edges, func(a, b borderEdge) int {
		if a.isVertical != b.isVertical {
			if a.isVertical {
				return -1
			}
			return 1
		}
		return cmp.Or(cmp.Compare(a.line, b.line), cmp.Compare(a.at, b.at))
	})
	sum := 0
	for i := 0; i < len(f.edges); {
		k := i + 1
		for k < len(f.edges) && f.edges[k].isVertical == f.edges[i].isVertical && f.edges[k].line == f.edges[i].line && f.edges[k].at <= f.edges[k-1].at+1 {
			k++
		}
		if k-i >= straightCells {
			sum += k - i
		}
		i = k
	}
	return sum
}

// SampleWithout implements terrain.PatchSurface.
func (s *Surface) SampleWithout(ctx context.Context, points []terrain.Point, out []terrain.Sample, fillers []terrain.Filler) error {
	masks := map[*layer][]float32{}
	for _, f := range fillers {
		if f.Source < 0 || int(f.Source) >= len(s.tiles) {
			return &terrain.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("source %d of %d", f.Source, len(s.tiles))}
		}
		l := s.layerOf[f.Source]
		masks[l] = append(masks[l], f.NoData)
		s.warn.add(s.tiles[f.Source].path, fmt.Sprintf("holds a height of exactly %.7g for longer than any road is level, with a border that is not natural: "+
			"treated as missing. Declare the value (gdal_edit.py -a_nodata %.7g), or say --flat-is-ground if it is real", f.NoData, f.NoData))
	}
	return s.sample(ctx, points, out, masks)
}

// masked is a block's heights without fill values.
func (sc *scratch) masked(l *layer, data []float32) []float32 {
	fillers := sc.masks[l]
	if len(fillers) == 0 {
		return data
	}
	out := slices.Clone(data)
	for i, v := range out {
		for _, x := range fillers {
			if isSame(v, x) {
				out[i] = nan32
			}
		}
	}
	return out
}
