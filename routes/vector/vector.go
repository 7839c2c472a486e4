// Package vector reads road lines: GeoJSON (RFC 7946) by itself, as a stream;
// OpenStreetMap extracts (.osm.pbf, .osm, .osm.bz2); and GPX, GeoPackage,
// shapefile, FlatGeobuf and KML through OGR.
//
// Lines come out in WGS 84 longitude and latitude, degrees, in file order. A third
// coordinate is never used. Features that make no line are reported as routes.Skipped,
// with place and reason; a file that cannot be trusted at all is a *routes.Fault.
//
// ReadRecording reads recorded drives (GPX, CSV) in SI units. Faults are ErrRead
// where a file is damaged or cannot be read, ErrInput where it holds something else,
// ErrNoCRS where its coordinates have no reference system; each names the file, the
// feature or line, and what to do. Bounds: 4 million vertices to a line unless
// Options says otherwise, numbers of 128 characters; counts are checked before
// anything is allocated, and memory does not grow with the size of a GeoJSON file.
package vector

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// Options of Read.
type Options struct {
	Layer       string    // layer of a file that has several
	AllowRemote bool      // allow http(s):// addresses and GDAL's /vsi… paths
	MaxVertices int       // most vertices of one feature; 0 is DefaultMaxVertices
	Stdin       io.Reader // read for "-"

	// Of OpenStreetMap extracts only:
	Roads      []string                // highway classes, each with its links; none: DefaultRoads
	Box        *orb.Bound              // roads with a vertex in it; nil: all
	OnTurn     func(routes.Turn)       // called with the turn restrictions, after the lines
	OnExtract  func(routes.Extract)    // called with the facts about the file, after the lines
	OnProgress func(done, total int64) // bytes; total 0 is unknown
}

// DefaultMaxVertices is 64 MB of coordinates: a line of 4,000 km with a vertex
// each metre.
const DefaultMaxVertices = 4_000_000

func (o Options) maxVertices() int {
	if o.MaxVertices > 0 {
		return o.MaxVertices
	}
	return DefaultMaxVertices
}

// Read calls fn for each line of path in file order; "-" reads GeoJSON from opts.Stdin.
// Lines of one multi-part geometry come as features that share their place and their
// Tags map, which fn must not change. An error of fn stops the reading and is returned unchanged.
//
// The content decides the format where the name ends in JSON or has no known ending. GeoJSON may
// be a Feature, a FeatureCollection or a bare geometry, one or several of them
// one after another, also with record separators (RFC 8142). Memory does not
// grow with the size of the file.
func Read(ctx context.Context, path string, opts Options, fn func(routes.Feature) error) ([]routes.Skipped, error) {
	if path == "-" {
		if opts.Stdin == nil {
			return nil, &routes.Fault{Kind: terrain.ErrInput, File: path, What: "there is no standard input to read"}
		}
		return readGeoJSON(ctx, path, opts.Stdin, opts, fn)
	}
	if isRemote(path) {
		if !opts.AllowRemote {
			return nil, &routes.Fault{Kind: terrain.ErrInput, File: path, What: "is a remote or virtual address",
				Fix: "allow remote files, or download it first"}
		}
		return readOGR(ctx, path, opts, fn)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, openFault(path, err)
	}
	defer f.Close()
	if st, err := f.Stat(); err == nil && st.IsDir() {
		return nil, &routes.Fault{Kind: terrain.ErrInput, File: path, What: "is a folder", Fix: "name the files in it"}
	}
	r := bufio.NewReaderSize(f, 4096)
	head, err := r.Peek(512)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, &routes.Fault{Kind: terrain.ErrRead, File: path, Err: err}
	}
	if isJSONName(path) || startsJSON(head) {
		return readGeoJSON(ctx, path, r, opts, fn)
	}
	if len(head) == 0 {
		return nil, &routes.Fault{Kind: terrain.ErrInput, File: path, What: "is empty"}
	}
	if isOSMChange(head) {
		return nil, &routes.Fault{Kind: terrain.ErrInput, File: path, What: "lists changes of OpenStreetMap's data, also roads that were deleted", Fix: "use an extract, or apply the changes to one"}
	}
	if format := formatOfOSM(path, head); format != notOSM {
		return readOSM(ctx, path, format, opts, fn)
	}
	return readOGR(ctx, path, opts, fn)
}

func openFault(path string, err error) error {
	flt := &routes.Fault{Kind: terrain.ErrRead, File: path}
	switch {
	case errors.Is(err, os.ErrNotExist):
		flt.What, flt.Fix = "no such file", "check the name"
	case errors.Is(err, os.ErrPermission):
		flt.What, flt.Fix = "no permission to read it", "check its permissions"
	default:
		flt.Err = err
	}
	return flt
}

// isRemote also recognises GDAL's connection strings (GPKG:…, inline text), which are not file names.
func isRemote(path string) bool {
	l := strings.ToLower(path)
	return strings.HasPrefix(l, "/vsi") || strings.Contains(l, "://")
}

func isJSONName(path string) bool {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".json", ".geojson", ".geojsonl", ".geojsons", ".geojsonseq", ".ndjson", ".jsonl", ".ndgeojson":
		return true
	}
	return false
}

// startsJSON skips a byte order mark, white space and record separators.
func startsJSON(head []byte) bool {
	head = bytes.TrimPrefix(head, []byte("\xef\xbb\xbf"))
	head = bytes.TrimLeft(head, " \t\r\n\x1e")
	return len(head) > 0 && head[0] == '{'
}
