package gpkg

import (
	"context"
	"database/sql"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/terrain"
)

var ctx = context.Background()

// clock is the same on every run, so that files can be compared.
func clock() time.Time { return time.Date(2026, 3, 4, 5, 6, 7, 89e6, time.UTC) }

func open(t testing.TB, path string) *File {
	t.Helper()
	c, err := Open(ctx, path, Options{Create: true, Tool: "gradeline test", Now: clock})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

func fresh(t testing.TB) (*File, string) {
	path := filepath.Join(t.TempDir(), "hills.gpkg")
	return open(t, path), path
}

// withRows is a closed catalogue with rows in its tables: a road, two descents with a
// hold and a review each, and a site.
func withRows(t testing.TB) string {
	t.Helper()
	c, path := fresh(t)
	err := c.Change(ctx, func() error {
		return addRows(c)
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func addRows(c *File) error {
	d := c.Direct()
	for _, q := range []string{
		"INSERT INTO routes(route, slug, length_m, stations, missing_m, reliable, surveyed_at) VALUES ('Kestrel Road', 'kestrel-road', 9000, 901, 0, 1, '2026-03-04T05:06:07.089Z')",
		"INSERT INTO provenance(at, cell_m, noise_sigma_m, invented, details) VALUES ('2026-03-04T05:06:07.089Z', 10, 1, 1, '{}')",
	} {
		if err := d.Run(q, nil); err != nil {
			return err
		}
	}
	all := EmptyEnvelope()
	for i, id := range []string{"kestrel-road-f-1.0", "kestrel-road-f-5.0"} {
		x := -110 + float64(i)/10
		geom, b := AppendLine(nil, []catalog.Vertex{{LonDeg: x, LatDeg: 40, ElevationM: 1000}, {LonDeg: x + 0.05, LatDeg: 40, ElevationM: 760, StationM: 4000}})
		all.Add(b.MinX, b.MinY)
		all.Add(b.MaxX, b.MaxY)
		if err := d.Run(`INSERT INTO descents(fid, geom, id, route, direction, start_m, end_m, start_err_m, end_err_m, length_m, drop_m, mean_downgrade_pct, mean_downgrade_err_pct,
			steepest_100m_pct, steepest_500m_pct, steepest_1000m_pct, steepest_100m_start_m, steepest_500m_start_m, steepest_1000m_start_m, crest_elevation_m, foot_elevation_m,
			crest_lon_deg, crest_lat_deg, foot_lon_deg, foot_lat_deg, interpolated_m, heaviest_rank, heaviest_speed_mps, route_fid, provenance_fid)
			VALUES (?, ?, ?, 'Kestrel Road', 'forward', 0, 4000, 1, 1, 4000, 240, 6, .2, 8, 7, 6.5, 0, 0, 0, 1000, 760, -110, 40, -109.95, 40, 0, 1, 8, 1, 1)`,
			d.Args().Add(int64(i+1), geom, id)); err != nil {
			return err
		}
		if err := d.Run("INSERT INTO holds(descent_fid, position, class, mass_kg, holds, gear, ratio, stage, speed_mps, engine_rpm, retarder_use_pct, heaviest_mass_kg, missing_power_w, friction_needed) VALUES (?, 0, 'heavy', 46500, 1, 5, 3, 3, 8, 2000, 80, 50000, 0, .1)", d.Args().Add(int64(i+1))); err != nil {
			return err
		}
		if err := d.Run("INSERT INTO reviews(descent, state, reviewed_by) VALUES (?, 'field-checked', 'Ada')", d.Args().Add(id)); err != nil {
			return err
		}
	}
	if err := c.WidenExtent("descents", all); err != nil {
		return err
	}
	geom, b := AppendLine(nil, []catalog.Vertex{{LonDeg: -109.9, LatDeg: 40, ElevationM: 760, StationM: 8000}, {LonDeg: -109.894, LatDeg: 40, ElevationM: 729, StationM: 8500}})
	if err := d.Run("INSERT INTO steep_parts(geom, route_fid, provenance_fid, route, direction, start_m, end_m, length_m, mean_downgrade_pct, mean_downgrade_err_pct, seal) VALUES (?, 1, 1, 'Kestrel Road', 'forward', 8000, 8500, 500, 6.2, .4, 0)", d.Args().Add(geom)); err != nil {
		return err
	}
	if err := c.WidenExtent("steep_parts", b); err != nil {
		return err
	}
	if err := d.Run("INSERT INTO drives(drive, route, direction, from_m, to_m, fixes, packed, seal) VALUES (12345678, 'Kestrel Road', 'forward', 0, 4000, 2, x'00', 0)", nil); err != nil {
		return err
	}
	at := terrain.Point{LonDeg: -110, LatDeg: 40}
	site := EmptyEnvelope()
	site.Add(at.LonDeg, at.LatDeg)
	if err := c.WidenExtent("sites", site); err != nil {
		return err
	}
	return d.Run("INSERT INTO sites(geom, id, kind, side, direction) VALUES (?, 'ramp', 'escape-ramp', 'right', 'forward')", d.Args().Add(PointBlob(at)))
}

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

// mustBeValid runs Debian's GeoPackage validator (python3-gdal) with its extra
// checks, warnings as errors.
func mustBeValid(t testing.TB, path, after string) {
	t.Helper()
	cmd := exec.Command("/usr/bin/python3", "-m", "osgeo_utils.samples.validate_gpkg", "-k", "--extra", "--warning-as-error", path)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("not a valid GeoPackage after %s: %v\n%s", after, err, out)
	}
}

func count(t testing.TB, c *File, query string) (n int) {
	t.Helper()
	err := c.Read(ctx, func(q Querier) error {
		_, err := First(q, []any{&n}, query)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return n
}
