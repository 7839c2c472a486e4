package raster

import (
	"fmt"
	"math"
	"os"
	"sort"
	"sync"
	"sync/atomic"

	"gradeline/terrain"
)

const (
	stepTolerance  = 5e-9 // relative difference of cell sizes within one mosaic
	phaseTolerance = 5e-3 // largest offset of a tile from its mosaic's grid, in cells
	leastBlockPx   = 128  // side up to which tiny blocks are joined
	virtualBlockPx = 512  // side of the blocks of rasters without blocks
	// Heights outside this range cannot be the ground of a road (lowest dry land about -430 m,
	// highest 8,849 m; general knowledge). They count as voids, with a warning: undeclared -9999,
	// -32768 and the like.
	lowestM, highestM = -1000.0, 9000.0
)

// tile is one raster file within its layer's grid of pixels.
type tile struct {
	*header
	id         int32 // index in Surface.tiles and Sources
	path       string
	set        int   // the VRT of which it is a source; 0 for none
	col0, row0 int64 // of its first pixel in the layer's grid
	bw, bh     int64 // size of the blocks that are decoded at once
	nbx        int64
	lo, hi     float32  // raw values outside are voids
	holeAbove  float32  // raw value above which a neighbour makes zeros a hole; 0 where 0 is not 0 m
	own        [4]int64 // first column and row, end column and row of the part that no earlier tile has
	readConfig []string // GDAL's settings for a read: none for local files
	serial     sync.Mutex
	inflates   atomic.Int32              // whether its tiles are decoded by inflate
	where      atomic.Pointer[tiffTiles] // once they are known to be
	asOpened   os.FileInfo               // nil for an address
	silent     atomic.Int32              // reads in a row that an address did not answer
	oddOnce    atomic.Bool
}

func (t *tile) has(i, j int64) bool {
	return i >= t.col0 && j >= t.row0 && i < t.col0+int64(t.Cols) && j < t.row0+int64(t.Rows)
}

// key names the block that holds the layer pixel (i, j), which t must have.
func (t *tile) key(i, j int64) uint64 {
	return uint64(t.id)<<32 | uint64((j-t.row0)/t.bh*t.nbx+(i-t.col0)/t.bw)
}

// window gives block b's first column and row within the tile, and its size.
func (t *tile) window(b int64) (c, r, w, h int64) {
	c, r = b%t.nbx*t.bw, b/t.nbx*t.bh
	return c, r, min(t.bw, int64(t.Cols)-c), min(t.bh, int64(t.Rows)-r)
}

// chooseBlocks sets the size of the blocks. Tiled rasters keep theirs; tiny ones are joined (if a
// block is damaged, all of it is lost). Compressed strips are read complete, about 1 MiB at a time.
// Rows that can be read directly are cut into squares.
func (t *tile) chooseBlocks() (warning string) {
	bw, bh := int64(t.BlockW), int64(t.BlockH)
	cols, rows := int64(t.Cols), int64(t.Rows)
	join := func(side int64) int64 { return side * max(1, leastBlockPx/side) }
	switch {
	case t.Driver == "GTiff" && bw < cols && bw*bh <= 4<<20, t.Driver == "HFA" && bw*bh <= 4<<20:
		t.bw, t.bh = join(bw), join(bh)
	case (t.Driver == "GTiff" || t.Driver == "AAIGrid") && bw*bh <= 4<<20:
		t.bw, t.bh = bw, bh*max(1, virtualBlockPx*virtualBlockPx/(bw*bh))
	case t.Driver == "GTiff":
		warning = fmt.Sprintf("is stored in pieces of %d x %d cells, which makes reading slow; gdal_translate -of COG helps", bw, bh)
		fallthrough
	default:
		t.bw, t.bh = virtualBlockPx, virtualBlockPx
	}
	t.bw, t.bh = min(t.bw, cols), min(t.bh, rows)
	t.nbx = (cols + t.bw - 1) / t.bw
	return warning
}

// layer is a mosaic: tiles of one CRS, cell, grid, unit and vertical datum. Where they overlap,
// each cell comes from the first tile in the given order that has a value.
type layer struct {
	tiles    []*tile
	geo      [6]float64 // of the first tile: the origin of the grid
	inv      [4]float64 // column and row per CRS unit
	proj     *projection
	mul, add float64 // metres from raw values
	datum    string
	cellM    float64
	bounds   [4]float64  // degrees
	overlaps bool        // some cells are in two tiles
	remote   bool        // some tile isn't a local file
	everUsed atomic.Bool // has given a height

	westX, eastX float64 // in CRS units

	crs          crsText
	isVRT        bool
	nearW, nearH int64                // size of the buckets of near
	near         map[[2]int64][]*tile // tiles by place, while the layer is made
	gridW, gridH int64                // size of the index's buckets
	grid         map[[2]int64][]*tile
}

// fits reports whether t belongs to l's grid, and its place there.
func (l *layer) fits(t *tile, mul, add float64) (col0, row0 int64, ok bool) {
	if mul != l.mul || add != l.add || l.crs.Horizontal != t.CRS.Horizontal || l.crs.Datum != t.CRS.Datum || l.isVRT || t.VRT {
		return 0, 0, false
	}
	size := math.Hypot(l.geo[1], l.geo[4])
	for _, k := range []int{1, 2, 4, 5} {
		if math.Abs(l.geo[k]-t.Geo[k]) > stepTolerance*size {
			return 0, 0, false
		}
	}
	c, r := pixelOf(l.geo, t.Geo[0], t.Geo[3])
	rc, rr := math.Round(c), math.Round(r)
	if math.Abs(c-rc) > phaseTolerance || math.Abs(r-rr) > phaseTolerance || math.Abs(rc) > 1e12 || math.Abs(rr) > 1e12 {
		return 0, 0, false
	}
	return int64(rc), int64(rr), true
}

func newLayer(t *tile, p *projection, mul, add float64) *layer {
	g := t.Geo
	det := g[1]*g[5] - g[2]*g[4]
	return &layer{geo: g, crs: t.CRS, isVRT: t.VRT, near: map[[2]int64][]*tile{}, nearW: max(leastNearPx, int64(t.Cols)), nearH: max(leastNearPx, int64(t.Rows)), proj: p, mul: mul, add: add, datum: t.CRS.Datum,
		inv: [4]float64{g[5] / det, -g[2] / det, -g[4] / det, g[1] / det}}
}

// coveredShare is the share of a raster under another of the same grid beyond which it is a second
// observation of that ground and not an adjacent tile: our own choice.
const coveredShare = 0.5

const leastNearPx = 1024 // side of a bucket of layer.near

// addTile adds a tile to the layer.
func (l *layer) addTile(t *tile, col0, row0 int64) {
	t.col0, t.row0 = col0, row0
	l.tiles = append(l.tiles, t)
	l.eachNear(col0, row0, t, func(k [2]int64) bool {
		l.near[k] = append(l.near[k], t)
		return false
	})
}

// eachNear calls f for the buckets that a tile at a place covers in part, until f returns true.
func (l *layer) eachNear(col0, row0 int64, t *tile, f func(bucket [2]int64) bool) bool {
	for x := floorDiv(col0, l.nearW); x <= floorDiv(col0+int64(t.Cols)-1, l.nearW); x++ {
		for y := floorDiv(row0, l.nearH); y <= floorDiv(row0+int64(t.Rows)-1, l.nearH); y++ {
			if f([2]int64{x, y}) {
				return true
			}
		}
	}
	return false
}

// isCovered reports whether a tile of the layer covers much of t at a place, or t much of it.
// Sources of one VRT stay together: the VRT sets their order.
func (l *layer) isCovered(t *tile, col0, row0 int64) bool {
	return l.eachNear(col0, row0, t, func(k [2]int64) bool {
		for _, o := range l.near[k] {
			if t.set != 0 && t.set == o.set {
				continue
			}
			w := min(col0+int64(t.Cols), o.col0+int64(o.Cols)) - max(col0, o.col0)
			h := min(row0+int64(t.Rows), o.row0+int64(o.Rows)) - max(row0, o.row0)
			smaller := min(int64(t.Cols)*int64(t.Rows), int64(o.Cols)*int64(o.Rows))
			if w > 0 && h > 0 && float64(w)*float64(h) > coveredShare*float64(smaller) {
				return true
			}
		}
		return false
	})
}

// finish builds the index of a layer whose tiles are complete.
func (l *layer) finish() {
	l.cellM = math.Inf(1)
	l.bounds = l.tiles[0].Bounds
	l.westX, l.eastX = math.Inf(1), math.Inf(-1)
	for _, t := range l.tiles {
		t.own = [4]int64{t.col0, t.row0, t.col0 + int64(t.Cols), t.row0 + int64(t.Rows)}
		for _, c := range [][2]float64{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
			x := t.Geo[0] + c[0]*float64(t.Cols)*t.Geo[1] + c[1]*float64(t.Rows)*t.Geo[2]
			l.westX, l.eastX = math.Min(l.westX, x), math.Max(l.eastX, x)
		}
		l.gridW, l.gridH = max(l.gridW, int64(t.Cols)), max(l.gridH, int64(t.Rows))
		l.cellM = math.Min(l.cellM, t.CellM)
		l.remote = l.remote || isRemote(t.path)
		for k := 0; k < 2; k++ {
			l.bounds[k] = math.Min(l.bounds[k], t.Bounds[k])
			l.bounds[2+k] = math.Max(l.bounds[2+k], t.Bounds[2+k])
		}
	}
	l.near = nil
	l.grid = make(map[[2]int64][]*tile, 2*len(l.tiles))
	for _, t := range l.tiles {
		for x := floorDiv(t.col0, l.gridW); x <= floorDiv(t.col0+int64(t.Cols)-1, l.gridW); x++ {
			for y := floorDiv(t.row0, l.gridH); y <= floorDiv(t.row0+int64(t.Rows)-1, l.gridH); y++ {
				k := [2]int64{x, y}
				for _, o := range l.grid[k] {
					l.overlaps = t.cede(o) || l.overlaps
				}
				l.grid[k] = append(l.grid[k], t)
			}
		}
	}
}

// cede shrinks t.own so that it has no pixel of the earlier tile o, and loses as few as possible;
// it reports whether the two overlap.
func (t *tile) cede(o *tile) bool {
	oc, or, oe, os := o.col0, o.row0, o.col0+int64(o.Cols), o.row0+int64(o.Rows)
	if oc >= t.col0+int64(t.Cols) || oe <= t.col0 || or >= t.row0+int64(t.Rows) || os <= t.row0 {
		return false
	}
	w := t.own
	if oc >= w[2] || oe <= w[0] || or >= w[3] || os <= w[1] {
		return true // the rest of t.own does not overlap o
	}
	best, area := w, int64(-1)
	for _, c := range [][4]int64{{oe, w[1], w[2], w[3]}, {w[0], w[1], oc, w[3]}, {w[0], os, w[2], w[3]}, {w[0], w[1], w[2], or}} {
		if a := max(0, c[2]-c[0]) * max(0, c[3]-c[1]); a > area {
			best, area = c, a
		}
	}
	t.own = best
	return true
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

// tileAt returns the first tile with pixel (i, j) whose id is above after; nil if
// there is none.
func (l *layer) tileAt(i, j int64, after int32) *tile {
	for _, t := range l.grid[[2]int64{floorDiv(i, l.gridW), floorDiv(j, l.gridH)}] {
		if t.id > after && t.has(i, j) {
			return t
		}
	}
	return nil
}

// layersFromTiles groups the tiles, finest mosaic first (cell sizes to two digits;
// equal ones in the order given), and numbers the tiles in that order.
func layersFromTiles(tiles []*tile, units []terrain.VerticalUnit) ([]*layer, map[string]*projection, error) {
	projections := map[string]*projection{}
	var layers []*layer
	byCRS := map[string][]*layer{}
next:
	for n, t := range tiles {
		mul, add := t.Scale*units[n].MetresPer(), t.Offset*units[n].MetresPer()
		lo, hi := (lowestM-add)/mul, (highestM-add)/mul
		t.lo, t.hi = float32(math.Min(lo, hi)), float32(math.Max(lo, hi))
		if mul > 0 && add == 0 {
			t.holeAbove = float32(holeAboveFromCell(t.CellM) / mul)
		}
		for _, l := range byCRS[t.CRS.Horizontal] {
			if c, r, ok := l.fits(t, mul, add); ok && !l.isCovered(t, c, r) {
				l.addTile(t, c, r)
				continue next
			}
		}
		p := projections[t.CRS.Horizontal]
		if p == nil {
			var err error
			if p, err = newProjection(t.CRS.Horizontal); err != nil {
				return nil, nil, unreadable(t.path, err, "state its CRS: gdal_translate -a_srs EPSG:CODE")
			}
			projections[t.CRS.Horizontal] = p
		}
		l := newLayer(t, p, mul, add)
		l.addTile(t, 0, 0)
		layers = append(layers, l)
		byCRS[t.CRS.Horizontal] = append(byCRS[t.CRS.Horizontal], l)
	}
	for _, l := range layers {
		l.finish()
	}
	sort.SliceStable(layers, func(a, b int) bool { return twoDigits(layers[a].cellM) < twoDigits(layers[b].cellM) })
	id := int32(0)
	for _, l := range layers {
		for _, t := range l.tiles {
			t.id = id
			id++
		}
	}
	return layers, projections, nil
}

func twoDigits(v float64) float64 {
	e := math.Pow(10, math.Floor(math.Log10(v))-1)
	return math.Round(v/e) * e
}
