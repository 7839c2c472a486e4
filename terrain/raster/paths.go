package raster

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strconv"
	"strings"

	"gradeline/terrain"
)

// extensions are the file names that a folder is searched for.
var extensions = []string{".tif", ".tiff", ".hgt", ".asc", ".img", ".dem", ".bil", ".flt", ".dt0", ".dt1", ".dt2", ".vrt"}

func isRasterName(name string) bool {
	return !strings.HasPrefix(name, ".") && slices.Contains(extensions, strings.ToLower(filepath.Ext(name)))
}

// findRasters turns paths into tiles in the order given, each file once.
func findRasters(ctx context.Context, paths []string, opts Options) ([]*tile, error) {
	f := &finder{ctx: ctx, opts: opts, seen: map[string]bool{}}
	for _, p := range paths {
		if err := f.path(p); err != nil {
			return nil, err
		}
	}
	return f.found, nil
}

type finder struct {
	ctx   context.Context
	opts  Options
	seen  map[string]bool
	found []*tile
	sets  int // VRTs whose sources were added
	set   int // the one whose sources are being added; 0 for none
}

func (f *finder) add(path string, h *header) {
	abs, err := filepath.Abs(path)
	if err != nil || isRemote(path) {
		abs = path
	}
	if !f.seen[abs] {
		f.seen[abs] = true
		t := &tile{header: h, path: path, set: f.set}
		if isRemote(path) {
			t.readConfig = remoteConfig(f.opts.RemoteTimeout)
		} else if st, err := os.Stat(path); err == nil {
			t.asOpened = st
		}
		f.found = append(f.found, t)
	}
}

func (f *finder) path(path string) error {
	if err := f.ctx.Err(); err != nil {
		return err
	}
	if isRemote(path) {
		return f.remote(path)
	}
	st, err := os.Stat(path)
	if err != nil {
		return &terrain.Fault{Kind: terrain.ErrRead, File: path, What: "no such file or folder", Err: pathErr(err), Fix: "check the path"}
	}
	if st.IsDir() {
		return f.folder(path)
	}
	isVRT, err := startsAsVRT(path)
	if err != nil {
		return err
	}
	ix := openIndex(filepath.Dir(path), isVRT)
	if err := f.file(path, ix); err != nil {
		return err
	}
	ix.save()
	return nil
}

// pathErr removes the path, which the fault names already.
func pathErr(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

func (f *finder) remote(path string) error {
	if !f.opts.AllowRemote {
		return &terrain.Fault{Kind: terrain.ErrInput, File: path, What: "is an address or a virtual path, which are not read unless allowed",
			Fix: "download the file, or allow remote rasters"}
	}
	name := path
	if rest := strings.ToLower(path); strings.HasPrefix(rest, "http://") || strings.HasPrefix(rest, "https://") {
		name = "/vsicurl/" + path
	}
	h, err := readHeader(name, false, remoteConfig(f.opts.RemoteTimeout))
	if err != nil {
		return err
	}
	f.add(name, h)
	return nil
}

// folder searches a folder and its subfolders, in order of name. Names that start with a dot are
// skipped.
func (f *finder) folder(root string) error {
	walkRoot := root
	if real, err := filepath.EvalSymlinks(root); err == nil && real != filepath.Clean(root) {
		walkRoot = real
	}
	var files []string
	err := filepath.WalkDir(walkRoot, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return &terrain.Fault{Kind: terrain.ErrRead, File: p, What: "cannot be searched", Err: pathErr(err), Fix: "check its permissions"}
		}
		if d.IsDir() && p != walkRoot && strings.HasPrefix(d.Name(), ".") {
			return fs.SkipDir
		}
		if !d.IsDir() && isRasterName(d.Name()) {
			files = append(files, p)
		}
		return f.ctx.Err()
	})
	if err != nil {
		return err
	}
	sort.Strings(files)
	// A VRT next to its tiles adds nothing: the tiles come first, and each is used once.
	slices.SortStableFunc(files, func(a, b string) int { return isVRTName(a) - isVRTName(b) })
	ix := openIndex(walkRoot, true)
	for _, p := range files {
		if err := f.ctx.Err(); err != nil {
			return err
		}
		if err := f.file(p, ix); err != nil {
			return err
		}
	}
	ix.save()
	return nil
}

func isVRTName(p string) int {
	if strings.EqualFold(filepath.Ext(p), ".vrt") {
		return 1
	}
	return 0
}

// file adds one file; a VRT of plain tiles is added as its tiles.
func (f *finder) file(path string, ix *index) error {
	h, isVRT, err := ix.look(path)
	if err != nil {
		return err
	}
	if isVRT {
		return f.vrt(path, ix, 0)
	}
	f.add(path, h)
	return nil
}

// vrt adds a VRT: its sources as tiles if it is a plain mosaic of them, else itself,
// read in windows.
func (f *finder) vrt(path string, ix *index, depth int) error {
	if depth >= maxVRTDepth {
		return vrtRefused(path, "has VRTs nested too deep")
	}
	d, err := readVRT(path)
	if err != nil {
		return err
	}
	tiles, err := f.sourceHeaders(d, ix, depth)
	if err != nil {
		return err
	}
	whole, err := ix.vrtHeader(path)
	if err != nil {
		return err
	}
	if !d.isPlainMosaic(whole, tiles) {
		f.add(path, whole)
		return nil
	}
	// In a VRT the last source is on top; here the first is.
	f.sets++
	f.set = f.sets
	defer func() { f.set = 0 }()
	for i := len(tiles) - 1; i >= 0; i-- {
		h := *tiles[i]
		h.NoData = slices.Clone(h.NoData)
		for _, nd := range []string{d.sources[i].noData, d.noData} {
			if v, err := strconv.ParseFloat(nd, 64); err == nil && !math.IsNaN(v) {
				h.NoData = append(h.NoData, v)
			}
		}
		h.CRS = whole.CRS
		f.add(d.sources[i].path, &h)
	}
	return nil
}

func readVRT(path string) (*vrtDoc, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, unreadable(path, pathErr(err), "check the path and its permissions")
	}
	defer file.Close()
	if st, err := file.Stat(); err == nil && st.Size() > maxVRTBytes {
		return nil, vrtRefused(path, fmt.Sprintf("is longer than %d bytes", maxVRTBytes))
	}
	return parseVRT(path, file)
}

// sourceHeaders reads the headers of a VRT's sources; nil for a source that is itself a VRT, or
// that was added before.
func (f *finder) sourceHeaders(d *vrtDoc, ix *index, depth int) (tiles []*header, err error) {
	checked := map[string]bool{}
	for _, s := range d.sources {
		if checked[s.path] {
			tiles = append(tiles, nil)
			continue
		}
		checked[s.path] = true
		h, isVRT, err := ix.look(s.path)
		if err != nil {
			return nil, err
		}
		if isVRT { // checked like the outer one, but then read by GDAL
			inner := &finder{ctx: f.ctx, opts: f.opts, seen: map[string]bool{}}
			if err := inner.vrt(s.path, ix, depth+1); err != nil {
				return nil, err
			}
			h = nil
		}
		tiles = append(tiles, h)
	}
	return tiles, nil
}

// isPlainMosaic reports whether the sources as tiles give the same heights as the VRT: every source
// complete, once, at its own place and unchanged.
func (d *vrtDoc) isPlainMosaic(whole *header, tiles []*header) bool {
	if d.bands != 1 || d.hasMask || whole.CRS.Horizontal == "" || len(tiles) == 0 {
		return false
	}
	for i := range d.sources {
		s, h := &d.sources[i], tiles[i]
		if h == nil || !d.isUnchanged(s, h, whole) || !s.isInPlace(h, whole) {
			return false
		}
	}
	return true
}

// isUnchanged reports whether a source's values have the same meaning in the VRT as alone.
func (d *vrtDoc) isUnchanged(s *vrtSource, h, whole *header) bool {
	if d.unit != "" && h.Unit != whole.Unit || h.Unit == terrain.UnitUnknown && whole.Unit != terrain.UnitUnknown {
		return false
	}
	return s.plain && s.band == "1" && h.Mask == maskNone && h.CRS.Horizontal == whole.CRS.Horizontal && h.Scale == whole.Scale && h.Offset == whole.Offset
}

// isInPlace reports whether a source is in the VRT complete, at its own place and in its own cells.
func (s *vrtSource) isInPlace(h, whole *header) bool {
	if s.src != [4]float64{0, 0, float64(h.Cols), float64(h.Rows)} || s.dst[2] != s.src[2] || s.dst[3] != s.src[3] {
		return false
	}
	c, r := pixelOf(whole.Geo, h.Geo[0], h.Geo[3])
	if !(math.Abs(c-s.dst[0]) <= phaseTolerance && math.Abs(r-s.dst[1]) <= phaseTolerance) {
		return false
	}
	for _, k := range []int{1, 2, 4, 5} {
		if math.Abs(h.Geo[k]-whole.Geo[k]) > stepTolerance*math.Hypot(whole.Geo[1], whole.Geo[4]) {
			return false
		}
	}
	return true
}
