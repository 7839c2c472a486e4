package raster

import (
	"flag"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"text/tabwriter"
)

var (
	sideGrowKM    = flag.String("side.grow", "100,1000,5000", "lengths of road that the whole survey is timed at, km")
	sideGrowTiles = flag.String("side.growtiles", "1,100,10000", "tiles in a folder that opening and sampling are timed at")
)

// growth times the whole survey at growing lengths, one and two workers, and opening
// and sampling folders of growing numbers of tiles.
func growth(b *testing.B, w io.Writer, r sideRaster, hgt string) {
	fmt.Fprintf(w, "\nGrowth of the whole survey with length (%s)\n", r.what)
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "km\tworkers\tseconds\tcores' ms a km\tpeak MB\t")
	for _, km := range numbers(b, *sideGrowKM) {
		_, _, lines := sideRoads(b, r, km)
		var alone took
		for _, workers := range []int{1, 2} {
			one := wholeSurvey(b, r, lines, workers)
			fmt.Fprintf(t, "%d\t%d\t%.2f\t%.2f\t%.0f\t\n", km, workers, one.seconds, one.cpuSeconds/float64(km)*1e3, one.peakMB)
			if workers == 1 {
				alone = one
			} else if countOf(alone.text) != countOf(one.text) {
				b.Errorf("%d km: %s with one worker, %s with two", km, countOf(alone.text), countOf(one.text))
			}
		}
	}
	t.Flush()
	fmt.Fprintf(w, "\nGrowth with tiles: 1,000 km of road over a folder, the first time and when it is known\n")
	t = tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "tiles\tfirst s\tknown s\tof it opening s\tpeak MB\t")
	for _, n := range numbers(b, *sideGrowTiles) {
		f := sideTiles(b, hgt, n)
		points, _, _ := sideRoads(b, f, 1000)
		few, _, _ := sideRoads(b, f, 1)
		cache := "XDG_CACHE_HOME=" + b.TempDir()
		run := func(points string) took {
			out := filepath.Join(b.TempDir(), "heights.f64")
			return runSide(b, out, "", []string{sideChild + "=sample", cache}, self(), f.folder, points, out, strconv.Itoa(2))
		}
		first := run(points)
		known := run(points)
		opening := run(few)
		equal(b, fmt.Sprintf("%d tiles, first and known", n), known.values, first.values, 0)
		fmt.Fprintf(t, "%d\t%.2f\t%.2f\t%.2f\t%.0f\t\n", n, first.seconds, known.seconds, opening.seconds, known.peakMB)
	}
	t.Flush()
}

// countOf is the line of a survey's answer that says how many descents there are.
func countOf(text string) string {
	line, _, _ := strings.Cut(text, "\n")
	return line
}

func numbers(b testing.TB, list string) []int {
	var out []int
	for _, f := range strings.Split(list, ",") {
		n, err := strconv.Atoi(f)
		if err != nil || n < 1 {
			b.Fatalf("%q is no list of numbers", list)
		}
		out = append(out, n)
	}
	return out
}
