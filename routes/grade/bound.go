package grade

import (
	"math"

	"gradeline/routes"
)

// spansM are the lengths at which the bounds are calibrated.
var spansM = []float64{100, 200, 500, 1000, 2000, 4000}

// boundRow holds 95 % half-widths at one cell size, for the prior noise.
type boundRow struct {
	cellM      float64
	spanPct    [6]float64 // of the mean grade over spansM
	elevationM float64    // of the height at a measured station
	endM       float64    // of a descent's end along the road
}

// errorModel gives the bounds for a cell size, between the rows linear in log
// cell, in proportion to the estimated noise over its prior.
func errorModel(cellM, sigmaM float64) routes.ErrorModel {
	k := 0
	for k < len(boundRows)-2 && cellM > boundRows[k+1].cellM {
		k++
	}
	a, b := &boundRows[k], &boundRows[k+1]
	t := math.Log(math.Max(cellM, 0.5)/a.cellM) / math.Log(b.cellM/a.cellM)
	t = math.Max(0, math.Min(1.5, t))
	scale := math.Max(boundLeastScale, sigmaM/sigmaFromCell(cellM))
	mix := func(x, y float64) float64 { return math.Exp((1-t)*math.Log(x) + t*math.Log(y)) }
	m := routes.ErrorModel{EndM: mix(a.endM, b.endM) * scale, ElevationM: mix(a.elevationM, b.elevationM) * scale,
		SpanM: spansM}
	for i := range spansM {
		m.SpanPct = append(m.SpanPct, mix(a.spanPct[i], b.spanPct[i])*scale)
	}
	m.FloorPct = m.SpanPct[len(m.SpanPct)-1] / 4
	return m
}

// boundLeastScale: smooth ground may still be wrong in long waves, so no bound goes
// below that of the usual noise.
const boundLeastScale = 1.0

// boundRows are the 95th percentiles of the error, structures (flagged, found
// and missed) included, divided by estimated over prior noise, on the tuning
// roads of package synth (24 roads, 364 km, intervals every 20 m). Real roads
// will do worse: the synthetic ground knows no retaining walls or forests.
// endM covers .964/.962/.971/.978 of the end points there.
var boundRows = []boundRow{
	{1, [6]float64{0.232, 0.147, 0.062, 0.034, 0.018, 0.008}, 0.182, 60},
	{10, [6]float64{0.841, 0.676, 0.340, 0.177, 0.087, 0.045}, 1.24, 150},
	{30, [6]float64{1.548, 1.390, 0.922, 0.518, 0.260, 0.127}, 3.52, 240},
	{90, [6]float64{1.957, 1.796, 1.338, 0.857, 0.444, 0.227}, 6.60, 370},
}
