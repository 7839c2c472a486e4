package survey_test

import (
	"fmt"
	"io"
	"math"
	"sort"
	"text/tabwriter"
)

func rms(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x * x
	}
	return math.Sqrt(s / float64(len(v)))
}

func mean(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}

func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	w := append([]float64(nil), v...)
	sort.Float64s(w)
	return w[min(len(w)-1, int(q*float64(len(w))))]
}

func ratio(a, b int) float64 { return float64(a) / float64(b) }

func (c cover) share() float64 { return ratio(c.in, c.all) }

func (s *score) recall() float64    { return ratio(s.hits, s.truths) }
func (s *score) precision() float64 { return ratio(s.hits, s.found) }
func (s *score) f1() float64        { return 2 * float64(s.hits) / float64(s.truths+s.found) }
func (s *score) neutralF1() float64 {
	return 2 * float64(s.hits) / float64(s.truths-s.truthsNeutral+s.found-s.foundNeutral)
}

// goal is what design says of a cell size: never worse than, and aim.
type goal struct{ rmsePct, f1 float64 }

var (
	neverWorse = map[float64]goal{1: {0.28, 0.95}, 10: {0.50, 0.90}, 30: {0.75, 0.82}, 90: {1.05, 0.77}}
	aims       = map[float64]goal{1: {0.17, 0.985}, 10: {0.38, 0.95}, 30: {0.65, 0.88}, 90: {0.95, 0.82}}
)

// leastCover is the least share of stated 95 % bounds that hold.
const leastCover = 0.90

// table writes one line a cell size and method.
func table(w io.Writer, scores map[key]*score, use []method) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "cell\tmethod\tkm\tn (severe)\tRMSE\tout\tF1\trec\tprec\tneutral F1\tsevere rec/prec\tFA/100km\tmean err\tlen err\tdrop err\tend p50/p90 m\t"+
		"cover mean\tstated\tends\telev\t± mean\t± end m\telev p50/p95 m\tms/km sample+recover\tnever worse, aim\t")
	for _, cellM := range accuracyCells {
		for _, m := range use {
			s := scores[key{cellM, m.name}]
			if s == nil {
				continue
			}
			nw, aim := neverWorse[cellM], aims[cellM]
			fmt.Fprintf(t, "%g\t%s\t%.0f\t%d (%d)\t%.2f\t%.2f\t%.3f\t%.3f\t%.3f\t%.3f\t%.2f/%.2f\t%.2f\t%.3f\t%.1f%%\t%.1f%%\t%.0f/%.0f\t",
				cellM, m.name, s.km, s.truths, s.severe, rms(s.gradeAll), rms(s.gradeOut), s.f1(), s.recall(), s.precision(), s.neutralF1(),
				ratio(s.severeHits, s.severe), ratio(s.severeTrueHits, s.severeFound), float64(s.falseAlarms)/(2*s.km)*100,
				mean(s.meanErr), 100*mean(s.lengthErr), 100*mean(s.dropErr), quantile(s.endErrM, 0.5), quantile(s.endErrM, 0.9))
			if m.name != "raw" && m.name != "window" {
				fmt.Fprintf(t, "%.3f\t%.3f\t%.3f\t%.3f\t%.2f\t%.0f\t", s.coverMatched.share(), s.coverStated.share(), s.coverEnds.share(), s.coverElev.share(),
					quantile(s.statedMeanPct, 0.5), quantile(s.statedEndM, 0.5))
			} else {
				fmt.Fprint(t, "-\t-\t-\t-\t-\t-\t")
			}
			fmt.Fprintf(t, "%.2f/%.2f\t%.2f+%.2f\t%.2f %.2f, %.2f %.3f\t\n", quantile(s.elevErrM, 0.5), quantile(s.elevErrM, 0.95),
				1000*s.sampleS/s.km, 1000*s.recoverS/s.km, nw.rmsePct, nw.f1, aim.rmsePct, aim.f1)
		}
	}
	t.Flush()
	for _, cellM := range accuracyCells {
		if s := scores[key{cellM, "ours"}]; s != nil {
			fmt.Fprintf(w, "ours at %g m: %d of the routes unreliable, %.1f of %.0f km without ground, grade errors p50/p90/p99 %.2f/%.2f/%.2f points\n",
				cellM, s.unreliable, s.missingKM, s.km, absQuantile(s.gradeAll, 0.5), absQuantile(s.gradeAll, 0.9), absQuantile(s.gradeAll, 0.99))
		}
	}
	fmt.Fprintln(w, "RMSE and errors of grades in points of per cent over 100 m; out: outside structures and voids; mean err, ± mean: points.")
	fmt.Fprintln(w, "cover: share of stated 95 % bounds that hold: of the mean against the matched true descent, of the mean over the stated interval, of end points, of heights.")
}

func absQuantile(v []float64, q float64) float64 {
	w := make([]float64, len(v))
	for i, x := range v {
		w[i] = math.Abs(x)
	}
	return quantile(w, q)
}
