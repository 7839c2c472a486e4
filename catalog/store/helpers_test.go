package store

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/shared/testserver"
	"gradeline/routes"
	"gradeline/terrain"
)

var ctx = context.Background()

// clock is the same on every run, so that files can be compared.
func clock() time.Time { return time.Date(2026, 3, 4, 5, 6, 7, 89e6, time.UTC) }

func open(t testing.TB, path string) *Catalog {
	t.Helper()
	c, err := Open(ctx, path, Options{Create: true, Tool: "gradeline test", Now: clock})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

// freshIsShared makes fresh catalogues in a database, see TestSharedSuite.
var freshIsShared bool

func fresh(t testing.TB) (*Catalog, string) {
	if freshIsShared {
		db := testserver.New(t)
		if t, ok := t.(*testing.T); ok {
			t.Setenv("XDG_CACHE_HOME", t.TempDir())
		}
		c := open(t, db.Address())
		return c, c.LocalPath()
	}
	path := filepath.Join(t.TempDir(), "hills.gpkg")
	return open(t, path), path
}

// fill puts random values into every exported field, so that a field that the
// store forgets shows up.
func fill(r *rand.Rand, v reflect.Value, depth int) {
	switch v.Kind() {
	case reflect.Float64:
		v.SetFloat(math.Round(r.NormFloat64()*1e6)/1e3 + r.Float64()*1e-9)
	case reflect.Int:
		v.SetInt(int64(r.IntN(20)))
	case reflect.Bool:
		v.SetBool(r.IntN(2) == 0)
	case reflect.String:
		words := []string{"", "plain", "naïve – ü", "'; DROP TABLE descents; --", "<script>alert(1)</script>", "\u202Eevil\u2066", "line\nfeed\ttab", "\x01\x7f", "=cmd()", "日本"}
		v.SetString(words[r.IntN(len(words))])
	case reflect.Pointer:
		if r.IntN(3) == 0 {
			v.SetZero()
			return
		}
		v.Set(reflect.New(v.Type().Elem()))
		fill(r, v.Elem(), depth)
	case reflect.Slice:
		n := r.IntN(4)
		if n == 3 {
			v.SetZero() // nil is not the same as empty
			return
		}
		v.Set(reflect.MakeSlice(v.Type(), n, n))
		for i := range n {
			fill(r, v.Index(i), depth+1)
		}
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			v.Set(reflect.ValueOf(time.Date(2000+r.IntN(50), 1, 1+r.IntN(300), r.IntN(24), 1, 2, r.IntN(1000)*1e6, time.UTC)))
			return
		}
		for i := range v.NumField() {
			fill(r, v.Field(i), depth+1)
		}
	case reflect.Uint8: // routes.Direction
		v.SetUint(uint64(r.IntN(2)))
	default:
		panic("fill does not know " + v.Type().String())
	}
}

// randomEntry has every field filled; only what must make sense does.
func randomEntry(r *rand.Rand, route string) catalog.Entry {
	var e catalog.Entry
	fill(r, reflect.ValueOf(&e).Elem(), 0)
	e.Descent.ID, e.Descent.Route = "", route
	e.Line = make([]catalog.Vertex, 2+r.IntN(30))
	lon, lat := r.Float64()*300-150, r.Float64()*140-70
	for i := range e.Line {
		e.Line[i] = catalog.Vertex{LonDeg: lon + float64(i)*1e-3, LatDeg: lat + r.Float64()*1e-3, ElevationM: r.NormFloat64() * 1000, StationM: float64(i) * 97.3}
	}
	e.Review.State = []catalog.ReviewState{catalog.Surveyed, catalog.FieldChecked, catalog.Approved, catalog.Retired}[r.IntN(4)]
	if e.Provenance.Tool == "" {
		e.Provenance.Tool = "t"
	}
	for i := range e.Holds {
		e.Holds[i].Class = fmt.Sprintf("class %d %s", i, e.Holds[i].Class)
	}
	return e
}

// hill is a plain descent of a plain road, with two classes.
func hill(route string, k int, dir routes.Direction) catalog.Entry {
	start, length := float64(k)*10000+1000, 4000.0
	d := routes.Descent{
		Route: route, Direction: dir, StartM: start, EndM: start + length, StartErrM: 40, EndErrM: 40,
		LengthM: length, DropM: 240 + float64(k), MeanDowngradePct: 6, MeanDowngradeErrPct: 0.2,
		Steepest100Pct: 8, Steepest500Pct: 7, Steepest1000Pct: 6.5, CrestElevationM: 1000, FootElevationM: 760,
	}
	if dir == routes.Backward {
		d.StartM, d.EndM = d.EndM, d.StartM
	}
	e := catalog.Entry{Descent: d, Provenance: provenance()}
	e.Review.State = catalog.Surveyed
	const n = 9
	for i := range n {
		s := d.StartM + (d.EndM-d.StartM)*float64(i)/(n-1)
		e.Line = append(e.Line, catalog.Vertex{LonDeg: -110 + s/80000, LatDeg: 40, ElevationM: 1000 - 30*float64(i), StationM: s})
	}
	e.Descent.CrestLonDeg, e.Descent.CrestLatDeg = e.Line[0].LonDeg, 40
	e.Descent.FootLonDeg, e.Descent.FootLatDeg = e.Line[n-1].LonDeg, 40
	e.Holds = []catalog.Hold{
		{Class: "light", MassKg: 20000, Holds: true, Gear: 8, Ratio: 1.5, Stage: 3, SpeedMPS: 17, EngineRPM: 1900, LimitedBy: catalog.LimitRetarder, HeaviestMassKg: 30000},
		{Class: "heavy", MassKg: 46500, Holds: true, Gear: 5, Ratio: 3, Stage: 3, SpeedMPS: 8, EngineRPM: 2000, LimitedBy: catalog.LimitRetarder, HeaviestMassKg: 50000},
	}
	return e
}

func provenance() catalog.Provenance {
	return catalog.Provenance{Tool: "gradeline test", At: clock(), Rasters: []string{"a.tif, EPSG:4326, 10 m"}, RouteFile: "roads.geojson", VertDatum: "unknown", CellM: 10, NoiseM: 1, Rules: "3 %, 4 %, 800 m", Invented: true}
}

func survey(route string, n int) RouteSurvey {
	rs := RouteSurvey{
		Route:       RouteRecord{ID: route, Name: route, LengthM: 50000, Stations: 5001, Reliable: true, LineSHA256: "line of " + route},
		Provenance:  provenance(),
		Sources:     []terrain.Raster{{Name: "a.tif", CellM: 10, CRS: "EPSG:4326", Fingerprint: "f"}},
		ClassesUsed: []ClassUsed{{ID: "light", Definition: `{"id":"light"}`}, {ID: "heavy", Definition: `{"id":"heavy"}`}},
	}
	for k := range n {
		rs.Entries = append(rs.Entries, hill(route, k, routes.Forward))
	}
	return rs
}

func save(t testing.TB, c *Catalog, rs RouteSurvey, o SaveOptions) Changes {
	t.Helper()
	if o.By == "" {
		o.By = "tester"
	}
	ch, err := c.SaveRoute(ctx, rs, o)
	if err != nil {
		t.Fatal(err)
	}
	return ch
}

// validate runs Debian's GeoPackage validator (python3-gdal) with its extra
// checks, warnings as errors; the output is empty when the file is valid.
func validate(t testing.TB, path string) (string, bool) {
	t.Helper()
	cmd := exec.Command("/usr/bin/python3", "-m", "osgeo_utils.samples.validate_gpkg", "-k", "--extra", "--warning-as-error", path)
	out, err := cmd.CombinedOutput()
	if _, ran := err.(*exec.ExitError); err != nil && !ran {
		t.Fatalf("the validator of python3-gdal did not run: %v", err)
	}
	return string(out), err == nil
}

func mustBeValid(t testing.TB, path, after string) {
	t.Helper()
	if out, ok := validate(t, path); !ok {
		t.Errorf("not a valid GeoPackage after %s:\n%s", after, out)
	}
	if gpkg.HasJournal(path) {
		t.Errorf("a journal was left after %s", after)
	}
}

func contextWithCancel() (context.Context, func()) { return context.WithCancel(ctx) }

// fillEveryTable surveys, reviews, surveys again and adds sites, so that no table
// stays empty.
func fillEveryTable(t testing.TB, c *Catalog) {
	t.Helper()
	rs := survey("r", 2)
	rs.Profile = plainProfile(50000)
	rs.Tangents = []Tangent{{FromM: 0, ToM: 900, GradePct: 1, GradeErrPct: 0.1}, {FromM: 900, ToM: 5100, GradePct: -6, GradeErrPct: 0.1}}
	possibleM := 320.0
	rs.SteepParts, rs.PossibleSteepM = []catalog.SteepPart{pitch("r", 7, 6.2, routes.Forward)}, &possibleM
	save(t, c, rs, SaveOptions{})
	for _, id := range []string{"r-f-1.0", "r-f-11.0"} {
		if err := c.Review(ctx, id, catalog.Review{State: catalog.Approved, By: "Ada", Note: "seen"}); err != nil {
			t.Fatal(err)
		}
	}
	for i := range rs.Entries {
		rs.Entries[i].Descent.StartM += 600
	}
	save(t, c, rs, SaveOptions{})
	station := 1234.5
	if _, err := c.AddSites(ctx, []catalog.Site{{Kind: catalog.EscapeRamp, Name: "Ramp", Point: terrain.Point{LonDeg: -110, LatDeg: 40}, Route: "r", StationM: &station, Side: "right", Direction: "forward"}}, "Ada"); err != nil {
		t.Fatal(err)
	}
	saveNetwork(t, c)
	keepDrives(t, c, drivePass(1, "r", 900, 800))
	for _, table := range gpkg.TableNames() {
		var n int
		err := c.file.Read(ctx, func(q gpkg.Querier) error {
			_, err := gpkg.First(q, []any{&n}, "SELECT count(*) FROM "+table)
			return err
		})
		if err != nil || n == 0 {
			t.Fatalf("table %s: %d rows, %v", table, n, err)
		}
	}
}
