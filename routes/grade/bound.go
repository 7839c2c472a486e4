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

const boundLeastScale = 0.3

var boundRows = []boundRow{
	{1, [6]float64{0.3, 0.3, 0.3, 0.3, 0.2, 0.1}, 0.5, 60},
	{10, [6]float64{1, 1, 0.8, 0.5, 0.3, 0.2}, 2, 150},
	{30, [6]float64{1.5, 1.5, 1, 0.8, 0.5, 0.3}, 5, 300},
	{90, [6]float64{2.2, 2, 1.8, 1.2, 0.8, 0.4}, 10, 500},
}
