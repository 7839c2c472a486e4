package grade

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gradeline/routes"
)

// Drive is one pass of a recorded drive over a road, with heights from a barometer.
type Drive struct {
	StationM   []float64 // of each fix, along the route
	HeightM    []float64 // a constant error of the complete drive has no effect
	SpeedMPS   []float64 // NaN where unknown
	TempC      []float64 // of the air outside, NaN where unknown; nil where it was not recorded
	IsBackward bool
}

// DriveFit says whether a drive was used, and how well it fits.
type DriveFit struct {
	IsUsed     bool
	Why        string // why it was not used, in plain words
	FromM, ToM float64
	MisfitRMSM float64 // of its heights from the grade line, without drift and scale
	ScalePct   float64 // by which its heights are too large
	LagS       float64
	HasAirTemp bool   // its temperature narrows its height scale
	AirWhy     string // why a recorded temperature was not used
}

// The errors of a barometer in a vehicle, from recordings of bicycle computers and wrist units on
// roads that were ridden twice; none was made in a truck's cab.
const (
	driveNodeM       = 20.0
	driveWhiteM      = 0.3
	driveDriftM      = 4.0 // random walk, per 10 km
	driveHuber       = 2.0 // in standard deviations
	driveScaleSD     = 0.02
	driveCommonScale = 0.03 // common to all drives: weather of a season
	drivePortSD      = 0.05 // metres of height for each metre of v²/2g
	driveLagSD       = 1.5
	driveMostScale   = 0.12 // of a barometer in any weather: ±20 °C are 7 %
	driveMostLagS    = 8.0
	driveMostMisfitM = 0.75 // good units .15–.5 m, a bad one .9 and more
	DriveLeastM      = 500.0
	driveMostUsed    = 12 // the cost grows with the square; more add little
	driveMostLeft    = 12 // drives that do not fit; after that no other is tried
	driveFloorM      = 0.05
	fuseEndShare     = 1.0 // of the mean's bound, for a descent's own ends

	rasterWhiteShare = 0.3   // of the raster's variance that is white
	shapeGrade       = 150.0 // cost of a unit of grade change
	shapeJerkM       = 50.0
	shapeLeast       = 2e-4 // grade change below which the cost is quadratic
	leastReliefM     = 1.0  // standard deviation of the heights below which a road has no scale
	fusePasses       = 9
	globalsEvery     = 2 // passes; between them scale, port and lag stay
	learnAfter       = 2
	fuseStopM        = 0.01
	fuseSamples      = 24
	drawsAtOnce      = 8 // of them; memory grows with it
)

// Fuse adds the heights of recorded drives to a grade line that was recovered from a
// raster, and states the resulting bounds. Drives that contradict the rest, or that hold
// too little, are left out with the reason. The method is sparse least squares over nodes
// 20 m apart: heights, the raster's correlated error, a random-walk drift for each drive,
// and for each its scale, static-port error and lag. Stretches without a drive keep the
// raster's bounds. p is not changed.
func Fuse(ctx context.Context, p *routes.Profile, drives []Drive) (*routes.Profile, []DriveFit, error) {
	f := newFusion(p)
	fits, err := f.solveWithSound(ctx, drives)
	if err != nil {
		return nil, nil, err
	}
	if len(f.drives) == 0 {
		return p, fits, nil
	}
	return f.profile(), fits, nil
}

// solveWithSound solves again and again, each time without the drive that fits worst, until all
// that are left fit. Where there are more drives than are used, one that is left out is replaced.
func (f *fusion) solveWithSound(ctx context.Context, drives []Drive) ([]DriveFit, error) {
	fits, waiting := make([]DriveFit, len(drives)), f.byUse(drives)
	left := 0
	for {
		for len(waiting) > 0 && len(f.drives) < driveMostUsed && left < driveMostLeft {
			k := waiting[0]
			fits[k].Why, waiting = f.addDrive(k, &drives[k], &fits[k]), waiting[1:]
		}
		if len(f.drives) == 0 {
			break
		}
		if err := f.solve(ctx); err != nil {
			return nil, err
		}
		if !f.dropWorst(fits) {
			break
		}
		left++
	}
	for _, k := range waiting {
		if fits[k].Why = fmt.Sprintf("%d drives are used already", driveMostUsed); left >= driveMostLeft {
			fits[k].Why = fmt.Sprintf("%d other drives do not fit this road; no further one was tried", left)
		}
	}
	for _, d := range f.drives {
		fit := &fits[d.number]
		fit.IsUsed, fit.MisfitRMSM, fit.ScalePct, fit.LagS = true, d.misfitM, 100*d.global[0], d.global[2]
	}
	return fits, nil
}

// byUse are the numbers of the drives in the order in which they are used: where there are too many,
// those that cover most of the road first, of both directions in turn.
func (f *fusion) byUse(drives []Drive) []int {
	var ways [2][]int
	covers := make([]int, len(drives))
	order := make([]int, len(drives))
	for k := range drives {
		order[k], covers[k] = k, f.nodesUnder(&drives[k])
		way := 0
		if drives[k].IsBackward {
			way = 1
		}
		ways[way] = append(ways[way], k)
	}
	if len(drives) <= driveMostUsed {
		return order
	}
	for _, list := range ways {
		slices.SortStableFunc(list, func(a, b int) int { return covers[b] - covers[a] })
	}
	for i := range order {
		from := i % 2
		if len(ways[from]) == 0 {
			from = 1 - from
		}
		order[i], ways[from] = ways[from][0], ways[from][1:]
	}
	return order
}

// fusion is the least squares of one road.
type fusion struct {
	p       *routes.Profile
	nodeM   float64
	first   int       // station index of the first node
	every   int       // stations a node
	x       []float64 // heights at the nodes
	start   []float64 // those of the raster alone
	rasterM []float64 // raster's mean height about a node; NaN where there is none
	sigmaM  float64
	tauM    float64
	drives  []fusedDrive
	isAlone bool // there is no raster
	sys     fuseSystem
	sdPct   []float64 // of the mean grade over spansM, beyond the scale of the heights
	sdScale float64   // of that scale
	sdM     float64   // of the height
}

// fusedDrive is a drive averaged at the nodes.
type fusedDrive struct {
	number     int
	isBackward bool
	heightM    []float64 // NaN where it has no fix
	speedMPS   []float64
	weight     []float64
	driftM     []float64
	global     [3]float64 // scale, static port, lag
	noise      float64    // its variance over that of an ordinary unit
	misfitM    float64
	points     int
	air        driveAir
}

// newFusion averages a recovered profile at the nodes.
func newFusion(p *routes.Profile) *fusion {
	f := &fusion{p: p, every: max(1, int(math.Round(driveNodeM/p.StepM)))}
	f.nodeM = float64(f.every) * p.StepM
	n := len(p.ElevationM)
	for f.first < n && math.IsNaN(p.ElevationM[f.first]) {
		f.first++
	}
	f.sigmaM, f.tauM = p.Noise.SigmaM, p.Noise.TauM
	for i := f.first; i < n && !math.IsNaN(p.ElevationM[i]); i += f.every {
		f.start = append(f.start, p.ElevationM[i])
		f.rasterM = append(f.rasterM, f.rasterNear(i))
	}
	f.x = slices.Clone(f.start)
	return f
}

// rasterNear is the mean of the ground around a station that has ground.
func (f *fusion) rasterNear(i int) float64 {
	sum, n := 0.0, 0
	for j := max(0, i-f.every/2); j <= min(len(f.p.GroundM)-1, i+f.every/2); j++ {
		if f.p.State[j] == routes.Measured && !math.IsNaN(f.p.GroundM[j]) {
			sum, n = sum+f.p.GroundM[j], n+1
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return sum / float64(n)
}

// nodeAt is the number of the nearest node; it may be beyond the ends.
func (f *fusion) nodeAt(stationM float64) int {
	return int(math.Round((stationM - f.stationM(0)) / f.nodeM))
}

// nodesUnder counts the nodes from the first to the last height of a drive.
func (f *fusion) nodesUnder(d *Drive) int {
	lo, hi := len(f.x), -1
	for i, s := range d.StationM {
		if k := f.nodeAt(s); k >= 0 && k < len(f.x) && !math.IsNaN(d.HeightM[i]) {
			lo, hi = min(lo, k), max(hi, k)
		}
	}
	return max(0, hi-lo+1)
}

func (f *fusion) stationM(i int) float64 { return f.p.StationM(f.first + i*f.every) }

// addDrive averages a drive around the nodes, or says why it cannot be used.
func (f *fusion) addDrive(number int, d *Drive, fit *DriveFit) (why string) {
	n := len(f.x)
	if n < 10 {
		return "the grade line is too short"
	}
	g := fusedDrive{number: number, noise: 1, isBackward: d.IsBackward, heightM: make([]float64, n), speedMPS: make([]float64, n), weight: make([]float64, n), driftM: make([]float64, n)}
	count := make([]int, n)
	fit.FromM, fit.ToM = math.Inf(1), math.Inf(-1)
	for i, s := range d.StationM {
		k := f.nodeAt(s)
		if k < 0 || k >= n || math.IsNaN(d.HeightM[i]) {
			continue
		}
		fit.FromM, fit.ToM = min(fit.FromM, s), max(fit.ToM, s)
		g.heightM[k] += d.HeightM[i]
		if v := d.SpeedMPS[i]; !math.IsNaN(v) {
			g.speedMPS[k] += v
		}
		count[k]++
	}
	for k, c := range count {
		if c == 0 {
			g.heightM[k] = math.NaN()
			continue
		}
		g.points++
		g.heightM[k], g.speedMPS[k], g.weight[k] = g.heightM[k]/float64(c), g.speedMPS[k]/float64(c), 1
	}
	switch {
	case g.points == 0:
		fit.FromM, fit.ToM = 0, 0
		return "it has no height on this road"
	case float64(g.points)*f.nodeM < DriveLeastM/2 || fit.ToM-fit.FromM < DriveLeastM:
		return fmt.Sprintf("its heights cover under %.0f m of this road", DriveLeastM)
	}
	g.air, fit.AirWhy = airOf(d)
	fit.HasAirTemp = g.air.isUsed
	f.drives = append(f.drives, g)
	return ""
}

// dropWorst leaves out the drive that fits worst, if it fits badly; false if none does.
func (f *fusion) dropWorst(fits []DriveFit) bool {
	worst, worstBy := -1, 1.0
	for k := range f.drives {
		if by := f.drives[k].badness(); by > worstBy {
			worst, worstBy = k, by
		}
	}
	if worst < 0 {
		return false
	}
	d := &f.drives[worst]
	fits[d.number].Why, fits[d.number].MisfitRMSM = d.fault(), d.misfitM
	f.drives = slices.Delete(f.drives, worst, worst+1)
	f.x = slices.Clone(f.start)
	for k := range f.drives {
		f.drives[k].global, f.drives[k].noise = [3]float64{}, 1
		for i := range f.drives[k].driftM {
			f.drives[k].driftM[i] = 0
		}
	}
	return true
}

// badness is over 1 where a drive differs from this road by more than a sound barometer would.
func (d *fusedDrive) badness() float64 {
	return max(d.misfitM/driveMostMisfitM, math.Abs(d.global[0])/driveMostScale, math.Abs(d.global[2])/driveMostLagS)
}

// fault says in words what is wrong with a bad drive.
func (d *fusedDrive) fault() string {
	switch by := d.badness(); by {
	case math.Abs(d.global[0]) / driveMostScale:
		return fmt.Sprintf("its heights rise and fall %+.0f %% more than the road; a sound barometer is within %.0f %%", 100*d.global[0], 100*driveMostScale)
	case math.Abs(d.global[2]) / driveMostLagS:
		return fmt.Sprintf("its heights come %.0f s late; a sound barometer is at most %.0f s late", d.global[2], driveMostLagS)
	}
	return fmt.Sprintf("its heights differ from the road by %.1f m beyond drift and scale; a sound barometer differs by at most %.2f m", d.misfitM, driveMostMisfitM)
}
