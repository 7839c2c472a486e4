package raster

import (
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"text/tabwriter"
)

var (
	sideKM    = flag.String("side.km", "1000,10000", "lengths of road that all are timed at, km; none leaves that out")
	sideOnly  = flag.String("side.only", "", "only the rasters whose name has this in it")
	sideTileN = flag.Int("side.tiles", 10000, "tiles in the folder")
)

// entrant is one way to get heights under points, a whole process.
type entrant struct {
	name    string
	nearest bool // gives the nearest cell: compared with the nearest, not with bilinear
	run     func(b testing.TB, r sideRaster, points, text, out string) took
}

func script(interpreter, file string, more ...string) func(testing.TB, sideRaster, string, string, string) took {
	return func(b testing.TB, r sideRaster, points, _, out string) took {
		return runSide(b, out, "", nil, interpreter, append([]string{peer(file), r.path, points, out}, more...)...)
	}
}

func child(what string, workers int) func(testing.TB, sideRaster, string, string, string) took {
	return func(b testing.TB, r sideRaster, points, _, out string) took {
		path := r.path
		if r.folder != "" {
			path = r.folder
		}
		return runSide(b, out, "", []string{sideChild + "=" + what, sideCache(b)}, self(), path, points, out, strconv.Itoa(workers))
	}
}

// sideCache is where the index of a folder is kept between runs; a relative path would
// not be taken, and every process would open every file.
func sideCache(b testing.TB) string {
	dir, err := filepath.Abs(filepath.Join(*sideDir, "cache"))
	if err != nil {
		b.Fatal(err)
	}
	return "XDG_CACHE_HOME=" + dir
}

// The peers' Python is Debian's, whatever else is on the path.
const python = "/usr/bin/python3"

const oursName = "gradeline, 2 workers"

var entrants = []entrant{
	{"gdallocationinfo", true, func(b testing.TB, r sideRaster, _, text, _ string) took {
		t := runSide(b, "", text, nil, "gdallocationinfo", "-valonly", "-wgs84", r.path)
		t.values = fields(b, t.text)
		return t
	}},
	{"rasterio sample", true, script(python, "sample.py")},
	{"terra extract", false, script("Rscript", "extract.R")},
	{"windows + scipy", false, script(python, "windows.py")},
	{"numpy in memory", false, script(python, "memory.py")},
	{"GDAL's decode, 1 thread", false, child("decode", 1)},
	{"GDAL's decode, 2 threads", false, child("decode", 2)},
	{"gradeline, 1 worker", false, child("sample", 1)},
	{oursName, false, child("sample", 2)},
}

// quick is a time under which a run is done three times and the middle one counts.
const quick = 3.0

// best runs an entrant; a quick one three times.
func (e *entrant) time(b testing.TB, r sideRaster, points, text string) took {
	out := filepath.Join(b.TempDir(), "heights.f64")
	all := []took{e.run(b, r, points, text, out)}
	for all[0].seconds < quick && len(all) < 3 {
		all = append(all, e.run(b, r, points, text, out))
	}
	slices.SortFunc(all, func(x, y took) int { return int(math.Copysign(1, x.seconds-y.seconds)) })
	return all[len(all)/2]
}

// equal fails unless two lists of heights agree: to 1 mm, which is more than what the
// peers' 32-bit results lose, but for a few points in 100,000 on a cell's very edge
// among the nearest ones.
func equal(b testing.TB, what string, got, want []float64, edges float64) {
	b.Helper()
	if len(got) != len(want) || len(got) == 0 {
		b.Fatalf("%s: %d heights for %d points", what, len(got), len(want))
	}
	off, worst := 0, 0.0
	for i := range got {
		if d := math.Abs(got[i] - want[i]); !(d <= .001) {
			off++
			worst = math.Max(worst, d)
		}
	}
	if float64(off) > edges*float64(len(got)) {
		b.Errorf("%s: %d of %d heights differ, by up to %g m", what, off, len(got), worst)
	}
}

// BenchmarkSideBySide times whole processes that give heights under the same points,
// one after the other in one run: general tools, GDAL's decode of the blocks that the
// points touch, our sampler, and our whole survey of the same roads. Every result is
// read and compared. Run it by make bench.
func BenchmarkSideBySide(b *testing.B) {
	for range b.N {
		sideBySide(b, os.Stdout)
	}
}

func sideBySide(b *testing.B, w io.Writer) {
	rasters := sideRasters(b)
	hgt := rasters[1].path
	var lengths []int
	if *sideKM != "none" {
		lengths = numbers(b, *sideKM)
	}
	if len(lengths) > 0 {
		rasters = append(rasters, sideTiles(b, hgt, *sideTileN))
	}
	for _, r := range rasters {
		if !strings.Contains(r.name, *sideOnly) {
			continue
		}
		for i, km := range lengths {
			if r.folder != "" && i > 0 {
				continue // the point-by-point tools would take minutes
			}
			sideTable(b, w, r, km)
		}
	}
	growth(b, w, rasters[0], hgt)
}

// sideTable runs every entrant on one raster and length of road.
func sideTable(b *testing.B, w io.Writer, r sideRaster, km int) {
	points, text, lines := sideRoads(b, r, km)
	ours := (&entrant{run: child("sample", 2)}).time(b, r, points, text) // warms the disk's cache, and is the reference
	nearest := took{}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintf(w, "\n%s (%s), %d km of road, %d points\n", r.name, r.what, km, len(ours.values))
	fmt.Fprintln(t, "process\tseconds\tcores' seconds\tpeak MB\tseconds ÷ ours\tcores' ÷ ours\t")
	times := map[string]took{}
	for _, e := range entrants {
		if r.folder != "" && e.name == "numpy in memory" {
			continue // 260 GB
		}
		one := e.time(b, r, points, text)
		times[e.name] = one
		switch {
		case strings.HasPrefix(e.name, "GDAL"):
			if len(one.values) < 2 || one.values[0] == 0 {
				b.Errorf("%s decoded nothing", e.name)
			}
		case e.nearest && nearest.values == nil:
			nearest = one
			if r.folder == "" {
				out := filepath.Join(b.TempDir(), "nearest.f64")
				equal(b, r.name+": "+e.name+" and the nearest cells", one.values, script(python, "memory.py", "nearest")(b, r, points, text, out).values, 1e-4)
			}
		case e.nearest:
			equal(b, r.name+": "+e.name+" and the first nearest one", one.values, nearest.values, 1e-4)
		default:
			equal(b, r.name+": "+e.name+" and ours", one.values, ours.values, 0)
		}
	}
	row := func(name string, one took) {
		fmt.Fprintf(t, "%s\t%.2f\t%.2f\t%.0f\t%.2f\t%.2f\t\n", name, one.seconds, one.cpuSeconds, one.peakMB, one.seconds/times[oursName].seconds, one.cpuSeconds/times[oursName].cpuSeconds)
	}
	for _, e := range entrants {
		if one, ok := times[e.name]; ok {
			row(e.name, one)
		}
	}
	whole := wholeSurvey(b, r, lines, 2)
	row("whole survey, 2 workers", whole)
	t.Flush()
	d1, d2, o1, o2 := times["GDAL's decode, 1 thread"], times["GDAL's decode, 2 threads"], times["gradeline, 1 worker"], times[oursName]
	fmt.Fprintf(w, "sampler ÷ GDAL's decode of %.0f blocks: seconds %.2f and %.2f with one and two workers, cores' seconds %.2f and %.2f; two workers against one: %.2f×\n",
		d1.values[len(d1.values)-1], o1.seconds/d1.seconds, o2.seconds/d2.seconds, o1.cpuSeconds/d1.cpuSeconds, o2.cpuSeconds/d2.cpuSeconds, o1.seconds/o2.seconds)
}

// wholeSurvey runs the program on the roads, answer and catalogue and all.
func wholeSurvey(b *testing.B, r sideRaster, lines string, workers int) took {
	path := r.path
	if r.folder != "" {
		path = r.folder
	}
	dir := b.TempDir()
	t := runSide(b, "", "", []string{sideCache(b)}, *sideProg, "survey", "--terrain", path, "--vertical-unit", "m",
		"--workers", strconv.Itoa(workers), "--catalog", filepath.Join(dir, "c.gpkg"), lines)
	if !strings.Contains(t.text, "descents") {
		b.Fatalf("the survey said %q", t.text)
	}
	return t
}
