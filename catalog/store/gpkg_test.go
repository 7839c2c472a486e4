package store

import (
	"database/sql"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

// copyFile copies a closed catalogue so that a test can spoil it.
func copyFile(t testing.TB, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "copy.gpkg")
	if err := os.WriteFile(to, b, 0o644); err != nil {
		t.Fatal(err)
	}
	return to
}

// spoil runs SQL on a file as a plain SQLite program does: no functions of ours,
// no foreign keys.
func spoil(t testing.TB, path string, stmts ...string) {
	t.Helper()
	db, err := sql.Open("sqlite3", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, s := range stmts {
		if _, err := db.Exec(s); err != nil {
			t.Fatalf("%s: %v", s, err)
		}
	}
}

// Source: OGC 12-128r17 (GeoPackage 1.3), checked by Debian's validator
// (python3-gdal, osgeo_utils.samples.validate_gpkg), status: reference program.
func TestValidAfterEveryKindOfChange(t *testing.T) {
	c, path := fresh(t)
	rs := survey("Kestrel Road", 3)
	save(t, c, rs, SaveOptions{})
	mustBeValid(t, path, "a survey")
	id := "kestrel-road-f-1.0"
	g := 6.1
	if err := c.Review(ctx, id, catalog.Review{State: catalog.Approved, By: "Ada", MeasuredGradePct: &g, Note: "signed"}); err != nil {
		t.Fatal(err)
	}
	mustBeValid(t, path, "a review")
	rs.Entries[0].Descent.StartM += 500
	rs.Entries = rs.Entries[:2]
	save(t, c, rs, SaveOptions{})
	mustBeValid(t, path, "a re-survey with a proposal and a gone descent")
	if err := c.Accept(ctx, id, "Ada"); err != nil {
		t.Fatal(err)
	}
	mustBeValid(t, path, "accepting")
	station := 1234.5
	if _, err := c.AddSites(ctx, []catalog.Site{{Kind: catalog.EscapeRamp, Name: "Old ramp", Point: terrain.Point{LonDeg: -110, LatDeg: 40}, Route: "Kestrel Road", StationM: &station, Side: "right", Direction: "forward"}}, "Ada"); err != nil {
		t.Fatal(err)
	}
	mustBeValid(t, path, "adding a site")
	if err := c.RemoveSite(ctx, "escape-ramp-kestrel-road-1.2", "Ada", "closed"); err != nil {
		t.Fatal(err)
	}
	mustBeValid(t, path, "removing a site")
	other, _ := fresh(t)
	save(t, other, survey("Heron Pass", 2), SaveOptions{})
	if _, err := Merge(ctx, c, other, MergeOptions{By: "Ada"}); err != nil {
		t.Fatal(err)
	}
	mustBeValid(t, path, "a merge")
	if _, err := c.Repair(ctx, "Ada"); err != nil {
		t.Fatal(err)
	}
	mustBeValid(t, path, "a repair")
	to := filepath.Join(t.TempDir(), "kept.gpkg")
	if err := c.CopyTo(ctx, to); err != nil {
		t.Fatal(err)
	}
	mustBeValid(t, to, "copying")
}

// The validator is seen to fail, so that its silence means something.
func TestTheValidatorSeesWhatIsWrong(t *testing.T) {
	c, path := fresh(t)
	save(t, c, survey("Kestrel Road", 1), SaveOptions{})
	c.Close()
	for what, stmt := range map[string]string{
		"heights forbidden":      "UPDATE gpkg_geometry_columns SET z = 0 WHERE table_name = 'descents'",
		"undefined CRS":          "UPDATE gpkg_spatial_ref_sys SET organization = 'none' WHERE srs_id = -1",
		"date without fractions": "UPDATE gpkg_contents SET last_change = '2026-11-25T12:00:00Z' WHERE table_name = 'descents'",
		"extension not listed":   "DELETE FROM gpkg_extensions WHERE extension_name = 'gpkg_rtree_index' AND table_name = 'descents'",
		"trigger lost":           "DROP TRIGGER rtree_descents_geom_update1",
		"column titles orphaned": "INSERT INTO gpkg_data_columns(table_name, column_name, name) VALUES ('nothing', 'x', 'x')",
	} {
		p := copyFile(t, path)
		spoil(t, p, stmt)
		if out, ok := validate(t, p); ok {
			t.Errorf("%s: the validator is content: %s", what, out)
		}
	}
}

// Read back by OGR (gdal-bin: ogrinfo, ogr2ogr), status: reference program.
func TestAGISReadsItBack(t *testing.T) {
	c, path := fresh(t)
	rs := survey("Kestrel Road", 2)
	rs.Entries[1] = hill("Kestrel Road", 1, routes.Backward)
	save(t, c, rs, SaveOptions{})
	c.Close()
	run := func(name string, args ...string) string {
		out, err := exec.Command(name, args...).CombinedOutput()
		if err != nil {
			t.Fatalf("%s %v: %v\n%s", name, args, err, out)
		}
		return string(out)
	}
	info := run("ogrinfo", "-so", path, "descents")
	for _, want := range []string{"3D Measured Line String", "Feature Count: 2", "mean_downgrade_pct: Real", "flags: String(JSON)", "domain name=direction"} {
		if !strings.Contains(info, want) {
			t.Errorf("ogrinfo does not say %q:\n%s", want, info)
		}
	}
	if strings.Contains(info, "Warning") {
		t.Errorf("ogrinfo warns:\n%s", info)
	}
	// This GDAL does not show the titles yet; the schema extension holds them.
	if title := run("ogrinfo", "-q", path, "-sql", "SELECT title FROM gpkg_data_columns WHERE table_name = 'descents' AND column_name = 'mean_downgrade_pct'"); !strings.Contains(title, "Mean downgrade (%)") {
		t.Errorf("title: %s", title)
	}
	if all := run("ogrinfo", "-so", path); !strings.Contains(all, "sites (Point)") || !strings.Contains(all, "holds (None)") {
		t.Errorf("layers:\n%s", all)
	}
	if md := run("ogrinfo", "-so", "-mdd", "all", path); !strings.Contains(md, "A planning aid, not a permission") {
		t.Errorf("the cautions are not among the metadata:\n%s", md)
	}
	out := filepath.Join(t.TempDir(), "out.json")
	run("ogr2ogr", "-f", "GeoJSON", out, path, "descents")
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	var fc struct {
		Features []struct {
			Properties map[string]any
			Geometry   struct {
				Type        string
				Coordinates [][]float64
			}
		}
	}
	if err := json.Unmarshal(b, &fc); err != nil {
		t.Fatal(err)
	}
	if len(fc.Features) != 2 {
		t.Fatalf("%d features", len(fc.Features))
	}
	f, e := fc.Features[1], rs.Entries[1]
	if f.Properties["id"] != "kestrel-road-b-15.0" || f.Properties["drop_m"] != e.Descent.DropM || len(f.Geometry.Coordinates) < 2 {
		t.Errorf("read back %v", f.Properties)
	}
	for i, p := range f.Geometry.Coordinates {
		if v := drawn(e.Line)[i]; p[0] != v.LonDeg && abs(p[0]-v.LonDeg) > 1e-7 || abs(p[1]-v.LatDeg) > 1e-7 || abs(p[2]-v.ElevationM) > 1e-3 {
			t.Errorf("vertex %d is %v, stored %v", i, p, v)
		}
	}
	// A GIS edits the file with its own triggers' functions; the file stays ours and valid.
	run("ogrinfo", path, "-sql", "UPDATE descents SET name = 'by GIS' WHERE id = 'kestrel-road-f-1.0'")
	run("ogrinfo", path, "-sql", "INSERT INTO reviews(descent, state, reviewed_by, reviewed_at) VALUES ('kestrel-road-f-1.0', 'field-checked', 'Bo', '2026-03-04T00:00:00.000Z')")
	mustBeValid(t, path, "an edit by OGR")
	c = open(t, path)
	got, err := c.Descent(ctx, "kestrel-road-f")
	if err != nil || got.Descent.Name != "by GIS" || got.Review.State != catalog.FieldChecked || got.Review.By != "Bo" {
		t.Errorf("after the edit: %v, %+v", err, got.Review)
	}
	if h, err := c.History(ctx, "kestrel-road-f-1.0"); err != nil || h[len(h)-1].What != "by hand" || h[len(h)-1].By != "Bo" {
		t.Errorf("the history does not know of the edit: %+v %v", h, err)
	}
	if found, err := c.Doctor(ctx); err != nil || len(found) != 0 {
		t.Errorf("doctor: %v %v", found, err)
	}
	// A copy through OGR is a valid GeoPackage that any GIS reads, but no longer a catalogue.
	copied := filepath.Join(t.TempDir(), "copied.gpkg")
	run("ogr2ogr", "-f", "GPKG", "-dsco", "VERSION=1.3", copied, path)
	mustBeValid(t, copied, "ogr2ogr")
	if n := run("ogrinfo", "-q", copied, "-sql", "SELECT count(*) AS n, sum(drop_m) AS s FROM descents"); !strings.Contains(n, "n (Integer) = 2") || !strings.Contains(n, "s (Real) = 481") {
		t.Errorf("copied: %s", n)
	}
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}
