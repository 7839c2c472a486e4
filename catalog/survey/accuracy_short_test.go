package survey_test

import (
	"context"
	"flag"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gradeline/routes"
	"gradeline/routes/descent"
	"gradeline/terrain/synth"
)

var (
	shortFrom  = flag.Uint64("short.from", synth.SteepTuning[0], "first seed of BenchmarkShortShare")
	shortRoads = flag.Int("short.roads", len(synth.SteepTuning), "roads of BenchmarkShortShare")
	shortCells = flag.String("short.cells", "10,30,90", "cell sizes of BenchmarkShortShare, metres")
)

// shortNeeds are what the bounds of the steepest windows would have had to be: the error beyond the
// effect of smoothing, in half-widths of a mean over the window's length, and whether the bound as
// stated holds.
type shortNeeds struct {
	share [3][]float64
	holds [3]cover
}

// BenchmarkShortShare prints, for roads with short steep parts, the shares of the mean's bound
// (steepest in routes/grade/bound.go) with which the bounds of the steepest 100, 500 and 1,000 m would hold
// in 95 of 100, and how often they hold.
func BenchmarkShortShare(b *testing.B) {
	cellsM := cellsOf(b, *shortCells)
	for b.Loop() {
		needs := map[float64]*shortNeeds{}
		for i := range *shortRoads {
			road, cases, err := runRoad(context.Background(), synth.Options{Seed: *shortFrom + uint64(i), Kind: synth.ShortSteepParts}, cellsM, ours())
			if err != nil {
				b.Fatal(err)
			}
			truth := truthProfile(road)
			for _, c := range cases {
				if needs[c.cellM] == nil {
					needs[c.cellM] = &shortNeeds{}
				}
				for _, dir := range []routes.Direction{routes.Forward, routes.Backward} {
					needs[c.cellM].add(c.profile, descent.Find(truth, dir, descent.Options{}), descent.Find(c.profile, dir, descent.Options{}))
				}
			}
		}
		for _, m := range cellsM {
			for k, windowM := range []int{100, 500, 1000} {
				x := needs[m].share[k]
				slices.Sort(x)
				fmt.Printf("%g m cells, steepest %d m: of %d, holds in %.3f; share needed for .95: %.2f, for .9: %.2f\n", m, windowM, len(x), needs[m].holds[k].share(), x[len(x)*95/100], x[len(x)*9/10])
			}
		}
	}
}

// cellsOf reads a list of cell sizes.
func cellsOf(b *testing.B, list string) (cellsM []float64) {
	for _, s := range strings.Split(list, ",") {
		m, err := strconv.ParseFloat(s, 64)
		if err != nil {
			b.Fatal(err)
		}
		cellsM = append(cellsM, m)
	}
	return cellsM
}

func (n *shortNeeds) add(p *routes.Profile, want, got []routes.Descent) {
	for _, t := range want {
		for _, f := range got {
			if iou(t, f) < matchIoU {
				continue
			}
			for k, x := range [3][4]float64{{t.Steepest100Pct, f.Steepest100Pct, f.Steepest100ErrPct, f.Steepest100AtM}, {t.Steepest500Pct, f.Steepest500Pct, f.Steepest500ErrPct, f.Steepest500AtM},
				{t.Steepest1000Pct, f.Steepest1000Pct, f.Steepest1000ErrPct, f.Steepest1000AtM}} {
				windowM := [3]float64{100, 500, 1000}[k]
				toM := x[3] + windowM
				if f.Direction == routes.Backward {
					toM = x[3] - windowM
				}
				off, ofMeanPct := math.Abs(x[0]-x[1]), p.SteepestErrPct(x[3], toM, 0, 0)/p.Bound.SteepestShare[k]
				easedPct := math.Max(0, x[2]-p.SteepestErrPct(x[3], toM, p.InterpolatedM(x[3], toM), 0))
				n.share[k] = append(n.share[k], (off-easedPct)/ofMeanPct)
				n.holds[k].add(off <= x[2])
			}
		}
	}
}
