package raster

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"gradeline/terrain"
)

// gdalRun runs a program of Debian's gdal-bin.
func gdalRun(t testing.TB, stdin, name string, args ...string) string {
	t.Helper()
	cmd := exec.Command(name, args...)
	cmd.Stdin = strings.NewReader(stdin)
	var errs strings.Builder
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s (these tests need the package gdal-bin)", name, strings.Join(args, " "), err, errs.String())
	}
	return string(out)
}

// gdalTransform takes WGS 84 points to a CRS by GDAL's own program.
func gdalTransform(t testing.TB, crs string, pts []terrain.Point) [][2]float64 {
	t.Helper()
	var in strings.Builder
	for _, p := range pts {
		fmt.Fprintf(&in, "%.17g %.17g\n", p.LonDeg, p.LatDeg)
	}
	// OGC:CRS84 is WGS 84 in longitude, latitude order.
	lines := strings.Split(strings.TrimSpace(gdalRun(t, in.String(), "gdaltransform", "-s_srs", "OGC:CRS84", "-t_srs", crs, "-output_xy")), "\n")
	if len(lines) != len(pts) {
		t.Fatalf("gdaltransform gave %d lines for %d points", len(lines), len(pts))
	}
	out := make([][2]float64, len(pts))
	for i, l := range lines {
		if _, err := fmt.Sscan(l, &out[i][0], &out[i][1]); err != nil {
			t.Fatalf("%q: %v", l, err)
		}
	}
	return out
}

// locationValues reads the stored values of pixels by gdallocationinfo.
func locationValues(t testing.TB, file string, px [][2]int) []float64 {
	t.Helper()
	var in strings.Builder
	for _, p := range px {
		fmt.Fprintf(&in, "%d %d\n", p[0], p[1])
	}
	f := strings.Fields(gdalRun(t, in.String(), "gdallocationinfo", "-valonly", file))
	if len(f) != len(px) {
		t.Fatalf("gdallocationinfo gave %d values for %d pixels", len(f), len(px))
	}
	out := make([]float64, len(f))
	for i := range f {
		v, err := strconv.ParseFloat(f[i], 64)
		if err != nil {
			t.Fatal(err)
		}
		out[i] = v
	}
	return out
}

func randomPoints(rng *rand.Rand, n int, west, south, east, north float64) []terrain.Point {
	pts := make([]terrain.Point, n)
	for i := range pts {
		pts[i] = terrain.Point{LonDeg: west + rng.Float64()*(east-west), LatDeg: south + rng.Float64()*(north-south)}
	}
	return pts
}

// The CRS path against gdaltransform: projected coordinates to 0.2 mm, the local
// cells' own bound of 0.1 mm and the printed digits. Source: GDAL's program as
// reference, computed.
func TestProjectionAgainstGdaltransform(t *testing.T) {
	for _, c := range []struct {
		crs                      string
		west, south, east, north float64
	}{
		{"EPSG:26913", -106, 39, -104, 41},  // NAD83 / UTM 13N
		{"EPSG:32612", -115, 32, -108, 44},  // WGS 84 / UTM 12N
		{"EPSG:5070", -120, 30, -75, 48},    // NAD83 / Conus Albers
		{"EPSG:3857", -179, -80, 179, 80},   // Web Mercator
		{"EPSG:2154", -3, 43, 7, 50},        // RGF93 / Lambert-93
		{"EPSG:2056", 6.5, 46, 10, 47.5},    // Swiss LV95
		{"EPSG:27700", -5, 50.5, 1.5, 57},   // OSGB36 / British National Grid
		{"EPSG:2231", -109, 39.8, -102, 41}, // NAD83 / Colorado North, US survey feet
		{"EPSG:4269", -120, 30, -80, 48},    // NAD83
		{"EPSG:3413", -60, 60, 60, 89},      // polar stereographic
		// Far out in a gnomonic projection no cell is smooth enough: all through PROJ.
		{"+proj=gnom +lat_0=0 +lon_0=0 +ellps=WGS84 +units=m", 89, -30, 89.9, 30},
	} {
		t.Run(c.crs, func(t *testing.T) {
			const seed = 7
			rng := rand.New(rand.NewPCG(seed, 1))
			pts := randomPoints(rng, 400, c.west, c.south, c.east, c.north)
			want := gdalTransform(t, c.crs, pts)
			file := write(t, filepath.Join(t.TempDir(), "x.tif"), &terrain.Grid{Cols: 1, Rows: 1, StepX: 1, StepY: 1, WestX: want[0][0],
				NorthY: want[0][1], CRS: c.crs, ElevationM: []float32{1}}, WriteOptions{})
			s := open(t, Options{}, file)
			l := s.layers[0]
			sc := new(scratch)
			sc.resize(len(pts))
			for i := range pts {
				sc.idx = append(sc.idx, int32(i))
			}
			l.project(pts, sc)
			worst := 0.0
			for i := range pts {
				x := l.geo[0] + (sc.u[i]+.5)*l.geo[1]
				y := l.geo[3] + (sc.v[i]+.5)*l.geo[5]
				d := math.Hypot(x-want[i][0], y-want[i][1]) * l.proj.metresPerUnit
				worst = math.Max(worst, d)
			}
			if !(worst < 2e-4) {
				t.Errorf("seed %d: off by up to %.3g m", seed, worst)
			}
			if far := strings.Contains(c.crs, "gnom"); far != (len(sc.far) > len(pts)/2) || !far && len(sc.far) > 0 {
				t.Errorf("%d of %d points through PROJ", len(sc.far), len(pts))
			}
			t.Logf("%s: worst %.2g m, %d of %d points through PROJ", c.crs, worst, len(sc.far), len(pts))
		})
	}
}

// Heights against the four stored values that gdallocationinfo gives at the pixel
// that gdaltransform gives, for the kinds of file people have. Source: GDAL's
// programs as reference, computed.
func TestSamplesAgainstGdallocationinfo(t *testing.T) {
	dir := t.TempDir()
	utm := write(t, filepath.Join(dir, "utm.tif"), grid("EPSG:26913", 490000, 4410000, 10, 700, 600, hills), WriteOptions{})
	geo := write(t, filepath.Join(dir, "geo.tif"), grid("EPSG:4269", -105.2, 39.9, 1.0/3600, 700, 600, func(x, y float64) float64 {
		return hills(x*85000, y*111000)
	}), WriteOptions{Int16: true})
	hgt := write(t, filepath.Join(dir, "N39W106.hgt"), grid("EPSG:4326", -106-.5/1200, 40+.5/1200, 1.0/1200, 1201, 1201, func(x, y float64) float64 {
		return hills(x*85000, y*111000)
	}), WriteOptions{Format: "SRTMHGT"})
	for _, args := range [][]string{
		{utm, "tiled.tif", "-co", "TILED=YES", "-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=3", "-co", "BLOCKXSIZE=64", "-co", "BLOCKYSIZE=128"},
		{utm, "strips.tif", "-co", "COMPRESS=LZW", "-co", "BLOCKYSIZE=7"},
		{utm, "cog.tif", "-of", "COG", "-co", "BLOCKSIZE=256"},
		{utm, "point.tif", "-mo", "AREA_OR_POINT=Point"},
		{utm, "double.tif", "-ot", "Float64"},
		{utm, "grid.asc", "-of", "AAIGrid"},
		{utm, "grid.img", "-of", "HFA"},
		{utm, "grid.flt", "-of", "EHdr"},
		{geo, "unsigned.tif", "-ot", "UInt16"},
	} {
		gdalRun(t, "", "gdal_translate", append(append([]string{"-q"}, args[2:]...), args[0], filepath.Join(dir, args[1]))...)
	}
	cases := []struct {
		file, crs string
		unit      terrain.VerticalUnit
	}{
		{utm, "EPSG:26913", 0}, {geo, "EPSG:4269", 0}, {hgt, "OGC:CRS84", 0}, {"tiled.tif", "EPSG:26913", 0}, {"strips.tif", "EPSG:26913", 0},
		{"cog.tif", "EPSG:26913", 0}, {"point.tif", "EPSG:26913", 0}, {"double.tif", "EPSG:26913", 0},
		{"grid.asc", "EPSG:26913", terrain.Metre}, {"grid.img", "EPSG:26913", terrain.Metre}, {"grid.flt", "EPSG:26913", terrain.Metre},
		{"unsigned.tif", "EPSG:4269", 0},
	}
	for _, c := range cases {
		file := c.file
		if !filepath.IsAbs(file) {
			file = filepath.Join(dir, file)
		}
		t.Run(filepath.Base(file), func(t *testing.T) {
			s := open(t, Options{VertUnit: c.unit}, file)
			l := s.layers[0]
			b := l.bounds
			const seed = 11
			pts := randomPoints(rand.New(rand.NewPCG(seed, 2)), 500, b[0], b[1], b[2], b[3])
			xy := gdalTransform(t, c.crs, pts)
			var px [][2]int
			var keep []int
			var frac [][2]float64
			for i, p := range xy {
				col, row := pixelOf(gdalinfoGeo(t, file), p[0], p[1])
				fc, fr := math.Floor(col-.5), math.Floor(row-.5)
				if fc < 0 || fr < 0 || int(fc)+1 >= s.sources[0].Cols || int(fr)+1 >= s.sources[0].Rows {
					continue
				}
				keep = append(keep, i)
				frac = append(frac, [2]float64{col - .5 - fc, row - .5 - fr})
				for k := 0; k < 4; k++ {
					px = append(px, [2]int{int(fc) + k%2, int(fr) + k/2})
				}
			}
			if len(keep) < 300 {
				t.Fatalf("only %d points inside", len(keep))
			}
			v := locationValues(t, file, px)
			got := sample(t, s, pts)
			for n, i := range keep {
				fx, fy := frac[n][0], frac[n][1]
				want := v[4*n]*(1-fx)*(1-fy) + v[4*n+1]*fx*(1-fy) + v[4*n+2]*(1-fx)*fy + v[4*n+3]*fx*fy
				// 5e-4 m: gdallocationinfo and gdaltransform print up to 15 digits, a cell of
				// 10 m and a slope of 1 make 0.1 mm of place 0.1 mm of height.
				if got[i].Miss != terrain.Hit || math.Abs(got[i].ElevationM-want) > 5e-4 {
					t.Fatalf("seed %d, %v: %+v, want %.5f", seed, pts[i], got[i], want)
				}
			}
		})
	}
}

var geoCache = map[string][6]float64{}

// gdalinfoGeo reads a file's geotransform from gdalinfo.
func gdalinfoGeo(t testing.TB, file string) [6]float64 {
	t.Helper()
	if g, ok := geoCache[file]; ok {
		return g
	}
	var g [6]float64
	out := gdalRun(t, "", "gdalinfo", "-json", file)
	_, after, ok := strings.Cut(out, `"geoTransform":[`)
	if !ok {
		t.Fatal("gdalinfo gives no geotransform")
	}
	list, _, _ := strings.Cut(after, "]")
	for i, f := range strings.Split(list, ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(f), 64)
		if err != nil || i > 5 {
			t.Fatalf("geotransform %q", list)
		}
		g[i] = v
	}
	geoCache[file] = g
	return g
}

// A nearest-neighbour reading by longitude and latitude at cell centres is the same
// number in gdallocationinfo -wgs84 and here.
func TestCellCentresAgainstGdallocationinfoWGS84(t *testing.T) {
	file := write(t, filepath.Join(t.TempDir(), "geo.tif"), grid("EPSG:4326", -105.2, 39.9, 1.0/1024, 64, 64, func(x, y float64) float64 {
		return hills(x*85000, y*111000)
	}), WriteOptions{})
	var pts []terrain.Point
	var in strings.Builder
	for r := 1; r < 63; r += 3 {
		for c := 1; c < 63; c += 3 {
			p := terrain.Point{LonDeg: -105.2 + (float64(c)+.5)/1024, LatDeg: 39.9 - (float64(r)+.5)/1024}
			pts = append(pts, p)
			fmt.Fprintf(&in, "%.15g %.15g\n", p.LonDeg, p.LatDeg)
		}
	}
	want := strings.Fields(gdalRun(t, in.String(), "gdallocationinfo", "-valonly", "-wgs84", file))
	for i, got := range sample(t, open(t, Options{}, file), pts) {
		w, err := strconv.ParseFloat(want[i], 64)
		if err != nil || math.Abs(got.ElevationM-w) > 1e-5 {
			t.Fatalf("%v: %+v, want %s", pts[i], got, want[i])
		}
	}
}
