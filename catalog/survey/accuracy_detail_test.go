package survey_test

import (
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"gradeline/routes"
	"gradeline/routes/descent"
)

// detail is what else is measured of matched descents, and of steep parts.
type detail struct {
	steepest         [3]window // 100, 500 and 1,000 m
	coverCrestFoot   cover
	partsTrue        int // of the true profile …
	partsFound       int // … and those that listed parts cover by half at least
	partsListed      int
	partsUnmatched   int // listed ones that true parts don't cover by half …
	partsGentle      int // … and those of them whose true mean is below the stated one by more than its bound
	coverParts       cover
	benchesListed    int
	coverBenchesMean cover
}

// window is the steepest window of one length: the true one less the stated one, points.
type window struct {
	errPct, statedErrPct []float64
	cover                cover
}

func (w *window) note(truePct, statedPct, errPct float64) {
	w.errPct = append(w.errPct, truePct-statedPct)
	w.statedErrPct = append(w.statedErrPct, errPct)
	w.cover.add(math.Abs(truePct-statedPct) <= errPct)
}

// matched compares a found descent with the true one that it is.
func (d *detail) matched(t, f routes.Descent) {
	d.steepest[0].note(t.Steepest100Pct, f.Steepest100Pct, f.Steepest100ErrPct)
	d.steepest[1].note(t.Steepest500Pct, f.Steepest500Pct, f.Steepest500ErrPct)
	d.steepest[2].note(t.Steepest1000Pct, f.Steepest1000Pct, f.Steepest1000ErrPct)
}

// heights compares a descent's crest and foot with the true heights at their stations,
// and its benches with the true means there.
func (d *detail) heights(f routes.Descent, truthM func(float64) float64) {
	d.coverCrestFoot.add(math.Abs(f.CrestElevationM-truthM(f.StartM)) <= f.CrestElevationErrM)
	d.coverCrestFoot.add(math.Abs(f.FootElevationM-truthM(f.EndM)) <= f.FootElevationErrM)
	for _, b := range f.Benches {
		d.benchesListed++
		truePct := 100 * (truthM(b.StartM) - truthM(b.EndM)) / b.LengthM
		d.coverBenchesMean.add(math.Abs(truePct-b.MeanDowngradePct) <= b.MeanDowngradeErrPct)
	}
}

func allSteepParts(f descent.Findings) []routes.SteepPart {
	var out []routes.SteepPart
	for _, d := range f.Descents {
		out = append(out, d.SteepParts...)
	}
	return append(out, f.SteepParts...)
}

// coveredM is how much of a part lies in others of the same direction.
func coveredM(p routes.SteepPart, others []routes.SteepPart) float64 {
	lo, hi := math.Min(p.StartM, p.EndM), math.Max(p.StartM, p.EndM)
	sum := 0.0
	for _, o := range others {
		sum += math.Max(0, math.Min(hi, math.Max(o.StartM, o.EndM))-math.Max(lo, math.Min(o.StartM, o.EndM)))
	}
	return sum
}

func (d *detail) steepParts(truths, listed []routes.SteepPart, truthM func(float64) float64) {
	for _, t := range truths {
		d.partsTrue++
		if coveredM(t, listed) >= t.LengthM/2 {
			d.partsFound++
		}
	}
	for _, f := range listed {
		d.partsListed++
		truePct := 100 * (truthM(f.StartM) - truthM(f.EndM)) / f.LengthM
		d.coverParts.add(math.Abs(truePct-f.MeanDowngradePct) <= f.MeanDowngradeErrPct)
		if coveredM(f, truths) < f.LengthM/2 {
			d.partsUnmatched++
			if truePct < f.MeanDowngradePct-f.MeanDowngradeErrPct {
				d.partsGentle++
			}
		}
	}
}

func (d *detail) add(o detail) {
	for i := range d.steepest {
		a, b := &d.steepest[i], &o.steepest[i]
		a.errPct = append(a.errPct, b.errPct...)
		a.statedErrPct = append(a.statedErrPct, b.statedErrPct...)
		a.cover.merge(b.cover)
	}
	d.coverCrestFoot.merge(o.coverCrestFoot)
	d.partsTrue += o.partsTrue
	d.partsFound += o.partsFound
	d.partsListed += o.partsListed
	d.partsUnmatched += o.partsUnmatched
	d.partsGentle += o.partsGentle
	d.coverParts.merge(o.coverParts)
	d.benchesListed += o.benchesListed
	d.coverBenchesMean.merge(o.coverBenchesMean)
}

// detailTable writes one line for each cell size.
func detailTable(w io.Writer, scores map[key]*score) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "cell\tsteepest 100 m: median err, p90, cover, ±\t500 m\t1,000 m\tsteep parts: true, found, listed, unmatched (too gentle)\tcover\tbenches: listed, cover\tcrest, foot cover\t")
	for _, cellM := range accuracyCells {
		s := scores[key{cellM, "ours"}]
		if s == nil {
			continue
		}
		d := &s.detail
		fmt.Fprintf(t, "%g\t", cellM)
		for _, k := range d.steepest {
			fmt.Fprintf(t, "%.2f %.2f %.3f %.2f\t", quantile(k.errPct, .5), absQuantile(k.errPct, .9), k.cover.share(), quantile(k.statedErrPct, .5))
		}
		fmt.Fprintf(t, "%d %d %d %d (%d)\t%.3f\t%d %.3f\t%.3f of %d\t\n", d.partsTrue, d.partsFound, d.partsListed, d.partsUnmatched, d.partsGentle, d.coverParts.share(),
			d.benchesListed, d.coverBenchesMean.share(), d.coverCrestFoot.share(), d.coverCrestFoot.all)
	}
	t.Flush()
}
