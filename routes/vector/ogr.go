package vector

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"github.com/airbusgeo/godal"

	"gradeline/routes"
	"gradeline/terrain"
	_ "gradeline/terrain/cmemory" // godal stores pointers in memory of C.malloc
)

// The drivers that may open a user's file. Others can be made to read other files (virtual formats)
// or have no use here.
var fileDrivers = []string{"GPX", "GPKG", "ESRI Shapefile", "FlatGeobuf", "KML"}

// remoteLimits ends a remote read that hangs, seconds.
var remoteLimits = godal.ConfigOption("GDAL_HTTP_TIMEOUT=120", "GDAL_HTTP_CONNECTTIMEOUT=20", "GDAL_HTTP_MAX_RETRY=2",
	"GDAL_DISABLE_READDIR_ON_OPEN=TRUE")

var registerDrivers = sync.OnceValue(func() error {
	return godal.RegisterVector(godal.Shapefile, godal.GeoPackage, "FlatGeobuf", "KML", "GPX", godal.GeoJSON, "GeoJSONSeq")
})

// readOGR lets OGR write the lines as a GeoJSON text sequence in WGS 84 to a temporary file and
// reads that. So nulls, curves, times and read errors have one meaning in all formats. Attribute
// names are in lower case, since the formats disagree.
func readOGR(ctx context.Context, path string, opts Options, fn func(routes.Feature) error) ([]routes.Skipped, error) {
	dir, err := os.MkdirTemp("", "gradeline-")
	if err != nil {
		return nil, &routes.Fault{Kind: terrain.ErrRead, File: path, What: "no temporary folder to convert it in",
			Fix: "free some space or set TMPDIR", Err: err}
	}
	defer os.RemoveAll(dir)
	out := filepath.Join(dir, "lines.geojsonl")

	type result struct {
		notes []routes.Skipped
		err   error
	}
	done := make(chan result, 1)
	go func() { // OGR cannot be interrupted, but we need not wait for it
		notes, err := translate(path, out, opts)
		done <- result{notes, err}
	}()
	var res result
	select {
	case <-ctx.Done():
		return nil, ctx.Err()
	case res = <-done:
	}
	if res.err != nil {
		return res.notes, res.err
	}
	f, err := os.Open(out)
	if err != nil {
		return res.notes, &routes.Fault{Kind: terrain.ErrRead, File: path, What: "OGR found no features in it", Err: err}
	}
	defer f.Close()
	if st, err := f.Stat(); err == nil && st.Size() == 0 {
		return res.notes, &routes.Fault{Kind: terrain.ErrInput, File: path, What: "there are no features in it"}
	}
	skipped, err := readGeoJSON(ctx, path, f, opts, func(ft routes.Feature) error {
		ft.Tags = lowerKeys(ft.Tags)
		return fn(ft)
	})
	return append(res.notes, skipped...), err
}

func lowerKeys(tags map[string]string) map[string]string {
	out := make(map[string]string, len(tags))
	for k, v := range tags {
		if l := strings.ToLower(k); l == k || tags[l] == "" {
			out[l] = v
		}
	}
	return out
}

// translate converts the chosen layer of path. The notes are GDAL's warnings
// and what the choice left out.
func translate(path, out string, opts Options) ([]routes.Skipped, error) {
	if err := registerDrivers(); err != nil {
		return nil, &routes.Fault{Kind: terrain.ErrRead, File: path, What: "GDAL lacks a vector driver", Fix: "install GDAL with GPKG, GPX, KML and FlatGeobuf", Err: err}
	}
	var notes []routes.Skipped
	handler := godal.ErrLogger(func(ec godal.ErrorCategory, code int, msg string) error {
		if ec >= godal.CE_Failure {
			return errors.New(msg)
		}
		if ec == godal.CE_Warning && len(notes) < skipsOfAKind {
			notes = append(notes, routes.Skipped{Where: path, Why: "GDAL warns: " + cleanText(msg)})
		}
		return nil
	})
	name, drivers := path, fileDrivers
	if isRemote(path) {
		drivers = append([]string{"GeoJSON", "GeoJSONSeq"}, drivers...)
		if strings.Contains(path, "://") {
			name = "/vsicurl/" + path
		}
	}
	ds, err := godal.Open(name, godal.VectorOnly(), godal.Drivers(drivers...), godal.SiblingFiles(), remoteLimits, handler)
	if err != nil {
		return notes, &routes.Fault{Kind: terrain.ErrRead, File: path, What: "no road lines that can be read", Err: err,
			Fix: "use GeoJSON, GPX, GeoPackage, shapefile (.shp with .shx, .dbf and .prj), FlatGeobuf or KML"}
	}
	defer ds.Close(handler)
	layer, why, err := chooseLayer(ds, path, opts.Layer)
	if err != nil {
		return notes, err
	}
	if why != "" {
		notes = append(notes, routes.Skipped{Where: path, Why: why})
	}
	if err := checkIsTable(ds, layer.Name(), path, handler); err != nil {
		return notes, err
	}
	if err := checkCRS(layer, path); err != nil {
		return notes, err
	}
	dst, err := ds.VectorTranslate(out, []string{"-f", "GeoJSONSeq", "-t_srs", "EPSG:4326", "-dim", "XY",
		"-lco", "COORDINATE_PRECISION=9", layer.Name()}, remoteLimits, handler)
	if err != nil {
		return notes, &routes.Fault{Kind: terrain.ErrRead, File: path, Feature: "layer " + cleanText(layer.Name()),
			What: "it cannot be read to its end", Err: err, Fix: "check it with ogrinfo -al, or export it again"}
	}
	if err := dst.Close(handler); err != nil {
		return notes, &routes.Fault{Kind: terrain.ErrRead, File: path, What: "its conversion could not be written", Err: err, Fix: "free some space or set TMPDIR"}
	}
	return notes, nil
}

// chooseLayer returns the requested layer, or the only one that can hold lines; for GPX the tracks,
// else the routes.
func chooseLayer(ds *godal.Dataset, path, want string) (godal.Layer, string, error) {
	layers := ds.Layers()
	var names []string
	var lines []godal.Layer
	for _, l := range layers {
		names = append(names, fmt.Sprintf("%q", cleanText(l.Name())))
		if mayHoldLines(l.Type()) {
			lines = append(lines, l)
		}
	}
	fault := func(what, fix string) error {
		return &routes.Fault{Kind: terrain.ErrInput, File: path, What: what, Fix: fix}
	}
	all := strings.Join(names, ", ")
	pick, why := godal.Layer{}, ""
	switch {
	case len(layers) == 0:
		return pick, "", fault("there are no layers in it", "")
	case want != "":
		i := indexLayer(layers, want)
		if i < 0 {
			return pick, "", fault(fmt.Sprintf("there is no layer %q", cleanText(want)), "name one of "+all)
		}
		pick = layers[i]
	case isGPX(layers):
		pick, why = gpxLayer(layers)
	case len(lines) == 1:
		pick = lines[0]
	case len(lines) == 0:
		return pick, "", fault("none of its layers holds lines: "+all, "use a file with lines")
	default:
		return pick, "", fault(fmt.Sprintf("there are %d layers: %s", len(layers), all), "name one with --layer")
	}
	if strings.HasPrefix(pick.Name(), "-") {
		return pick, "", fault(fmt.Sprintf("a layer name that begins with a hyphen: %q", cleanText(pick.Name())), "rename the layer")
	}
	return pick, why, nil
}

func indexLayer(layers []godal.Layer, name string) int {
	for i, l := range layers {
		if l.Name() == name {
			return i
		}
	}
	return -1
}

func isGPX(layers []godal.Layer) bool {
	return indexLayer(layers, "tracks") >= 0 && indexLayer(layers, "routes") >= 0 && indexLayer(layers, "track_points") >= 0
}

func gpxLayer(layers []godal.Layer) (godal.Layer, string) {
	tracks, rts := layers[indexLayer(layers, "tracks")], layers[indexLayer(layers, "routes")]
	nt, errT := tracks.FeatureCount()
	nr, errR := rts.FeatureCount()
	if errT == nil && errR == nil && nt == 0 && nr > 0 {
		return rts, ""
	}
	if errR == nil && nr > 0 {
		return tracks, fmt.Sprintf("it has tracks and %d planned routes: only the tracks were read; name the layer \"routes\" to read those", nr)
	}
	return tracks, ""
}

// mayHoldLines uses OGR's type numbers: 0 unknown, 2 line, 5 multi-line, 7
// collection, 8 to 13 without 10 curves; Z, M and ZM add 1000 to 3000 or the top bit.
func mayHoldLines(t godal.GeometryType) bool {
	switch uint32(t) &^ 0x80000000 % 1000 {
	case 0, 2, 5, 7, 8, 9, 11, 13:
		return true
	}
	return false
}

func checkCRS(layer godal.Layer, path string) error {
	sr := layer.SpatialRef()
	_, err := sr.WKT()
	if err == nil && (sr.Geographic() || sr.Projected()) {
		return nil
	}
	return &routes.Fault{Kind: terrain.ErrNoCRS, File: path, Feature: "layer " + cleanText(layer.Name()),
		What: "it does not state its coordinate reference system",
		Fix:  "add the coordinate reference system (for a shapefile the .prj file), or ogr2ogr -a_srs EPSG:… to a new file"}
}
