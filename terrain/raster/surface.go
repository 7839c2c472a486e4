// Package raster is the terrain read from elevation rasters through GDAL.
//
// A Surface is any number of rasters: files, folders of tiles (searched through, in
// order of name) or VRT mosaics. Files that share CRS, cell, grid, unit and vertical
// datum form one mosaic, unless they overlap by more than half. Across the seams of its
// tiles the interpolation reads each tap from the tile that covers it, so there is
// neither a gap nor a step. Mosaics are tried finest first (ground size of the cell to
// two digits; equals in the order given). A point is read from the first mosaic that
// has every tap of its interpolation. Where a finer mosaic has a void the next one is
// tried; the point is a Void where none has a height. A point in the outermost half
// cell of a mosaic (one and a half with Cubic) is outside it; no value is clamped or
// extended.
//
// Values sit at cell centres. Interpolation is bilinear, or by cubic convolution, in
// 64-bit arithmetic on the stored values, which are kept as 32-bit floats; then the
// band's scale and offset and the vertical unit are applied. A tap is void if it is the
// no-data value, not finite, masked, outside -1,000 to 9,000 m, or of a patch of
// exactly 0 m that only heights above 300 m border on (holes filled with 0). Blocks
// that a GeoTIFF does not store are voids. The input is paths. The output is heights in
// metres above the rasters' own vertical datum, or a miss with its reason; errors are
// *terrain.Fault. Patch and SampleWithout are for ground of exactly one height, Peers
// for several rasters of one cell size. Steps names rasters with different heights
// where they overlap. NOTES.md has the reasons and figures.
//
// Limits. Mosaics of different cells or CRS that only touch leave a gap of up to one
// cell between them, and so does the 180th meridian; points there are Outside. Damage
// inside a compressed block is reported as far as the format detects it (libtiff often
// does not; the kinds that inflate decodes are checked).
//
// The vertical unit comes from the option, the band, or the vertical CRS; it is
// never guessed. The vertical datum is carried as a label; no height is ever
// converted between datums.
package raster

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"gradeline/terrain"
)

// Options set how rasters are read. The zero value is ready to use.
type Options struct {
	VertUnit    terrain.VerticalUnit // unit of the stored heights, in place of that in the files; UnitUnknown reads it from the file
	CacheBytes  int64                // decoded blocks kept in memory; 0 = DefaultCacheBytes
	Workers     int                  // goroutines that decode besides the callers; 0 = GOMAXPROCS
	Cubic       bool                 // cubic convolution instead of bilinear
	AllowRemote bool                 // addresses and GDAL's virtual file systems; else refused
	// FlatIsGround treats ground of exactly one height as real: blocks that a file does not store
	// are 0, and Surface.Patch finds plains only.
	FlatIsGround bool
	// RemoteTimeout is the time limit for an answer from an address; 0 = 30 s. A raster that twice
	// in a row gave none is not tried again.
	RemoteTimeout time.Duration
}

// DefaultCacheBytes is how much of decoded blocks a surface keeps if its options don't say.
const DefaultCacheBytes = 96 << 20

// ParseCacheBytes reads a size for Options.CacheBytes, a number of MiB from 8 up.
func ParseCacheBytes(text string) (int64, error) {
	mib, err := strconv.ParseInt(text, 10, 64)
	if err != nil || mib < 8 || mib > 1<<20 {
		return 0, fmt.Errorf("%q: use a number of MiB from 8 up", text)
	}
	return mib << 20, nil
}

// maxSources is the largest number of sources that terrain.Sample.Source can hold.
const maxSources = math.MaxInt16

// Surface implements terrain.Surface.
type Surface struct {
	opts     Options
	tiles    []*tile
	layers   []*layer
	proj     map[string]*projection
	buckets  map[int32][]int32 // one-degree squares to layers
	cache    *blockCache
	handles  *handlePool
	hgt      atomic.Int32 // whether HGT files are read by readHGT
	hgtOnce  sync.Mutex
	sources  []terrain.Raster
	layerOf  []*layer // of each source
	mosaicOf []int32  // and its number
	warn     warnings
	pairs    []*pair
	scratch  sync.Pool
	helpers  chan struct{} // one for each goroutine that decodes for a caller
	lifetime sync.RWMutex
	closed   bool
}

var _ terrain.PatchSurface = (*Surface)(nil)

// Open makes a surface of files and folders. It fails if any of them can't be used:
// missing, empty or damaged (ErrRead), without CRS (ErrNoCRS), without a vertical unit
// (ErrUnit), or a VRT or address that isn't allowed (ErrInput). The headers of a
// folder's files are kept in the user's cache folder, so that it opens quickly the next
// time.
func Open(ctx context.Context, paths []string, opts Options) (*Surface, error) {
	if err := setup(); err != nil {
		return nil, err
	}
	if opts.CacheBytes <= 0 {
		opts.CacheBytes = DefaultCacheBytes
	}
	if opts.RemoteTimeout <= 0 {
		opts.RemoteTimeout = 30 * time.Second
	}
	if opts.Workers <= 0 {
		opts.Workers = runtime.GOMAXPROCS(0)
	}
	s := &Surface{opts: opts, cache: newBlockCache(opts.CacheBytes), handles: newHandlePool(), buckets: map[int32][]int32{}, helpers: make(chan struct{}, opts.Workers)}
	s.scratch.New = func() any { return new(scratch) }
	found, err := findRasters(ctx, paths, opts)
	if err != nil {
		return nil, err
	}
	if len(found) == 0 {
		return nil, &terrain.Fault{Kind: terrain.ErrRead, File: strings.Join(paths, ", "), What: "no raster found",
			Fix: "name a raster file or a folder that holds some (" + strings.Join(extensions, " ") + ")"}
	}
	if len(found) > maxSources {
		return nil, &terrain.Fault{Kind: terrain.ErrInput, File: paths[0], What: fmt.Sprintf("%d rasters are more than %d", len(found), maxSources),
			Fix: "name fewer folders, or join tiles into larger ones"}
	}
	units, from, err := s.checkTiles(found)
	if err != nil {
		return nil, err
	}
	if s.layers, s.proj, err = layersFromTiles(found, units); err != nil {
		return nil, err
	}
	for n, l := range s.layers {
		s.tiles = append(s.tiles, l.tiles...)
		for range l.tiles {
			s.layerOf, s.mosaicOf = append(s.layerOf, l), append(s.mosaicOf, int32(n))
		}
		s.fillBuckets(int32(n), l)
	}
	s.findPairs()
	unitOf := make(map[*tile]terrain.VerticalUnit, len(found))
	for i, t := range found {
		unitOf[t] = units[i]
	}
	for _, t := range s.tiles {
		s.sources = append(s.sources, terrain.Raster{Name: filepath.Base(t.path), CellM: t.CellM, CRS: t.CRS.Name, VertDatum: t.CRS.Datum,
			VertUnit: unitOf[t], VertUnitFrom: from[t], Bytes: t.Bytes, Fingerprint: t.Fingerprint, Driver: t.Driver, Cols: t.Cols, Rows: t.Rows})
	}
	return s, nil
}

// checkTiles refuses files that cannot be used, and sets the unit of each file's heights and its
// origin.
func (s *Surface) checkTiles(found []*tile) (units []terrain.VerticalUnit, from map[*tile]string, err error) {
	units = make([]terrain.VerticalUnit, len(found))
	from = map[*tile]string{}
	for i, t := range found {
		for _, w := range t.Warnings {
			s.warn.add(t.path, w)
		}
		if t.CRS.Horizontal == "" {
			return nil, nil, &terrain.Fault{Kind: terrain.ErrNoCRS, File: t.path, What: "has no coordinate reference system that places it on the ground",
				Fix: "state it: gdal_translate -a_srs EPSG:CODE"}
		}
		unit, how, err := s.unitOf(t)
		if err != nil {
			return nil, nil, err
		}
		units[i] = unit
		from[t] = how
		if w := t.chooseBlocks(); w != "" {
			s.warn.add(t.path, w)
		}
	}
	return units, from, nil
}

// unitOf returns the vertical unit of a file and its origin.
func (s *Surface) unitOf(t *tile) (terrain.VerticalUnit, string, error) {
	if t.Is8Bit && s.opts.VertUnit == terrain.UnitUnknown {
		return 0, "", &terrain.Fault{Kind: terrain.ErrUnit, File: t.path, What: "has values of 8 bits, as a picture of the relief has: 256 steps are too few for heights",
			Fix: "use a raster of heights, or say with --vertical-unit m|ft|us-ft that these are heights"}
	}
	own, how := t.Unit, "file"
	if own == terrain.UnitUnknown && t.UnitOdd == "" {
		own, how = t.CRS.Unit, "crs"
	}
	if o := s.opts.VertUnit; o != terrain.UnitUnknown {
		if own != terrain.UnitUnknown && own != o {
			s.warn.add(t.path, fmt.Sprintf("states heights in %s; read as %s, as the option says", own, o))
		}
		return o, "option", nil
	}
	what := "does not state the unit of its heights"
	if odd := t.UnitOdd + t.CRS.UnitOdd; odd != "" {
		what = fmt.Sprintf("states its heights in %q, which is not a known unit", odd)
	} else if t.Unit != terrain.UnitUnknown && t.CRS.Unit != terrain.UnitUnknown && t.Unit != t.CRS.Unit {
		what = fmt.Sprintf("states %s for its heights and %s in its vertical CRS", t.Unit, t.CRS.Unit)
	} else if own != terrain.UnitUnknown {
		return own, how, nil
	}
	return 0, "", &terrain.Fault{Kind: terrain.ErrUnit, File: t.path, What: what, Fix: "state it with --vertical-unit m|ft|us-ft"}
}

// bucketOf numbers one-degree squares; longitudes that differ by 360 are the same.
func bucketOf(lonDeg, latDeg float64) int32 {
	lon := int32(math.Floor(lonDeg)) % 360
	if lon < 0 {
		lon += 360
	}
	return lon*256 + int32(math.Floor(latDeg)) + 100
}

func (s *Surface) fillBuckets(n int32, l *layer) {
	for _, t := range l.tiles {
		west, south, east, north := t.Bounds[0], t.Bounds[1], t.Bounds[2], t.Bounds[3]
		for lon := math.Floor(west); lon <= math.Floor(east) && lon < math.Floor(west)+360; lon++ {
			for lat := math.Floor(south); lat <= math.Floor(north); lat++ {
				k := bucketOf(lon, lat)
				if b := s.buckets[k]; len(b) == 0 || b[len(b)-1] != n {
					s.buckets[k] = append(b, n)
				}
			}
		}
	}
}

// Sources describes the rasters, finest mosaic first. Fingerprint is the SHA-256
// of the content of files up to 1 MiB and of parts of larger ones.
func (s *Surface) Sources() []terrain.Raster { return slices.Clone(s.sources) }

// Warnings lists the warnings of GDAL and this package so far, each once, sorted.
func (s *Surface) Warnings() []string { return s.warn.list() }

// Close releases the files. Sample fails afterwards.
func (s *Surface) Close() error {
	s.lifetime.Lock()
	defer s.lifetime.Unlock()
	if s.closed {
		return nil
	}
	s.closed = true
	s.cache.close()
	err := s.handles.close()
	for _, p := range s.proj {
		p.close()
	}
	if err != nil {
		return &terrain.Fault{Kind: terrain.ErrRead, What: "closing the rasters", Err: err}
	}
	return nil
}

var errClosed = errors.New("the surface is closed")

// warnings collects messages, each once, up to a cap.
type warnings struct {
	mu   sync.Mutex
	seen map[string]bool
	more int
}

const maxWarnings = 200

func (w *warnings) add(path, msg string) {
	text := filepath.Base(path) + ": " + msg
	if path == "" {
		text = msg
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.seen == nil {
		w.seen = map[string]bool{}
	}
	if w.seen[text] {
		return
	}
	if len(w.seen) >= maxWarnings {
		w.more++
		return
	}
	w.seen[text] = true
}

func (w *warnings) list() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	out := make([]string, 0, len(w.seen)+1)
	for m := range w.seen {
		out = append(out, m)
	}
	sort.Strings(out)
	if w.more > 0 {
		out = append(out, fmt.Sprintf("and %d more warnings", w.more))
	}
	return out
}
