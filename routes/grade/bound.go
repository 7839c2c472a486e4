package grade

import (
	"math"

	"gradeline/routes"
)

// spansM are the lengths at which the bounds are calibrated.
var spansM = []float64{100, 200, 500, 1000, 2000, 4000}

// shortM are the lengths at which the bounds of short parts are calibrated.
var shortM = []float64{100, 500, 1000}

// boundRow holds 95 % half-widths at one cell size, for the prior noise.
type boundRow struct {
	cellM      float64
	spanPct    [6]float64 // of the mean grade over spansM
	elevationM float64    // of the height at a measured station
	endM       float64    // of a descent's end along the road
	endShare   float64    // of the mean's bound, for a descent's own ends
	shortShare [3]float64 // of the mean's bound, for short parts of shortM
	steepest   [3]float64 // the same for the steepest windows of shortM
}

// errorModel returns the bounds for a cell size, linear in log cell between the rows, in proportion
// to the estimated noise over its prior.
func errorModel(cellM, sigmaM float64) routes.ErrorModel {
	k := 0
	for k < len(boundRows)-2 && cellM > boundRows[k+1].cellM {
		k++
	}
	a, b := &boundRows[k], &boundRows[k+1]
	t := math.Log(max(cellM, 0.5)/a.cellM) / math.Log(b.cellM/a.cellM)
	t = max(0, min(1.5, t))
	scale := max(boundLeastScale, sigmaM/sigmaFromCell(cellM))
	mix := func(x, y float64) float64 { return math.Exp((1-t)*math.Log(x) + t*math.Log(y)) }
	m := routes.ErrorModel{EndM: mix(a.endM, b.endM) * scale, EndShare: mix(a.endShare, b.endShare), EaseShare: easeShare, EaseM: easeM(cellM), ElevationM: mix(a.elevationM, b.elevationM) * scale,
		SpanM: spansM}
	m.ShortM = shortM
	for i := range shortM {
		m.ShortShare = append(m.ShortShare, mix(a.shortShare[i], b.shortShare[i]))
		m.SteepestShare = append(m.SteepestShare, mix(a.steepest[i], b.steepest[i]))
	}
	for i := range spansM {
		m.SpanPct = append(m.SpanPct, mix(a.spanPct[i], b.spanPct[i])*scale)
	}
	m.FloorPct = m.SpanPct[len(m.SpanPct)-1] / 4
	return m
}

// boundLeastScale: smooth ground may still be wrong in long waves, so no bound is below that of the
// usual noise.
const boundLeastScale = 1.0

// boundRows are 95th percentiles of the error on 200 roads of package synth that were reserved for
// it (3,108 km, intervals every 20 m). The error is that beyond the effect of smoothing (ease.go),
// structures (flagged, found and missed) included. It is divided by the estimated over the prior
// noise, and by the widening over interpolated stretches. Real roads will do worse: the synthetic
// ground has no retaining walls or forests. The shares of short parts at 30 m are from the
// steepest windows of 52 roads with short steep parts (seeds 52001 to 52016 and 52101 to 52136), those
// of steepest windows from 80 such roads (synth.SteepTuning; BenchmarkShortShare in catalog/survey;
// routes/descent/NOTES.md). The bound of a height at 1 m is that of the crests and feet of 24 of
// these roads (71001 to 71024), 1.4 times that of ordinary roads.
var boundRows = []boundRow{
	{1, [6]float64{0.184, 0.105, 0.040, 0.021, 0.011, 0.005}, 0.25, 29, 0.5, [3]float64{1.6, 1.9, 1.8}, [3]float64{1.6, 1.9, 1.8}},
	{10, [6]float64{0.704, 0.550, 0.243, 0.119, 0.059, 0.030}, 1.235, 118, 0.58, [3]float64{1.15, 1.9, 1.25}, [3]float64{2.3, 2.6, 1.6}},
	{30, [6]float64{0.981, 0.850, 0.508, 0.268, 0.127, 0.065}, 2.910, 215, 0.75, [3]float64{1.65, 1.75, 1.2}, [3]float64{2.3, 1.9, 1.45}},
	{90, [6]float64{1.561, 1.422, 0.996, 0.601, 0.313, 0.156}, 6.722, 350, 0.7, [3]float64{2.05, 1.55, 1.1}, [3]float64{2.3, 1.8, 1.1}},
}
