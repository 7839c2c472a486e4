package raster

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sort"
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
}

func (f *finder) add(path string, h *header) {
	abs, err := filepath.Abs(path)
	if err != nil || isRemote(path) {
		abs = path
	}
	if !f.seen[abs] {
		f.seen[abs] = true
		f.found = append(f.found, &tile{header: h, path: path})
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

// pathErr drops the path that the fault names already.
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
	h, err := readHeader(name, false)
	if err != nil {
		return err
	}
	f.add(name, h)
	return nil
}

// folder searches a folder and those below it, in order of name. Names that start
// with a dot are passed over.
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
	// A VRT beside its tiles adds nothing: the tiles come first and are taken once.
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

// file adds one file: a VRT of plain tiles as its tiles.
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
