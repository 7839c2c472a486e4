package grade

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gradeline/routes"
	"gradeline/terrain"
)

// A grade line from drives alone.
const (
	aloneLeast     = 3     // drives; of two that differ nobody knows which is wrong
	aloneSmoothM   = 200.0 // over which the start is averaged
	aloneLevelM    = 300.0 // of the heights: the weather of a day moves a barometer by a hundred metres
	aloneGapM      = 200.0 // without a drive; longer ones are not bridged
	aloneRoughPart = 20.0  // bounds before the drives, in those of 90 m cells

	aloneCommonScale = 1e-4 // it is not solved for, but added to the bounds
)

// FromDrives recovers a grade line from recorded drives alone, where there is no terrain. stations
// is the route's line with its stations, without heights. It needs three drives, with both
// directions among them: a recorder's lag is a false grade that only the other direction cancels.
// The height scale that all drives of a season share stays unknown, so the bound of a mean is some
// 8 % of the grade. Heights are those of the barometers: their level is unknown by hundreds of
// metres. Stations that no drive passes stay unknown.
func FromDrives(ctx context.Context, stations *routes.Profile, drives []Drive) (*routes.Profile, []DriveFit, error) {
	rough := roughFromDrives(stations, drives)
	if !slices.Contains(rough.State, routes.Measured) {
		return nil, make([]DriveFit, len(drives)), &routes.Fault{Kind: terrain.ErrOutside, What: "no drive has a height on it", Fix: "name drives of this road"}
	}
	f := newFusion(rough)
	f.isAlone = true
	fits, err := f.solveWithSound(ctx, drives)
	if err != nil {
		return nil, fits, err
	}
	if err := f.enoughAlone(); err != nil {
		return nil, fits, err
	}
	q := f.profile()
	q.Bound.ElevationM = aloneLevelM
	widenByScale(q, f.commonScale())
	for i := range q.ElevationM {
		if math.IsNaN(q.ElevationM[i]) {
			q.MissingM += q.StepM
		}
	}
	return q, fits, nil
}

// roughFromDrives is the start of a grade line: the mean of the drives over the first part of the
// road that they cover without a gap.
func roughFromDrives(stations *routes.Profile, drives []Drive) *routes.Profile {
	rough := *stations
	n := len(stations.Points)
	rough.CellM, rough.MissingM, rough.Reliable = 0, 0, true
	rough.Noise = routes.Noise{SigmaM: 1000, TauM: 1000}
	rough.GroundM, rough.ElevationM, rough.State = make([]float64, n), startFromDrives(stations, drives), make([]routes.StationState, n)
	rough.Bound = errorModel(90, aloneRoughPart*sigmaFromCell(90))
	hasBegun, hasEnded := false, false
	for i, h := range rough.ElevationM {
		isKnown := !math.IsNaN(h)
		hasEnded = hasEnded || hasBegun && !isKnown
		hasBegun = hasBegun || isKnown
		rough.GroundM[i], rough.State[i] = math.NaN(), routes.Measured
		if !isKnown || hasEnded {
			rough.ElevationM[i], rough.State[i] = math.NaN(), routes.OutsideTerrain
		}
	}
	return &rough
}

// enoughAlone refuses drives that are too few, or all in one direction.
func (f *fusion) enoughAlone() error {
	forward, backward := 0, 0
	for i := range f.drives {
		if f.drives[i].isBackward {
			backward++
		} else {
			forward++
		}
	}
	if forward+backward >= aloneLeast && forward > 0 && backward > 0 {
		return nil
	}
	return &routes.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%d drives forward and %d backward can be used: a grade line without terrain needs %d, in both directions", forward, backward, aloneLeast), Fix: "record more drives, or add --terrain"}
}

// commonScale is the standard deviation of the height scale that the drives share: the mean of theirs,
// since its errors are the same in all.
func (f *fusion) commonScale() float64 {
	sum := 0.0
	for k := range f.drives {
		sum += f.drives[k].air.sd
	}
	return sum / float64(len(f.drives))
}

// widenByScale adds to the bounds the height scale that all drives share. It is a share of the
// grade; a span takes that of the road's steepest half span, since lengths between two are
// interpolated.
func widenByScale(q *routes.Profile, commonScale float64) {
	for j, spanM := range spansM {
		most, cells := 0.0, max(1, int(math.Round(spanM/2/q.StepM)))
		for i := 0; i < len(q.ElevationM)-1; i++ {
			k := min(i+cells, len(q.ElevationM)-1)
			if g := math.Abs(q.ElevationM[k]-q.ElevationM[i]) / (float64(k-i) * q.StepM) * 100; g > most && (k == i+cells || i == 0) {
				most = g
			}
		}
		scalePct := 1.96 * commonScale * most
		q.Bound.SpanPct[j] = math.Hypot(q.Bound.SpanPct[j], scalePct)
		q.Bound.FloorPct = max(q.Bound.FloorPct, scalePct) // it does not shrink with length
	}
}

// startFromDrives averages the drives, each shifted so that it agrees with the first ones; NaN where
// no drive passes, and short gaps bridged.
func startFromDrives(p *routes.Profile, drives []Drive) []float64 {
	n := len(p.Points)
	sum, count := make([]float64, n), make([]float64, n)
	for k := range drives {
		heights := stationHeights(p, &drives[k])
		var differences []float64
		for i, h := range heights {
			if count[i] > 0 && !math.IsNaN(h) {
				differences = append(differences, h-sum[i]/count[i])
			}
		}
		shiftM := 0.0
		if len(differences) > 0 {
			slices.Sort(differences)
			shiftM = differences[len(differences)/2]
		}
		for i, h := range heights {
			if !math.IsNaN(h) {
				sum[i], count[i] = sum[i]+h-shiftM, count[i]+1
			}
		}
	}
	half := max(1, int(aloneSmoothM/2/p.StepM))
	out := make([]float64, n)
	for i := range out {
		total, of := 0.0, 0.0
		for j := max(0, i-half); j <= min(n-1, i+half); j++ {
			total, of = total+sum[j], of+count[j]
		}
		if out[i] = math.NaN(); of > 0 {
			out[i] = total / of
		}
	}
	return out
}

// stationHeights are a drive's heights at the stations, straight between its fixes; NaN beyond them
// and in long gaps.
func stationHeights(p *routes.Profile, d *Drive) []float64 {
	order := make([]int, len(d.StationM))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return int(math.Copysign(1, d.StationM[a]-d.StationM[b])) })
	out, k := make([]float64, len(p.Points)), 0
	for i := range out {
		s := p.StationM(i)
		for k+1 < len(order) && d.StationM[order[k+1]] < s {
			k++
		}
		out[i] = math.NaN()
		if k+1 >= len(order) {
			continue
		}
		a, b := order[k], order[k+1]
		if span := d.StationM[b] - d.StationM[a]; s >= d.StationM[a] && s <= d.StationM[b] && span > 0 && span <= aloneGapM {
			out[i] = d.HeightM[a] + (s-d.StationM[a])/span*(d.HeightM[b]-d.HeightM[a])
		}
	}
	return out
}
