package raster

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gradeline/terrain"
)

// chunkPoints is the number of points processed at once. It limits the memory of a call (about 30
// bytes a point). It also limits how often a block is decoded again in a call with many scattered
// points.
const chunkPoints = 1 << 20

// States of a point within one layer.
const (
	stOutside uint8 = iota
	stHit
	stVoid
	stUnreadable
	stEdge // its taps are in more than one block
)

// scratch is the memory of one call.
type scratch struct {
	idx   []int32   // points to read from the layer
	u, v  []float64 // their pixel coordinates; u becomes the height
	cellM []float32
	st    []uint8
	src   []int16
	far   []int32 // points that go through PROJ
	x, y  []float64

	runs   []run
	taps   []tap
	edges  []edge
	groups []group
	layers []int32
	used   []bool
	masks  map[*layer][]float32 // fill values in this call
}

func (sc *scratch) resize(n int) {
	sc.u = slices.Grow(sc.u[:0], n)[:n]
	sc.v = slices.Grow(sc.v[:0], n)[:n]
	sc.cellM = slices.Grow(sc.cellM[:0], n)[:n]
	sc.st = slices.Grow(sc.st[:0], n)[:n]
	sc.src = slices.Grow(sc.src[:0], n)[:n]
}

// Sample implements terrain.Surface. Each block of a raster that the points need is
// decoded once for a chunk of 1,048,576 points at most, whatever their order, by up to
// Options.Workers goroutines in all calls together; the result does not depend on their number. A block that
// cannot be decoded makes its points Unreadable (no coarser raster is used instead) and
// adds a warning.
func (s *Surface) Sample(ctx context.Context, points []terrain.Point, out []terrain.Sample) error {
	return s.sample(ctx, points, out, nil)
}

// sample is Sample without the stored heights of masks.
func (s *Surface) sample(ctx context.Context, points []terrain.Point, out []terrain.Sample, masks map[*layer][]float32) error {
	if len(points) != len(out) {
		return &terrain.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%d points and room for %d samples", len(points), len(out))}
	}
	s.lifetime.RLock()
	defer s.lifetime.RUnlock()
	if s.closed {
		return &terrain.Fault{Kind: terrain.ErrRead, Err: errClosed}
	}
	sc := s.scratch.Get().(*scratch)
	defer s.scratch.Put(sc)
	sc.masks = masks
	defer func() { sc.masks = nil }()
	sc.used = append(sc.used[:0], make([]bool, len(s.layers))...)
	for lo := 0; lo < len(points); lo += chunkPoints {
		hi := min(lo+chunkPoints, len(points))
		if err := s.sampleChunk(ctx, points[lo:hi], out[lo:hi], sc); err != nil {
			return err
		}
	}
	if err := s.checkDatums(sc.used); err != nil {
		return err
	}
	for n, u := range sc.used {
		if u {
			s.layers[n].everUsed.Store(true)
		}
	}
	return ctx.Err()
}

func (s *Surface) sampleChunk(ctx context.Context, points []terrain.Point, out []terrain.Sample, sc *scratch) error {
	s.findLayers(points, out, sc)
	for _, n := range sc.layers {
		if err := ctx.Err(); err != nil {
			return err
		}
		l := s.layers[n]
		sc.idx = sc.idx[:0]
		for i := range points {
			if m := out[i].Miss; (m == terrain.Outside || m == terrain.Void) && l.mayHave(points[i]) {
				sc.idx = append(sc.idx, int32(i))
			}
		}
		if len(sc.idx) == 0 {
			continue
		}
		sc.resize(len(sc.idx))
		l.project(points, sc)
		if err := s.readLayer(ctx, l, sc); err != nil {
			return err
		}
		sc.hand(n, out)
	}
	return nil
}

// findLayers lists the layers that may have a point, finest first, and makes every
// sample a miss.
func (s *Surface) findLayers(points []terrain.Point, out []terrain.Sample, sc *scratch) {
	nan := math.NaN()
	sc.layers = sc.layers[:0]
	west, south := 999.0, 999.0 // layers of the last one-degree square
	for i, p := range points {
		out[i] = terrain.Sample{ElevationM: nan, Source: -1, Miss: terrain.Outside}
		if p.LonDeg >= west && p.LonDeg < west+1 && p.LatDeg >= south && p.LatDeg < south+1 || !p.Valid() {
			continue
		}
		west, south = math.Floor(p.LonDeg), math.Floor(p.LatDeg)
		for _, n := range s.buckets[bucketOf(west, south)] {
			if at, found := slices.BinarySearch(sc.layers, n); !found {
				sc.layers = slices.Insert(sc.layers, at, n)
			}
		}
	}
}

// hand copies the heights of layer n into the samples.
func (sc *scratch) hand(n int32, out []terrain.Sample) {
	for k, i := range sc.idx {
		switch sc.st[k] {
		case stHit:
			out[i] = terrain.Sample{ElevationM: sc.u[k], CellM: sc.cellM[k], Source: sc.src[k], Miss: terrain.Hit}
			sc.used[n] = true
		case stVoid:
			if out[i].Miss == terrain.Outside {
				out[i] = terrain.Sample{ElevationM: math.NaN(), CellM: sc.cellM[k], Source: sc.src[k], Miss: terrain.Void}
			}
		case stUnreadable:
			out[i] = terrain.Sample{ElevationM: math.NaN(), CellM: sc.cellM[k], Source: sc.src[k], Miss: terrain.Unreadable}
		}
	}
}

// mayHave is a quick test by bounds in degrees.
func (l *layer) mayHave(p terrain.Point) bool {
	w, e, lon := l.bounds[0], l.bounds[2], p.LonDeg
	if !(p.LatDeg >= l.bounds[1] && p.LatDeg <= l.bounds[3]) {
		return false
	}
	return lon >= w && lon <= e || lon+360 >= w && lon+360 <= e || lon-360 >= w && lon-360 <= e
}

// project fills u, v (pixels of the layer, 0 at the centre of its first cell) and
// cellM for the points in idx.
func (l *layer) project(points []terrain.Point, sc *scratch) {
	p := l.proj
	var c *localCell
	var cellM float32
	lastX, lastY := int32(math.MinInt32), int32(math.MinInt32)
	sc.far, sc.x, sc.y = sc.far[:0], sc.x[:0], sc.y[:0]
	for k, i := range sc.idx {
		lon, lat := points[i].LonDeg, points[i].LatDeg
		ix, iy := cellKey(lon, lat)
		if ix != lastX || iy != lastY {
			lastX, lastY = ix, iy
			c = p.cell(ix, iy)
			cellM = float32(groundCellM(c.metric, l.geo))
		}
		sc.cellM[k] = cellM
		switch {
		case p.identity:
			sc.u[k], sc.v[k] = l.pixel(lon, lat)
		case c.exact:
			sc.far = append(sc.far, int32(k))
			sc.x, sc.y = append(sc.x, lon), append(sc.y, lat)
		default:
			x, y := c.projectedAt((lon-c.lon0)*(1/cellDeg), (lat-c.lat0)*(1/cellDeg))
			sc.u[k], sc.v[k] = l.pixel(x, y)
		}
	}
	p.exactly(sc.x, sc.y)
	for n, k := range sc.far {
		sc.u[k], sc.v[k] = l.pixel(sc.x[n], sc.y[n])
	}
}

// pixel converts CRS coordinates to pixels, cell centres at whole numbers.
func (l *layer) pixel(x, y float64) (u, v float64) {
	if l.proj.geographic {
		if x < l.westX && x+360 <= l.eastX {
			x += 360
		} else if x > l.eastX && x-360 >= l.westX {
			x -= 360
		}
	}
	dx, dy := x-l.geo[0], y-l.geo[3]
	return dx*l.inv[0] + dy*l.inv[1] - 0.5, dx*l.inv[2] + dy*l.inv[3] - 0.5
}

// checkDatums refuses a call whose heights come from two known vertical datums.
func (s *Surface) checkDatums(used []bool) error {
	var first, other, unknown *layer
	for n, u := range used {
		if !u {
			continue
		}
		switch l := s.layers[n]; {
		case l.datum == "unknown":
			unknown = l
		case first == nil:
			first = l
		case l.datum != first.datum && other == nil:
			other = l
		}
	}
	if other != nil {
		return &terrain.Fault{Kind: terrain.ErrMixedDatum, File: other.tiles[0].path,
			What: fmt.Sprintf("its heights are above %q, those of %s above %q", other.datum, first.tiles[0].path, first.datum),
			Fix:  "use rasters of one vertical datum for a route"}
	}
	if first != nil && unknown != nil {
		s.warn.add(unknown.tiles[0].path, fmt.Sprintf("does not name its vertical datum and is used together with %q of another raster", first.datum))
	}
	return nil
}
