package debrief

import (
	"fmt"
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/routes/recorded"
	"gradeline/terrain"
)

// Speeds of a drive with their error. A recorded speed is used where there is one;
// otherwise the speed is the slope of a straight line through the places in a window.
// 95 % half-widths are twice the scatter of neighbouring points, and never below a
// floor (our own bounds, no source).
const (
	recordedFloorMPS = 0.15
	placesFloorMPS   = 0.3
	slowSpeedMPS     = 0.35 // three times .12: what recorded speeds are off by for a while
	goodEnoughMPS    = 0.4  // the window grows until the bound is below this
	speedShareOff    = 0.1  // recorded speeds that differ from those of the places by more than this share are in another unit
)

var windowsS = []float64{4, 6, 10, 16, 24}

// driven is one pass with speeds.
type driven struct {
	pass       []recorded.Place
	speedMPS   []float64
	errMPS     []float64
	isRecorded bool
	sampleS    float64 // median time between points
	gapS       float64 // a longer time without a point is a gap
	scatterM   float64 // of places along the road, standard deviation
	windowS    float64 // over which a speed is a mean; 0 where recorded
}

// provedErrMPS is the excess over a limit from which an excess is reported. A drive has hundreds of
// points, and by chance some are beyond a 95 % bound, so the bound is doubled. A recorder's own
// speeds can be wrong for minutes by an amount that their scatter does not show.
func provedErrMPS(halfMPS float64, isRecorded bool) float64 {
	if isRecorded {
		return 2*halfMPS + slowSpeedMPS
	}
	return 2 * halfMPS
}

func speedsOf(pass []recorded.Place, file string) (*driven, error) {
	v := &driven{pass: pass, speedMPS: make([]float64, len(pass)), errMPS: make([]float64, len(pass))}
	known := 0
	for i := range pass {
		if !math.IsNaN(pass[i].Fix.SpeedMPS) {
			known++
		}
	}
	v.sampleS, v.gapS = medianStepS(pass), gapOf(pass)
	v.scatterM = scatter(pass, 5, func(p *recorded.Place) float64 { return p.DistanceM }) // 5 m: a plain receiver (common practice, no source)
	if v.isRecorded = float64(known) >= 0.9*float64(len(pass)); v.isRecorded {
		return v, v.fromRecorder(file)
	}
	v.fromPlaces()
	return v, nil
}

// fromRecorder uses the recorded speeds after a check against the places.
func (v *driven) fromRecorder(file string) error {
	half := math.Max(recordedFloorMPS, 2*scatter(v.pass, 1, func(p *recorded.Place) float64 { return p.Fix.SpeedMPS }))
	half = math.Max(half, speedStepMPS(v.pass)/2)
	for i := range v.pass {
		v.speedMPS[i], v.errMPS[i] = v.pass[i].Fix.SpeedMPS, half
	}
	bySpeed, byPlace := v.waysM()
	if byPlace > leastPassM && math.Abs(bySpeed/byPlace-1) > speedShareOff {
		return &catalog.Fault{Kind: terrain.ErrInput, File: file, What: fmt.Sprintf("its speeds are %.2f times what its places and times give", bySpeed/byPlace),
			Fix: "check the unit of the speed column (1.61 is mph written as km/h), or leave the speeds out"}
	}
	own := func(i int) float64 { return v.pass[i].Fix.SpeedMPS }
	for i := range v.speedMPS { // a point without a speed takes those of the nearest that have one
		if !math.IsNaN(own(i)) {
			continue
		}
		a, b := i, i
		for a > 0 && math.IsNaN(own(a)) {
			a--
		}
		for b < len(v.speedMPS)-1 && math.IsNaN(own(b)) {
			b++
		}
		lo, hi := own(a), own(b)
		if math.IsNaN(lo) {
			lo = hi
		} else if math.IsNaN(hi) {
			hi = lo
		}
		v.speedMPS[i], v.errMPS[i] = (lo+hi)/2, half+math.Abs(hi-lo)/2
	}
	return nil
}

// waysM is the way along the road by the speeds and by the places. The places count by the net
// distance over blocks: from point to point their scatter would make the way longer, most of all
// while standing.
func (v *driven) waysM() (bySpeedM, byPlaceM float64) {
	const blockM, leastM = 200.0, 100.0
	begin, way := 0, 0.0
	end := func(i, next int) {
		if net := math.Abs(v.pass[i].DistanceM - v.pass[begin].DistanceM); math.Max(net, way) >= leastM {
			bySpeedM, byPlaceM = bySpeedM+way, byPlaceM+net
		}
		begin, way = next, 0
	}
	for i := 1; i < len(v.pass); i++ {
		dt := v.pass[i].TimeS - v.pass[i-1].TimeS
		if dt > v.gapS || math.IsNaN(v.speedMPS[i]+v.speedMPS[i-1]) {
			end(i-1, i)
			continue
		}
		way += dt * (v.speedMPS[i] + v.speedMPS[i-1]) / 2
		// By the speeds, not by the places, so that no block ends at a place that strays forward;
		// blocks are four times as long where the speeds are far too low.
		if net := math.Abs(v.pass[i].DistanceM - v.pass[begin].DistanceM); way >= blockM || net >= 4*blockM {
			end(i, i)
		}
	}
	end(len(v.pass)-1, 0)
	return bySpeedM, byPlaceM
}

// speedStepMPS is the least difference of two recorded speeds: a recorder that writes
// whole km/h or mph has no finer value. 0 where it is over 5 km/h, which is too large
// for a recorder's step.
func speedStepMPS(pass []recorded.Place) float64 {
	var all []float64
	for i := range pass {
		if u := pass[i].Fix.SpeedMPS; !math.IsNaN(u) {
			all = append(all, u)
		}
	}
	slices.Sort(all)
	step := math.Inf(1)
	for i := 1; i < len(all); i++ {
		if d := all[i] - all[i-1]; d > 1e-9 { // km/h converted to m/s and back
			step = math.Min(step, d)
		}
	}
	if step > 5*catalog.KilometrePerHourMPS {
		return 0
	}
	return step
}

// fromPlaces works out speeds from places, over the shortest sufficient window.
func (v *driven) fromPlaces() {
	for _, w := range windowsS {
		if w < 2*v.sampleS && w != windowsS[len(windowsS)-1] {
			continue
		}
		v.windowS = math.Max(w, 2*v.sampleS)
		halves := make([]float64, 0, len(v.pass))
		for i := range v.pass {
			var halfMPS float64
			v.speedMPS[i], v.errMPS[i], halfMPS = v.slope(i)
			halves = append(halves, halfMPS)
		}
		// Places drift slowly. Neighbours do not show that; the two halves of a window
		// do. For a random walk a slope scatters 1.1 times as much as half the
		// difference of its halves.
		isGood := median(v.errMPS) <= goodEnoughMPS
		wander := 2 * 1.1 * 1.4826 * median(halves)
		for i := range v.errMPS {
			v.errMPS[i] = math.Max(v.errMPS[i], wander)
		}
		if isGood {
			return
		}
	}
}

// slope is the speed at a point by least squares through the window around it, with its bound.
func (v *driven) slope(i int) (speedMPS, errMPS, halfMPS float64) {
	a, b := i, i
	at := v.pass[i].TimeS
	for a > 0 && at-v.pass[a-1].TimeS <= v.windowS/2*(1+1e-9) && v.pass[a].TimeS-v.pass[a-1].TimeS <= v.gapS {
		a--
	}
	for b < len(v.pass)-1 && v.pass[b+1].TimeS-at <= v.windowS/2*(1+1e-9) && v.pass[b+1].TimeS-v.pass[b].TimeS <= v.gapS {
		b++
	}
	if a == b { // alone between gaps: the mean over the shorter one
		switch {
		case i > 0:
			a--
		default:
			b++
		}
	}
	var mt, ms, tt, ts float64
	n := float64(b - a + 1)
	for k := a; k <= b; k++ {
		mt, ms = mt+v.pass[k].TimeS/n, ms+v.pass[k].DistanceM/n
	}
	for k := a; k <= b; k++ {
		dt := v.pass[k].TimeS - mt
		tt, ts = tt+dt*dt, ts+dt*(v.pass[k].DistanceM-ms)
	}
	half := math.Max(placesFloorMPS, 2*v.scatterM/math.Sqrt(tt))
	if a < i && i < b { // either half's speed is possible: the speed changed, or the places drift
		p := v.pass
		before, after := (p[i].DistanceM-p[a].DistanceM)/(p[i].TimeS-p[a].TimeS), (p[b].DistanceM-p[i].DistanceM)/(p[b].TimeS-p[i].TimeS)
		halfMPS = math.Abs(after-before) / 2
		half = math.Max(half, halfMPS)
	}
	return math.Max(0, ts/tt), half, halfMPS
}

// scatter is the standard deviation of a series around a line through three
// neighbours, by the median, so that hard braking does not count as noise. Even
// steps only; unknown where there are none.
func scatter(pass []recorded.Place, unknown float64, of func(*recorded.Place) float64) float64 {
	var bends []float64
	for i := 2; i < len(pass); i++ {
		a, b := pass[i-1].TimeS-pass[i-2].TimeS, pass[i].TimeS-pass[i-1].TimeS
		x := of(&pass[i-2]) - 2*of(&pass[i-1]) + of(&pass[i])
		if math.Abs(a-b) <= 0.2*math.Max(a, b) && !math.IsNaN(x) {
			bends = append(bends, math.Abs(x))
		}
	}
	if len(bends) == 0 {
		return unknown
	}
	return 1.4826 * median(bends) / math.Sqrt(6)
}

func median(list []float64) float64 {
	if len(list) == 0 {
		return 0
	}
	s := slices.Clone(list)
	slices.Sort(s)
	return s[len(s)/2]
}

// speedAt is the speed at a distance from the crest, with its bound; false where there is a gap or
// the pass does not reach it.
func (v *driven) speedAt(distanceM float64) (speedMPS, errMPS float64, ok bool) {
	for i := 1; i < len(v.pass); i++ {
		a, b := &v.pass[i-1], &v.pass[i]
		if a.DistanceM <= distanceM && distanceM <= b.DistanceM && b.TimeS-a.TimeS <= v.gapS {
			t := 0.0
			if b.DistanceM > a.DistanceM {
				t = (distanceM - a.DistanceM) / (b.DistanceM - a.DistanceM)
			}
			half := math.Max(v.errMPS[i-1], v.errMPS[i])
			if b.TimeS-a.TimeS > 2 { // between points either speed is possible
				half += math.Abs(v.speedMPS[i]-v.speedMPS[i-1]) / 2
			}
			return v.speedMPS[i-1] + t*(v.speedMPS[i]-v.speedMPS[i-1]), half, true
		}
	}
	return math.NaN(), math.NaN(), false
}

// heldS is the time that a point represents: half way to its neighbours, without gaps.
func (v *driven) heldS(i int) float64 {
	var s float64
	for _, k := range []int{i, i + 1} {
		if k > 0 && k < len(v.pass) {
			if dt := v.pass[k].TimeS - v.pass[k-1].TimeS; dt <= v.gapS {
				s += dt / 2
			}
		}
	}
	return s
}

// afterGap reports whether nothing is known between a point and the one before it.
func (v *driven) afterGap(i int) bool { return v.pass[i].TimeS-v.pass[i-1].TimeS > v.gapS }
