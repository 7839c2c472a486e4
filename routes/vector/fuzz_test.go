package vector

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/routes"
	"gradeline/terrain"
)

// Any bytes as a file of roads of any of the formats that OGR reads: lines of
// valid places, or a fault.
func FuzzReadFile(f *testing.F) {
	f.Add([]byte(`<?xml version="1.0"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>A</name><trkseg><trkpt lat="46" lon="8"/><trkpt lat="46.1" lon="8.1"/></trkseg></trk></gpx>`), ".gpx")
	f.Add([]byte(`<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a SYSTEM "file:///etc/hostname">]><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><rte><name>&a;</name><rtept lat="1" lon="NaN"/></rte></gpx>`), ".gpx")
	f.Add([]byte(`<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>A</name><LineString><coordinates>8,46,0 8.1,46.1,1e9</coordinates></LineString></Placemark></Document></kml>`), ".kml")
	f.Add([]byte("fgb\x03fgb\x00\x18\x00\x00\x00"), ".fgb")
	f.Add([]byte("\x00\x00\x27\x0a"), ".shp")
	f.Add([]byte("SQLite format 3\x00"), ".gpkg")
	f.Add([]byte(`{"type":"LineString","coordinates":[[8,46],[8.1,46.1]]}`), ".geojson")
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, text []byte, ext string) {
		if len(text) > 1<<16 || strings.ContainsAny(ext, "/\x00") || len(ext) > 8 {
			return
		}
		path := filepath.Join(dir, "f"+ext)
		if err := os.WriteFile(path, text, 0o644); err != nil {
			return
		}
		defer os.Remove(path)
		n := 0
		_, err := Read(context.Background(), path, Options{MaxVertices: 10_000}, func(ft routes.Feature) error {
			n++
			for _, p := range ft.Line {
				if !(terrain.Point{LonDeg: p[0], LatDeg: p[1]}).Valid() {
					t.Fatalf("bad vertex %v", p)
				}
			}
			for k, v := range ft.Tags {
				if strings.Contains(k+v, "\x00") {
					t.Fatalf("tag %q = %q", k, v)
				}
			}
			return nil
		})
		var fault *routes.Fault
		if err != nil && !errors.As(err, &fault) {
			t.Fatalf("%v is no fault", err)
		}
		if err == nil && n == 0 {
			t.Fatal("no line and no fault")
		}
	})
}
