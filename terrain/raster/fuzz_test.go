package raster

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/terrain"
)

func FuzzVRT(f *testing.F) {
	f.Add([]byte(`<VRTDataset rasterXSize="2"><VRTRasterBand band="1"><SimpleSource><SourceFilename relativeToVRT="1">x.tif</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>`))
	f.Add([]byte(`<VRTDataset><MaskBand><VRTRasterBand/></MaskBand></VRTDataset>`))
	dir := f.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "x.tif"), nil, 0o644); err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		d, err := parseVRT(filepath.Join(dir, "a.vrt"), bytes.NewReader(text))
		if err != nil {
			if !errors.Is(err, terrain.ErrInput) {
				t.Errorf("%v", err)
			}
			return
		}
		for _, s := range d.sources {
			if rel, err := filepath.Rel(dir, s.path); err != nil || strings.HasPrefix(rel, "..") {
				t.Errorf("source %q", s.path)
			}
		}
	})
}

// Any bytes under any ending are refused by a fault, or opened and sampled; an elevation is
// never NaN. All files of a run lie in one folder in memory, where the system has one:
// making and removing folders on a disk took longer than all the rest.
func FuzzFile(f *testing.F) {
	small := filepath.Join(f.TempDir(), "s.tif")
	for _, creation := range [][]string{{"COMPRESS=DEFLATE"}, {"COMPRESS=DEFLATE", "TILED=YES", "BLOCKXSIZE=16", "BLOCKYSIZE=16"}, {"COMPRESS=LZW", "PREDICTOR=2"}, nil} {
		if err := Write(small, flat(100), WriteOptions{Creation: creation}); err != nil {
			f.Fatal(err)
		}
		text, err := os.ReadFile(small)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text, ".tif")
	}
	f.Add([]byte("ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n3 4\n"), ".asc")
	f.Add([]byte(`<VRTDataset rasterXSize="2" rasterYSize="2"><GeoTransform>0,1,0,2,0,-1</GeoTransform><SRS>EPSG:4326</SRS><VRTRasterBand dataType="Float32" band="1"/></VRTDataset>`), ".vrt")
	dir, err := os.MkdirTemp("/dev/shm", "fuzz")
	if err != nil {
		dir = f.TempDir()
	}
	f.Cleanup(func() { os.RemoveAll(dir) })
	f.Fuzz(func(t *testing.T, text []byte, ext string) {
		if len(text) > 1<<16 || strings.ContainsAny(ext, "/\x00") || len(ext) > 8 {
			return
		}
		p := filepath.Join(dir, "f"+ext)
		if err := os.WriteFile(p, text, 0o644); err != nil {
			return
		}
		defer emptyFolder(t, dir) // of side files too, which the next run would read
		s, err := Open(context.Background(), []string{p}, Options{VertUnit: terrain.Metre})
		if err != nil {
			var fault *terrain.Fault
			if !errors.As(err, &fault) {
				t.Errorf("%v is no fault", err)
			}
			return
		}
		defer s.Close()
		out := make([]terrain.Sample, 2)
		if err := s.Sample(context.Background(), []terrain.Point{inFlat, {LonDeg: .5, LatDeg: .5}}, out); err != nil {
			t.Error(err)
		}
		for _, o := range out {
			if o.Miss == terrain.Hit && (o.ElevationM != o.ElevationM || o.Source != 0) {
				t.Errorf("%+v", o)
			}
		}
	})
}

func emptyFolder(t *testing.T, dir string) {
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		if err := os.RemoveAll(filepath.Join(dir, e.Name())); err != nil {
			t.Fatal(err)
		}
	}
}
