package spread

import (
	"bytes"
	"context"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"gradeline/catalog/survey"
	"gradeline/data"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/terrain/raster"
)

// Columns come back bit for bit, nil or empty, whatever follows them.
func TestColumnsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		column := rapid.SliceOf(rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{0, math.Copysign(0, -1), math.Inf(1), math.NaN(), 812.25, 812.5}))).Draw(t, "column")
		if rapid.Bool().Draw(t, "none") {
			column = nil
		}
		r := columnReader{b: append(appendColumn(nil, column), 7)}
		got := r.column()
		if r.isDamaged || !bytes.Equal(r.b, []byte{7}) || (got == nil) != (column == nil) || len(got) != len(column) {
			t.Fatalf("%v came back as %v", column, got)
		}
		for i := range got {
			if math.Float64bits(got[i]) != math.Float64bits(column[i]) {
				t.Fatalf("figure %d: %x came back as %x", i, math.Float64bits(column[i]), math.Float64bits(got[i]))
			}
		}
	})
}

// demoFolder has the files of the embedded demonstration.
func demoFolder(t testing.TB) string {
	t.Helper()
	dir := t.TempDir()
	demo, err := fs.Sub(data.Files, "demo")
	if err == nil {
		err = os.CopyFS(dir, demo)
	}
	if err != nil {
		t.Fatal(err)
	}
	return dir
}

func routesOf(t testing.TB, path string) []routes.Route {
	t.Helper()
	var out []routes.Route
	for r, err := range survey.ReadRoads([]string{path}, network.Options{}).Routes(context.Background()) {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, r)
	}
	return out
}

// Routes and grade lines of the demonstration come back as they were, nil lists as nil.
func TestRoutesAndGradeLinesComeBack(t *testing.T) {
	dir := demoFolder(t)
	surface, err := raster.Open(context.Background(), []string{filepath.Join(dir, "terrain.tif")}, raster.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer surface.Close()
	list := routesOf(t, filepath.Join(dir, "routes.geojson"))
	if len(list) < 3 {
		t.Fatalf("only %d routes", len(list))
	}
	km, routeB, lineB := 0.0, 0, 0
	for i := range list {
		r := &list[i]
		b, err := packRoute(r)
		if err != nil {
			t.Fatal(err)
		}
		back, err := unpackRoute(b)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(r, back, cmpopts.EquateNaNs()); d != "" {
			t.Fatalf("route %s: %s", r.ID, d)
		}
		again, err := packRoute(back)
		if err != nil || !bytes.Equal(b, again) {
			t.Fatalf("route %s: packed again it is other bytes, %v", r.ID, err)
		}
		line, err := survey.RecoverLine(context.Background(), surface, r, survey.Options{})
		if err != nil {
			t.Fatal(err)
		}
		packedLine, err := packLine(&line)
		if err != nil {
			t.Fatal(err)
		}
		lineBack, err := unpackLine(packedLine)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(line, lineBack, cmpopts.EquateNaNs()); d != "" {
			t.Fatalf("grade line of %s: %s", r.ID, d)
		}
		km, routeB, lineB = km+r.LengthM/1000, routeB+len(b), lineB+len(packedLine)
	}
	t.Logf("%.0f km: %.0f B/km of routes, %.0f B/km of grade lines", km, float64(routeB)/km, float64(lineB)/km)
}

// Damaged bytes are refused, and never panic.
func FuzzUnpack(f *testing.F) {
	b, err := packRoute(&routes.Route{ID: "a", VertexM: []float64{0, 20}})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b, true)
	f.Add(b[:5], false)
	f.Fuzz(func(t *testing.T, b []byte, isSummed bool) {
		if isSummed { // past the check sum
			if sealed, err := packed(string(b), b); err == nil {
				b = sealed
			}
		}
		if r, err := unpackRoute(b); err == nil && isSummed && r.ID == "" && len(r.Line) > len(b) {
			t.Fatal("a longer line than bytes")
		}
		if l, err := unpackLine(b); err == nil && len(l.Profile.State) != len(l.Profile.Points) {
			t.Fatal("a grade line of uneven columns")
		}
	})
}
