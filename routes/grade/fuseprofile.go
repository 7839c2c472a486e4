package grade

import (
	"math"
	"slices"

	"gradeline/routes"
)

// profile interpolates the fused heights at the stations, with their bounds.
func (f *fusion) profile() *routes.Profile {
	q := *f.p
	q.ElevationM, q.EaseM = f.moved(), nil
	raster := f.p.Bound
	q.Bound = f.bound(raster)
	q.Coarser = slices.Clone(f.p.Coarser)
	for _, u := range f.uncovered() {
		q.Coarser = append(q.Coarser, routes.Part{FromM: u[0], ToM: u[1], Bound: raster})
	}
	return &q
}

// The bounds in posterior standard deviations that hold in 95 of 100, on the 40 roads of
// synth.DriveTuning with the kinds of drives in DRIVES.md. Over short spans the prior on the shape
// rounds corners, and recorders that smooth heights round more: they are held in 93 of 100. Over long
// ones they are the normal distribution's, and a tenth more where 10 m cells count most.
var (
	fuseCover = [3][6]float64{ // over spansM, at cells of 10, 30 and 90 m
		{2.95, 2.6, 2.15, 1.96, 2.05, 2.2},
		{2.7, 2.6, 2.15, 1.96, 1.96, 1.96},
		{3.35, 2.6, 2.15, 1.96, 1.96, 1.96},
	}
	driftFromM     = 500.0 // spans that widen with the drift of the drives
	fuseCoverLevel = 2.5   // of heights
	fuseCoverScale = 2.2   // of their scale, which at 90 m cells is the raster's
)

// coverOf is the number of standard deviations for span j.
func coverOf(j int, cellM float64) float64 {
	t := max(0, min(2, math.Log(cellM/10)/math.Log(3)))
	k := min(1, int(t))
	return fuseCover[k][j] + (t-float64(k))*(fuseCover[k+1][j]-fuseCover[k][j])
}

// moved are the heights at the stations with the moves of the nodes.
func (f *fusion) moved() []float64 {
	out := slices.Clone(f.p.ElevationM)
	for i := range out {
		at := float64(i-f.first) / float64(f.every)
		k := int(math.Floor(at))
		switch {
		case math.IsNaN(out[i]):
		case at <= 0:
			out[i] += f.x[0] - f.start[0]
		case k >= len(f.x)-1:
			out[i] += f.x[len(f.x)-1] - f.start[len(f.x)-1]
		default:
			a, b := f.x[k]-f.start[k], f.x[k+1]-f.start[k+1]
			out[i] += a + (at-float64(k))*(b-a)
		}
	}
	return out
}

// bound is the raster's error model with the bounds of spans and height that the drives allow;
// never wider than the raster's own. The scale of the heights may be off on the complete road, by
// more in steep spans: the bound of a span takes that of the road's steepest, since descents are
// the steep ones.
func (f *fusion) bound(raster routes.ErrorModel) routes.ErrorModel {
	m := raster
	m.SpanPct = make([]float64, len(spansM))
	drift := f.driftFactor()
	for j := range spansM {
		cover := coverOf(j, f.p.CellM)
		if spansM[j] >= driftFromM {
			cover *= drift
		}
		m.SpanPct[j] = min(raster.SpanPct[j], math.Hypot(cover*f.sdPct[j], fuseCoverScale*f.sdScale*f.steepestPct(spansM[j])))
	}
	m.FloorPct = m.SpanPct[len(spansM)-1] / 4
	m.ElevationM = min(raster.ElevationM, fuseCoverLevel*f.sdM+driveFloorM)
	m.EndM = max(2*f.nodeM, raster.EndM*m.SpanPct[2]/raster.SpanPct[2])
	m.EaseShare, m.EndShare = 0, fuseEndShare
	return m
}

// uncovered are the stretches on which no drive has a height.
func (f *fusion) uncovered() (out [][2]float64) {
	const leastM = 200.0
	from := -1
	end := func(to int) {
		if from >= 0 && float64(to-from)*f.nodeM >= leastM {
			out = append(out, [2]float64{f.stationM(from), f.stationM(to)})
		}
		from = -1
	}
	for i := range f.x {
		has := false
		for k := range f.drives {
			has = has || !math.IsNaN(f.drives[k].heightM[i])
		}
		switch {
		case has:
			end(i)
		case from < 0:
			from = i
		}
	}
	end(len(f.x) - 1)
	return out
}
