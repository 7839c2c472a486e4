package stationing

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// A hole that was filled by interpolation has no noise and no relief of its own. Along a road over it
// the curvature of the ground across the road hardly changes, and the same is true beside the road.
// Lakes, plains and valley floors are as smooth, but level; so the change is compared as it is and as a
// share of the ground's slope, each with the road's other stretches. Our own limits; filled_test.go
// shows the effect of each, and terrain/raster/NOTES.md what they find.
const (
	filledBlockCells = 6       // cells of a block, whose median change is read …
	filledBlocks     = 3       // … and blocks of a window
	filledLeastCellM = 5.0     // finer cells are not judged: short patches are filled on purpose there
	filledUnitM      = 10.0    // least distance between the heights that are compared
	filledShare      = 0.4     // of the usual change, below which a window is smooth
	filledQuantile   = 0.25    // of the other windows: what is usual
	filledWithinM    = 15000.0 // distance from which they are taken
	filledOthers     = 8       // and their least number
	filledUsualM     = 0.10    // least usual change: below it, all of the ground is smooth
	filledFloorM     = 0.01    // added to each change
	filledFlat       = 1e-4    // added to each slope
	filledSideM      = 50.0    // distance of the lines beside the road …
	filledSideCells  = 3.0     // … and in cells
	filledSideShare  = 0.5     // of the change there before and after the stretch, below which it is smooth
	filledSideBlocks = 12      // blocks before and after it that are read …
	filledSideGap    = 2       // … beyond so many
	filledMostM      = 5000.0  // longer smooth ground is another kind of terrain
	filledSameCell   = 1.3     // ratio of cell sizes within which ground is comparable
	filledReachM     = 500.0   // on both sides within which the grade line is in doubt
)

// texture is how much the ground's curvature across a line changes along it: metres, and as a share of
// the ground's slope. NaN where unknown.
type texture struct{ changeM, ofSlope float64 }

// strip is heights on three parallel lines, the outer ones apartM from the middle one.
type strip struct {
	heightM             []float32
	width               int // heights of a station
	left, middle, right int
	apartM              float64
}

// filledStretches are the stretches of a road whose terrain looks interpolated.
func filledStretches(ctx context.Context, s terrain.Surface, g *routes.Ground) ([]routes.Doubt, error) {
	if g.SurfaceModel || len(g.OffsetM) < 3 { // meadows between forests are smooth
		return nil, nil
	}
	cellM := medianCellM(g)
	if !(cellM >= filledLeastCellM) {
		return nil, nil
	}
	f := &filledSearch{g: g, cellM: cellM, unitM: max(filledUnitM, cellM), floorM: filledFloorM}
	f.lag = max(1, int(math.Round(cellM/g.StepM)))
	f.per = int(math.Ceil(filledBlockCells * f.unitM / g.StepM))
	f.group = make([]int, g.Count()/f.per)
	f.useful(s)
	mid, across := len(g.OffsetM)/2, g.OffsetM[1]-g.OffsetM[0]
	k := max(1, min(mid, int(math.Round(f.unitM/across))))
	blocks := f.blocks(strip{g.SectionM, len(g.OffsetM), mid - k, mid, mid + k, float64(k) * across}, 0, g.Count())
	var out []routes.Doubt
	runs := f.smoothRuns(f.windows(blocks))
	for _, run := range runs {
		fromM, toM := float64(run.first)*g.StepM, min(g.LengthM, float64(run.last)*g.StepM)
		if toM-fromM > filledMostM {
			continue
		}
		isSmooth, err := f.isSmoothBeside(ctx, s, run, runs)
		if err != nil {
			return nil, err
		}
		if isSmooth {
			out = append(out, routes.Doubt{FromM: max(0, fromM-filledReachM), ToM: min(g.LengthM, toM+filledReachM),
				Why: fmt.Sprintf("from %.0f to %.0f m the terrain has no texture, unlike that around it: a hole seems to have been filled by interpolation; use a raster that was measured there", fromM, toM)})
		}
	}
	return out, nil
}

// medianCellM is the median cell size of the stations with heights; NaN without any.
func medianCellM(g *routes.Ground) float64 {
	var cells []float32
	every := max(1, g.Count()/500)
	for i := 0; i < g.Count(); i += every {
		if g.Miss[i] == terrain.Hit {
			cells = append(cells, g.CellM[i])
		}
	}
	if len(cells) == 0 {
		return math.NaN()
	}
	slices.Sort(cells)
	return float64(cells[len(cells)/2])
}

// filledSearch is the search along one road.
type filledSearch struct {
	g                    *routes.Ground
	cellM, unitM, floorM float64
	lag, per             int   // stations between heights that are compared, and of a block
	group                []int // mosaic of each block; -1 where blocks are not comparable
}

// useful sets the mosaic of each block, and the floor for heights that are stored in steps.
func (f *filledSearch) useful(s terrain.Surface) {
	patches, _ := s.(terrain.PatchSurface)
	peers, _ := s.(terrain.PeerSurface)
	last, mosaic := int16(-1), -1
	for b := range f.group {
		f.group[b] = -1
		i := b * f.per
		source := f.g.Source[i]
		if source < 0 {
			continue
		}
		if source != last {
			last, mosaic = source, int(source)
			if peers != nil {
				mosaic = peers.Mosaic(source)
			}
			if patches != nil {
				f.floorM = max(f.floorM, patches.HeightStepM(source)/2)
			}
		}
		if c := float64(f.g.CellM[i]); c <= filledSameCell*f.cellM && c >= f.cellM/filledSameCell {
			f.group[b] = mosaic
		}
	}
}

// blocks are the median textures of a strip's blocks, from one station to another; the strip begins at
// the first of them.
func (f *filledSearch) blocks(t strip, from, to int) []texture {
	out := make([]texture, (to-from)/f.per)
	changes, shares := make([]float64, 0, f.per), make([]float64, 0, f.per)
	alongM := 2 * float64(f.lag) * f.g.StepM
	for b := range out {
		changes, shares = changes[:0], shares[:0]
		for i := max(b*f.per, f.lag); i < min((b+1)*f.per, to-from-f.lag); i++ {
			behind, here, ahead := t.heightM[(i-f.lag)*t.width:], t.heightM[i*t.width:], t.heightM[(i+f.lag)*t.width:]
			b, a := float64(behind[t.middle]), float64(ahead[t.middle])
			change := math.Abs(float64(ahead[t.left])+float64(ahead[t.right])-2*a-(float64(behind[t.left])+float64(behind[t.right])-2*b)) + f.floorM
			along, across := (a-b)/alongM, float64(here[t.right]-here[t.left])/(2*t.apartM)
			if share := change / (math.Sqrt(along*along+across*across) + filledFlat); share == share {
				changes, shares = append(changes, change), append(shares, share)
			}
		}
		if out[b] = (texture{math.NaN(), math.NaN()}); 2*len(changes) >= f.per {
			slices.Sort(changes)
			slices.Sort(shares)
			out[b] = texture{changes[len(changes)/2], shares[len(shares)/2]}
		}
	}
	return out
}

// windows are the means of filledBlocks blocks in a row, within one mosaic.
func (f *filledSearch) windows(blocks []texture) []texture {
	out := make([]texture, max(0, min(len(blocks), len(f.group))-filledBlocks+1))
	for w := range out {
		for b := w; b < w+filledBlocks; b++ {
			if f.group[b] < 0 || f.group[b] != f.group[w] {
				out[w].changeM = math.NaN()
			}
			out[w].changeM += blocks[b].changeM / filledBlocks
			out[w].ofSlope += blocks[b].ofSlope / filledBlocks
		}
	}
	return out
}

// smoothRuns are the stretches of windows that are much smoother than the others of their mosaic.
func (f *filledSearch) smoothRuns(windows []texture) []levelRun {
	// Only windows that are smooth beside the rougher ones of all are compared with those around them.
	most := quantileOf(windows, .75, filledOthers)
	var out []levelRun
	for w := 0; w < len(windows); w++ {
		if !windows[w].isBelow(most, filledShare) {
			continue
		}
		usual := f.usual(windows, w)
		if !(usual.changeM >= filledUsualM) || !windows[w].isBelow(usual, filledShare) {
			continue
		}
		first := w // as far as the ground is smooth by the same measure
		for first > 0 && windows[first-1].isBelow(usual, filledShare) {
			first--
		}
		for w+1 < len(windows) && windows[w+1].isBelow(usual, filledShare) {
			w++
		}
		run := levelRun{first * f.per, (w + filledBlocks) * f.per}
		if n := len(out); n > 0 && run.first-out[n-1].last <= filledBlocks*f.per {
			out[n-1].last = run.last
		} else {
			out = append(out, run)
		}
	}
	return out
}

// usual is the texture of the other windows of a window's mosaic around it.
func (f *filledSearch) usual(windows []texture, w int) texture {
	reach := int(filledWithinM / (float64(f.per) * f.g.StepM))
	var others []texture
	for k := max(0, w-reach); k < min(len(windows), w+reach); k++ {
		if (k <= w-filledBlocks || k >= w+filledBlocks) && f.group[k] == f.group[w] {
			others = append(others, windows[k])
		}
	}
	return quantileOf(others, filledQuantile, filledOthers)
}

func (t texture) isBelow(usual texture, share float64) bool {
	return t.changeM < share*usual.changeM && t.ofSlope < share*usual.ofSlope
}

// quantileOf is a quantile of the known textures; NaN if there are fewer than the least.
func quantileOf(list []texture, quantile float64, least int) texture {
	var changes, shares []float64
	for _, t := range list {
		if t.changeM == t.changeM {
			changes, shares = append(changes, t.changeM), append(shares, t.ofSlope)
		}
	}
	if len(changes) < least {
		return texture{math.NaN(), math.NaN()}
	}
	slices.Sort(changes)
	slices.Sort(shares)
	at := int(quantile * float64(len(changes)))
	return texture{changes[at], shares[at]}
}

// isSmoothBeside reports whether the ground on both sides of a smooth stretch of the road is much
// smoother than that on both sides of the road before and after it: a wide roadbed is smooth too.
func (f *filledSearch) isSmoothBeside(ctx context.Context, s terrain.Surface, run levelRun, runs []levelRun) (bool, error) {
	gap, beyond := filledSideGap*f.per, (filledSideGap+filledSideBlocks)*f.per
	from, to := max(0, run.first-beyond), min(f.g.Count(), run.last+beyond)
	sideM := max(filledSideM, filledSideCells*f.cellM)
	var usual, here []texture
	for _, centreM := range []float64{-sideM, sideM} {
		heights, err := f.parallels(ctx, s, from, to, []float64{centreM - f.unitM, centreM, centreM + f.unitM})
		if err != nil {
			return false, err
		}
		for b, t := range f.blocks(strip{heights, 3, 0, 1, 2, f.unitM}, from, to) {
			first := from + b*f.per
			switch last := first + f.per; {
			case first >= run.first && last <= run.last && t.changeM == t.changeM:
				here = append(here, t)
			case (last <= run.first-gap || first >= run.last+gap) && !slices.ContainsFunc(runs, func(r levelRun) bool { return first < r.last && last > r.first }):
				usual = append(usual, t)
			}
		}
	}
	return quantileOf(here, .5, 1).isBelow(quantileOf(usual, .5, filledOthers), filledSideShare), nil
}

// parallels samples lines beside a stretch of the road, at offsets to its right.
func (f *filledSearch) parallels(ctx context.Context, s terrain.Surface, from, to int, offsetM []float64) ([]float32, error) {
	points := make([]terrain.Point, 0, (to-from)*len(offsetM))
	turn := max(1, int(math.Round(f.unitM/f.g.StepM)))
	for i := from; i < to; i++ {
		p := f.g.Points[i]
		m := metricAt(p[1])
		e, n := m.deltaM(f.at(i-turn), f.at(i+turn))
		if l := math.Hypot(e, n); l > 0 {
			e, n = e/l, n/l
		}
		for _, off := range offsetM {
			points = append(points, terrain.Point{LonDeg: turnDeg(p[0] + off*n/m.eastM), LatDeg: p[1] - off*e/m.northM})
		}
	}
	samples := make([]terrain.Sample, len(points))
	if err := s.Sample(ctx, points, samples); err != nil {
		return nil, err
	}
	out := make([]float32, len(samples))
	for i := range samples {
		if out[i] = float32(samples[i].ElevationM); samples[i].Miss != terrain.Hit {
			out[i] = float32(math.NaN())
		}
	}
	return out, nil
}

// at is a station's place; the route's ends for those beyond them.
func (f *filledSearch) at(i int) orb.Point { return f.g.Points[max(0, min(f.g.Count()-1, i))] }
