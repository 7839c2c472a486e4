package raster

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/terrain"
)

// flat is a small raster of one height in UTM zone 13 north around 105 W, 39.7495 N.
func flat(v float32) *terrain.Grid {
	return grid("EPSG:26913", 499900, 4400100, 10, 20, 20, func(x, y float64) float64 { return float64(v) })
}

var inFlat = terrain.Point{LonDeg: -105, LatDeg: 39.75}

func heightIn(t *testing.T, o Options, file string) (terrain.Sample, *Surface) {
	t.Helper()
	s := open(t, o, file)
	return sample(t, s, []terrain.Point{inFlat})[0], s
}

// Units: the international foot is 0.3048 m, the US survey foot 1200/3937 m (NIST
// SP 811, 2008, B.6; from memory). 5,000 ft is then 1524 m and 1524.003048… m.
func TestVerticalUnits(t *testing.T) {
	dir := t.TempDir()
	base := write(t, filepath.Join(dir, "base.tif"), flat(5000), WriteOptions{})
	tr := func(from, name string, args ...string) string {
		p := filepath.Join(dir, name)
		gdalRun(t, "", "gdal_translate", append(append([]string{"-q"}, args...), from, p)...)
		return p
	}
	asc := tr(base, "none.asc", "-of", "AAIGrid", "--config", "GDAL_PAM_ENABLED", "NO") // says nothing of a unit
	ftUS := tr(asc, "ftus.tif", "-a_srs", "EPSG:26913+6360")                            // NAVD88 height (ftUS)
	ft := tr(asc, "ft.tif", "-a_srs", "EPSG:26913+8228")                                // NAVD88 height (ft)
	ftImg := tr(asc, "ft.vrt", "-of", "VRT", "-a_srs", "EPSG:26913+8228")               // the unit only in the CRS
	wantFault(t, openFault(tr(base, "both.tif", "-a_srs", "EPSG:26913+8228")), terrain.ErrUnit, "both.tif", "states m", "ft in its vertical CRS")
	for _, c := range []struct {
		file   string
		opt    terrain.VerticalUnit
		height float64
		unit   terrain.VerticalUnit
		from   string
		datum  string
	}{
		{base, 0, 5000, terrain.Metre, "file", "unknown"},
		{ft, 0, 1524, terrain.Foot, "file", "North American Vertical Datum 1988"},
		{ftUS, 0, 5000 * 1200.0 / 3937, terrain.USSurveyFoot, "file", "North American Vertical Datum 1988"},
		{ftImg, 0, 1524, terrain.Foot, "crs", "North American Vertical Datum 1988"},
		{asc, terrain.Foot, 1524, terrain.Foot, "option", "unknown"},
		{base, terrain.USSurveyFoot, 5000 * 1200.0 / 3937, terrain.USSurveyFoot, "option", "unknown"},
	} {
		got, s := heightIn(t, Options{VertUnit: c.opt}, c.file)
		src := s.Sources()[0]
		if math.Abs(got.ElevationM-c.height) > 1e-9 || src.VertUnit != c.unit || src.VertUnitFrom != c.from || src.VertDatum != c.datum {
			t.Errorf("%s: %+v %+v", c.file, got, src)
		}
		if contradicts := c.file == base && c.opt != 0; contradicts != (len(s.Warnings()) == 1) {
			t.Errorf("%s: warnings %q", c.file, s.Warnings())
		}
	}
}

// edited makes a VRT of a raster, changes its text and returns its path.
func edited(t *testing.T, file, old, new string) string {
	t.Helper()
	p := strings.TrimSuffix(file, filepath.Ext(file)) + fmt.Sprintf("-%d.vrt", len(new))
	gdalRun(t, "", "gdal_translate", "-q", "-of", "VRT", file, p)
	text, err := os.ReadFile(p)
	if err != nil || !strings.Contains(string(text), old) {
		t.Fatalf("%v: no %q in %s", err, old, text)
	}
	if err := os.WriteFile(p, []byte(strings.Replace(string(text), old, new, 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	return p
}

// Scale and offset of the band count before the unit: (5000 x 0.1 + 1000) ft.
func TestScaleOffsetAndFeet(t *testing.T) {
	dir := t.TempDir()
	base := write(t, filepath.Join(dir, "base.tif"), flat(5000), WriteOptions{Int16: true})
	scaled := filepath.Join(dir, "scaled.tif")
	gdalRun(t, "", "gdal_translate", "-q", "-a_scale", "0.1", "-a_offset", "1000", base, scaled)
	// gdal_translate drops the unit when it is told a scale.
	got, _ := heightIn(t, Options{VertUnit: terrain.Metre}, scaled)
	if math.Abs(got.ElevationM-1500) > 1e-9 {
		t.Errorf("%+v, want 1500", got)
	}
	got, _ = heightIn(t, Options{VertUnit: terrain.Foot}, scaled)
	if math.Abs(got.ElevationM-1500*.3048) > 1e-9 {
		t.Errorf("%+v, want %f", got, 1500*.3048)
	}
	got, _ = heightIn(t, Options{}, edited(t, base, "<UnitType>m</UnitType>", "<UnitType>ft</UnitType>"))
	if math.Abs(got.ElevationM-1524) > 1e-9 {
		t.Errorf("%+v, want 1524", got)
	}
}

// Each way to say that there is no height here gives a Void for every point whose
// taps touch it, and a height beside it; nothing is made up from the others.
func TestVoids(t *testing.T) {
	dir := t.TempDir()
	hole := func(v float32) *terrain.Grid {
		g := flat(1500)
		g.ElevationM[10*20+9] = v // the cell whose centre is 499995, 4399995
		return g
	}
	write(t, filepath.Join(dir, "nan.tif"), hole(nan32), WriteOptions{})
	write(t, filepath.Join(dir, "n9999.tif"), hole(nan32), WriteOptions{NoData: -9999})
	write(t, filepath.Join(dir, "n32767.tif"), hole(nan32), WriteOptions{NoData: -32767, Int16: true})
	write(t, filepath.Join(dir, "n0.tif"), hole(nan32), WriteOptions{NoData: 1e-30})
	write(t, filepath.Join(dir, "huge.tif"), hole(nan32), WriteOptions{NoData: -math.MaxFloat32})
	for _, v := range []float32{-9999, -32768, 32767, 1e30} { // not declared
		write(t, filepath.Join(dir, fmt.Sprintf("undeclared%g.tif", v)), hole(v), WriteOptions{})
	}
	write(t, filepath.Join(dir, "src.tif"), hole(nan32), WriteOptions{NoData: 7})
	for _, args := range [][]string{
		{"mask.tif", "-b", "1", "-mask", "mask", "-a_nodata", "none", "-ot", "Int16", "--config", "GDAL_TIFF_INTERNAL_MASK", "YES"},
		{"msk.tif", "-b", "1", "-mask", "mask", "-a_nodata", "none"},
		{"alpha.tif", "-b", "1", "-b", "mask", "-a_nodata", "none", "-co", "ALPHA=YES"},
		{"alpha16.tif", "-b", "1", "-b", "mask", "-a_nodata", "none", "-co", "ALPHA=YES", "-ot", "UInt16"},
	} {
		gdalRun(t, "", "gdal_translate", append(append([]string{"-q"}, args[1:]...), filepath.Join(dir, "src.tif"), filepath.Join(dir, args[0]))...)
	}
	if _, err := os.Stat(filepath.Join(dir, "msk.tif.msk")); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(dir, "*.tif"))
	if err != nil || len(files) != 14 {
		t.Fatal(files, err)
	}
	const m = 1 / 85700.0 // a metre of longitude here, near enough
	for _, f := range files {
		s := open(t, Options{}, f)
		got := sample(t, s, []terrain.Point{{LonDeg: -105, LatDeg: 39.7499}, {LonDeg: -105 - 5*m, LatDeg: 39.7499}, {LonDeg: -105 + 20*m, LatDeg: 39.7499}})
		xy := gdalTransform(t, "EPSG:26913", []terrain.Point{{LonDeg: -105, LatDeg: 39.7499}})
		if math.Abs(xy[0][0]-500000) > 5 || math.Abs(xy[0][1]-4400000) > 20 {
			t.Fatalf("%v", xy)
		}
		row := int(math.Floor((4400100-xy[0][1])/10 - .5)) // the taps' rows are row and row+1
		touches := row == 10 || row == 9
		for i, g := range got {
			want := terrain.Hit
			if touches && i < 2 {
				want = terrain.Void
			}
			if g.Miss != want || (want == terrain.Hit) != (g.ElevationM == 1500) {
				t.Errorf("%s point %d: %+v, want %v", filepath.Base(f), i, g, want)
			}
		}
		if !touches {
			t.Fatal("the point is not beside the hole")
		}
		if odd := strings.Contains(f, "undeclared"); odd != (len(s.Warnings()) > 0) {
			t.Errorf("%s: warnings %q", filepath.Base(f), s.Warnings())
		}
	}
}

// A tap of no weight is no tap: at the centre of a cell beside a void there is a
// height.
func TestCellCentreBesideVoid(t *testing.T) {
	g := grid("EPSG:4326", -105, 40, 1.0/64, 8, 8, func(x, y float64) float64 { return 900 })
	g.ElevationM[3*8+4] = nan32
	for _, isCubic := range []bool{false, true} {
		s := open(t, Options{Cubic: isCubic}, write(t, filepath.Join(t.TempDir(), "c.tif"), g, WriteOptions{}))
		at := func(c, r float64) terrain.Miss {
			return sample(t, s, []terrain.Point{{LonDeg: -105 + (c+.5)/64, LatDeg: 40 - (r+.5)/64}})[0].Miss
		}
		if at(3, 3) != terrain.Hit || at(4, 3) != terrain.Void || at(3.01, 3) != terrain.Void || at(4, 2.5) != terrain.Void {
			t.Errorf("cubic %v: %v %v %v %v", isCubic, at(3, 3), at(4, 3), at(3.01, 3), at(4, 2.5))
		}
	}
}

// Two known vertical datums in one call are refused; one with an unknown is warned
// of; two in two calls are fine.
func TestMixedDatums(t *testing.T) {
	dir := t.TempDir()
	make := func(name, datum string, west float64) string {
		g := flat(1500)
		g.WestX += west
		g.VertDatumLabel = datum
		return write(t, filepath.Join(dir, name), g, WriteOptions{})
	}
	navd := make("navd.tif", "5703", 0)
	egm := make("egm.tif", "EPSG:5773", 1000)
	none := make("none.tif", "", 2000)
	pts := []terrain.Point{inFlat, {LonDeg: -105 + 1000/85700.0, LatDeg: 39.75}, {LonDeg: -105 + 2000/85700.0, LatDeg: 39.75}}
	s := open(t, Options{}, navd, egm, none)
	out := make3(t, s, pts[:1])
	if out != nil {
		t.Error(out)
	}
	if err := make3(t, s, pts[1:2]); err != nil {
		t.Error(err)
	}
	err := make3(t, s, pts[:2])
	wantFault(t, err, terrain.ErrMixedDatum, "EGM96", "North American Vertical Datum 1988")
	if err := make3(t, s, []terrain.Point{pts[0], pts[2]}); err != nil || len(s.Warnings()) != 1 {
		t.Errorf("%v, warnings %q", err, s.Warnings())
	}
}

func make3(t *testing.T, s *Surface, pts []terrain.Point) error {
	t.Helper()
	out := make([]terrain.Sample, len(pts))
	err := s.Sample(context.Background(), pts, out)
	for _, o := range out {
		if err == nil && o.Miss != terrain.Hit {
			t.Errorf("%+v", o)
		}
	}
	return err
}
