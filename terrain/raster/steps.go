package raster

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"

	"gradeline/terrain"
)

// Steps names the rasters with different heights where they overlap: heights above the ellipsoid
// next to heights above the geoid, tree tops next to bare ground, or another unit. A grade line
// over such a step is wrong.
//
// Mosaics are compared with each other, and the tiles of one mosaic where they
// overlap, at the places (of roads, say) that both cover. Where the places are too few
// for a verdict, mosaics that both gave a height are compared anywhere in their
// overlap. Rasters behind addresses are left out.
func (s *Surface) Steps(ctx context.Context, places []terrain.Point) ([]string, error) {
	s.lifetime.RLock()
	defer s.lifetime.RUnlock()
	if s.closed {
		return nil, &terrain.Fault{Kind: terrain.ErrRead, Err: errClosed}
	}
	var out []string
	for _, p := range s.pairs {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if step := s.stepOfPair(p, places); step != "" {
			out = append(out, step)
		}
	}
	for _, l := range s.layers {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if l.overlaps && !l.remote {
			out = append(out, s.stepsOfTiles(l, places)...)
		}
	}
	return out, nil
}

// HasOverlaps reports whether Steps has anything to compare.
func (s *Surface) HasOverlaps() bool {
	return len(s.pairs) > 0 || slices.ContainsFunc(s.layers, func(l *layer) bool { return l.overlaps && !l.remote })
}

// inBox returns the places in a box of degrees, an even choice if they are many.
func inBox(places []terrain.Point, box [4]float64) []terrain.Point {
	var in []terrain.Point
	for _, p := range places {
		if o, ok := meet(box, [4]float64{p.LonDeg - 1e-9, p.LatDeg - 1e-9, p.LonDeg + 1e-9, p.LatDeg + 1e-9}); ok && o[0] < o[2] {
			in = append(in, p)
		}
	}
	if every := (len(in) + mostCompared - 1) / mostCompared; every > 1 {
		n := 0
		for i := 0; i < len(in); i += every {
			in[n] = in[i]
			n++
		}
		in = in[:n]
	}
	return in
}

// stepOfPair compares two mosaics; empty where they agree or cannot be compared.
func (s *Surface) stepOfPair(p *pair, places []terrain.Point) string {
	a, b := s.layers[p.a], s.layers[p.b]
	var diffs []float64
	compare := func(points []terrain.Point) {
		za, zb := s.only(a, points), s.only(b, points)
		for i := range za {
			if d := za[i] - zb[i]; d == d {
				diffs = append(diffs, d)
			}
		}
	}
	cellM := math.Max(a.cellM, b.cellM)
	if in := inBox(places, p.box); len(in) > 0 {
		compare(in)
	}
	where := "on the roads"
	var ta, tb *tile
	if len(diffs) < leastCompared && a.everUsed.Load() && b.everUsed.Load() {
		where, diffs = "where both have ground", diffs[:0]
		for n, sp := range s.spots(a, b) {
			if len(diffs) >= spotSpots*spotSide*spotSide*3/4 || n >= mostSpots {
				break
			}
			before := len(diffs)
			compare(sp.points(cellM))
			if ta == nil && len(diffs) > before {
				ta, tb = sp.a, sp.b
			}
		}
	}
	if ta == nil {
		ta, tb = tileWith(a, p.box), tileWith(b, p.box)
	}
	return stepWords(ta, tb, diffs, cellM, where)
}

// tileWith is the first tile of a mosaic that overlaps a box.
func tileWith(l *layer, box [4]float64) *tile {
	for _, t := range l.tiles {
		if _, ok := meet(box4(t.Bounds), box); ok {
			return t
		}
	}
	return l.tiles[0]
}

// stepsOfTiles compares the tiles of one mosaic where they overlap, cell by cell: the first that
// has a value hides the others.
func (s *Surface) stepsOfTiles(l *layer, places []terrain.Point) []string {
	sc := s.scratch.Get().(*scratch)
	defer s.scratch.Put(sc)
	sc.idx = sc.idx[:0]
	for i := range places {
		if l.mayHave(places[i]) {
			sc.idx = append(sc.idx, int32(i))
		}
	}
	sc.resize(len(sc.idx))
	l.project(places, sc)
	f := &patchFinder{s: s, l: l, blocks: map[uint64]*patchBlock{}}
	defer f.release()
	diffs := map[[2]*tile][]float64{}
	for k := range sc.idx {
		if !(math.Abs(sc.u[k]) < 1e12 && math.Abs(sc.v[k]) < 1e12) {
			continue
		}
		i, j := int64(math.Round(sc.u[k])), int64(math.Round(sc.v[k]))
		var first *tile
		var z float64
		for p := f.blockAt(i, j, -1); p != nil; p = f.blockAt(i, j, p.t.id) {
			if p.b.err != nil {
				continue
			}
			v := float64(p.b.data[(j-p.r)*p.w+i-p.c]) * l.mul
			switch key := [2]*tile{first, p.t}; {
			case v != v:
			case first == nil:
				first, z = p.t, v
			case len(diffs[key]) < mostCompared:
				diffs[key] = append(diffs[key], z-v)
			}
		}
		if len(f.blocks) > mostTileBlocks {
			f.release()
			f.blocks, f.last = map[uint64]*patchBlock{}, nil
		}
	}
	var keys [][2]*tile
	for k := range diffs {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b [2]*tile) int { return cmp.Or(cmp.Compare(a[0].id, b[0].id), cmp.Compare(a[1].id, b[1].id)) })
	var out []string
	for _, k := range keys {
		if step := stepWords(k[0], k[1], diffs[k], l.cellM, "on the roads"); step != "" {
			out = append(out, step)
		}
	}
	return out
}

// mostTileBlocks is the number of blocks in use at once while tiles are compared.
const mostTileBlocks = 32

// stepWords describes the difference of two rasters; empty where it is usual for cells of that
// size, or the places are too few.
func stepWords(ta, tb *tile, diffs []float64, cellM float64, where string) string {
	if len(diffs) < leastCompared {
		return ""
	}
	slices.Sort(diffs)
	d, limit := diffs[len(diffs)/2], stepM+stepPerCell*cellM
	if math.Abs(d) <= limit {
		return ""
	}
	word := "above"
	if d < 0 {
		word = "below"
	}
	return fmt.Sprintf("%s: is %.1f m %s %s %s (median of %d points; up to %.1f m is usual for cells of %.3g m): do both have the same vertical datum and unit, and are both bare ground? Use one of them, or convert them to one datum first",
		filepath.Base(ta.path), math.Abs(d), word, filepath.Base(tb.path), where, len(diffs), limit, cellM)
}
