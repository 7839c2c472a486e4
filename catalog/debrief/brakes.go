package debrief

import (
	"fmt"
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/vehicle"
)

// BrakeBalance is the share of the energy that remains for the service brakes. The least is the
// energy beyond the retarder's full power; the most is all energy beyond rolling and air
// resistance.
type BrakeBalance struct {
	AtLeastJ  float64                `json:"at_least_j"`
	AtMostJ   float64                `json:"at_most_j"`
	StopJ     float64                `json:"stop_from_60_kmh_j"` // one stop from 60 km/h on the level, for comparison
	Events    []BrakeEvent           `json:"events"`             // where they must have been applied
	OnS       float64                `json:"applied_s"`          // as recorded; 0 without a signal
	Conflicts []BrakeEvent           `json:"conflicts"`          // must have been applied where the recording says they were off
	Severity  TempRange              `json:"grade_severity"`
	Balance   TempRange              `json:"heat_balance"`
	StartC    float64                `json:"start_temp_c"`
	Statuses  []catalog.FigureStatus `json:"figure_status"`
}

// TempRange is the range of the highest temperature of a service brake: with the least and the most
// energy.
type TempRange struct {
	AtLeastC float64 `json:"at_least_c"`
	AtMostC  float64 `json:"at_most_c"`
	AtM      float64 `json:"at_m"` // where the higher one is reached
}

// BrakeEvent is a stretch on which the service brakes must have been applied.
type BrakeEvent struct {
	FromM    float64 `json:"from_m"`
	ToM      float64 `json:"to_m"`
	TimeS    float64 `json:"time_s"`
	FromMPS  float64 `json:"from_mps"`
	ToMPS    float64 `json:"to_mps"`
	AtLeastJ float64 `json:"at_least_j"`
}

// Bounds of what is unknown about a truck on the road; all without a source.
// The figures of a class are the low ends of resistance and retarder.
const (
	highRollingShare  = 2.0  // worn tyres, a rough or wet road
	highDragShare     = 1.5  // a boxy load, wind from ahead
	highRetarderShare = 1.35 // a retarder above its stated power, with all losses
	rotatingShare     = 0.05 // rotating mass of wheels, gears and engine
	leastWindowS      = 5.0
	leastEventJ       = 50e3 // a smaller amount prints as zero
)

// energyWindow is a stretch of the drive and its balance.
type energyWindow struct {
	a, b            int // points
	lengthM, timeS  float64
	speedMPS        float64 // mean
	leastJ, mostJ   float64
	lowJ            float64 // the least before its error is subtracted; may be negative
	errJ            float64 // 95 % half-width of the balance
	isGap           bool
	signal, applied bool // the recording has a signal of the service brakes; they were on
}

// brakeBalance balances each window of the pass and follows the service brakes'
// heat through them, from where the grade line is known to the end of the pass.
func brakeBalance(in *Input, v *driven, massKg float64) (BrakeBalance, error) {
	const kmh60 = 60 * catalog.KilometrePerHourMPS
	model, err := holding.Severity()
	if err != nil {
		return BrakeBalance{}, err
	}
	out := BrakeBalance{Events: []BrakeEvent{}, Conflicts: []BrakeEvent{}, StopJ: 0.5 * massKg * kmh60 * kmh60, StartC: catalog.CFromF(model.StartTempF)}
	list := energyWindows(in, v, massKg)
	steady(in, v, massKg, list)
	var raw, err2 float64
	for i := range list {
		w := &list[i]
		raw, err2 = raw+w.mostJ, err2+w.errJ*w.errJ
		out.AtLeastJ += w.leastJ
	}
	out.AtMostJ = raw
	if raw > 0 {
		out.AtMostJ += math.Sqrt(err2)
	}
	for i := range list {
		w := &list[i]
		if raw > 0 {
			w.mostJ *= out.AtMostJ / raw
		}
		out.OnS += appliedS(v, w)
		if w.leastJ <= 0 {
			continue
		}
		list := &out.Events
		if w.signal && !w.applied {
			list = &out.Conflicts
		}
		e := BrakeEvent{v.pass[w.a].DistanceM, v.pass[w.b].DistanceM, w.timeS, v.speedMPS[w.a], v.speedMPS[w.b], w.leastJ}
		if n := len(*list); n > 0 && math.Abs((*list)[n-1].ToM-e.FromM) < 1 {
			last := &(*list)[n-1]
			last.ToM, last.ToMPS, last.TimeS, last.AtLeastJ = e.ToM, e.ToMPS, last.TimeS+e.TimeS, last.AtLeastJ+e.AtLeastJ
		} else {
			*list = append(*list, e)
		}
	}
	isSmall := func(e BrakeEvent) bool { return e.AtLeastJ < leastEventJ }
	out.Events, out.Conflicts = slices.DeleteFunc(out.Events, isSmall), slices.DeleteFunc(out.Conflicts, isSmall)
	out.heat(in.Class, &model, list, v)
	out.Statuses = []catalog.FigureStatus{
		{Figure: "service-brake heat model", Status: model.Status, Source: model.Source},
		{Figure: "drum heat balance", Status: "from memory", Source: "textbook properties of grey iron and warm air"},
		{Figure: "high ends of resistance and retarder", Status: "common practice", Source: fmt.Sprintf("our own bounds: rolling resistance ×%g, drag ×%g, retarder ×%g, rotating parts %g %%", highRollingShare, highDragShare, highRetarderShare, 100*rotatingShare)},
	}
	return out, nil
}

// energyWindows divides the pass into windows, none shorter than the time over which a speed is a
// mean, and balances each.
func energyWindows(in *Input, v *driven, massKg float64) []energyWindow {
	least := math.Max(leastWindowS, math.Max(v.windowS, 2*v.sampleS))
	var out []energyWindow
	for a := 0; a+1 < len(v.pass); {
		b := a + 1
		for !v.afterGap(b) && b+1 < len(v.pass) && !v.afterGap(b+1) && v.pass[b].TimeS-v.pass[a].TimeS < least*(1-1e-9) {
			b++
		}
		w := energyWindow{a: a, b: b, isGap: v.afterGap(b), timeS: v.pass[b].TimeS - v.pass[a].TimeS}
		if w.balance(in, v, massKg) {
			out = append(out, w)
		}
		a = b
	}
	return out
}

// balance computes the energy that remains for the service brakes; false where the
// grade line is unknown. With m the mass, h height, v speed:
//
//	left = m·g·(h0 − h1) + ½·m·(v0² − v1²) − rolling − drag − retarder
func (w *energyWindow) balance(in *Input, v *driven, massKg float64) bool {
	t := &in.Class.Truck
	a, b := &v.pass[w.a], &v.pass[w.b]
	h0, h1 := in.Profile.ElevationAtM(stationOf(in, a.DistanceM)), in.Profile.ElevationAtM(stationOf(in, b.DistanceM))
	if math.IsNaN(h0 + h1) {
		return false
	}
	w.lengthM = math.Abs(b.DistanceM - a.DistanceM)
	if w.timeS > 0 {
		w.speedMPS = w.lengthM / w.timeS
	}
	v0, v1 := v.speedMPS[w.a], v.speedMPS[w.b]
	kinetic := 0.5 * massKg * (v0*v0 - v1*v1)
	low, high := kinetic, kinetic*(1+rotatingShare)
	if kinetic < 0 {
		low, high = high, low
	}
	height := massKg * vehicle.GravityMPS2 * (h0 - h1)
	levelM := math.Sqrt(math.Max(0, w.lengthM*w.lengthM-(h0-h1)*(h0-h1))) // the length times the slope's cosine
	rolling := massKg * vehicle.GravityMPS2 * t.RollingResistance * levelM
	var drag, retarder float64
	onS, knownS := 0.0, 0.0
	air := vehicle.AirDensityKgM3((h0+h1)/2, nil)
	for i := w.a; i < w.b; i++ {
		u0, u1, dt := v.speedMPS[i], v.speedMPS[i+1], v.pass[i+1].TimeS-v.pass[i].TimeS
		ds := (u0 + u1) / 2 * dt // scattered places would lengthen the way
		if w.isGap {
			ds = w.lengthM
		}
		drag += 0.5 * air * t.DragAreaM2 * (u0*u0 + u0*u1 + u1*u1) / 3 * ds
		retarder += dt * math.Max(retarderMostW(t, v.pass[i].Fix, u0), retarderMostW(t, v.pass[i+1].Fix, u1))
		if s := v.pass[i].Fix.ServiceBrake; s != nil {
			knownS += dt
			if *s {
				onS += dt
			}
		}
	}
	w.signal, w.applied = knownS >= 0.9*w.timeS && !w.isGap && v.sampleS <= 1.5, onS > 0 // unknown in a gap
	w.errJ = balanceErrJ(in, v, massKg, w.a, w.b)
	w.mostJ = math.Max(0, height+high-rolling-drag)
	if !w.isGap {
		w.lowJ = height + low - highRollingShare*rolling - highDragShare*drag - highRetarderShare*retarder
		// Without a given mass, that of the class which needs the least braking is used.
		w.lowJ -= max(0, (height+low-highRollingShare*rolling)*(1-in.lightestKg(massKg)/massKg))
		w.leastJ = math.Max(0, w.lowJ-w.errJ)
	}
	if w.signal && !w.applied && w.leastJ == 0 { // otherwise the signal is wrong
		w.mostJ = 0
	}
	return true
}

// balanceErrJ is the 95 % half-width of a balance from point a to point b of the
// pass: from its speeds, the grade line, and the places of the two points along it.
func balanceErrJ(in *Input, v *driven, massKg float64, a, b int) float64 {
	kinetic := massKg * math.Hypot(v.speedMPS[a]*v.errMPS[a], v.speedMPS[b]*v.errMPS[b])
	from, to := v.pass[a].DistanceM, v.pass[b].DistanceM
	weightN := massKg * vehicle.GravityMPS2
	places := weightN * 2 * v.scatterM * math.Hypot(steepness(in, v, from), steepness(in, v, to))
	lengthM := math.Abs(to - from)
	if lengthM < 1 {
		return math.Hypot(kinetic, places)
	}
	return math.Hypot(math.Hypot(kinetic, places), weightN*in.Profile.MeanErrPct(stationOf(in, from), stationOf(in, to))/100*lengthM)
}

// steepness is the absolute grade around a place, as a share, over the distance that the places of
// the drive scatter.
func steepness(in *Input, v *driven, distanceM float64) float64 {
	half := math.Max(10, 2*v.scatterM)
	at := stationOf(in, distanceM)
	for _, d := range [][2]float64{{half, half}, {half, 0}, {0, half}} { // one-sided at an end of the known line
		if g := (in.Profile.ElevationAtM(at+d[0]) - in.Profile.ElevationAtM(at-d[1])) / (d[0] + d[1]); !math.IsNaN(g) {
			return math.Abs(g)
		}
	}
	return 0
}

// steady raises the least of a run of windows if the balance over the complete run proves more than
// the single windows. Over the run the error of a height counts only once; otherwise it would hide
// long braking.
func steady(in *Input, v *driven, massKg float64, list []energyWindow) {
	const mostWindows = 1000 // a longer run is divided there
	bestJ, first, last := 0.0, 0, -1
	for i := range list {
		low, least := 0.0, 0.0
		for j := i; j < len(list) && j < i+mostWindows && !list[j].isGap && (j == i || list[j].a == list[j-1].b); j++ {
			low, least = low+list[j].lowJ, least+list[j].leastJ
			if more := low - balanceErrJ(in, v, massKg, list[i].a, list[j].b) - least; more > bestJ {
				bestJ, first, last = more, i, j
			}
		}
	}
	if last < first {
		return
	}
	total, positive := bestJ, 0.0
	for _, w := range list[first : last+1] {
		total, positive = total+w.leastJ, positive+math.Max(0, w.lowJ)
	}
	for i := first; i <= last; i++ {
		list[i].leastJ = total * math.Max(0, list[i].lowJ) / positive
		list[i].mostJ = math.Max(list[i].mostJ, list[i].leastJ)
	}
}

// lightestKg is the least possible mass of the truck: the given one, or the class's lower end.
func (in *Input) lightestKg(massKg float64) float64 {
	if in.MassKg == 0 {
		return in.Class.MassMinKg
	}
	return massKg
}

func stationOf(in *Input, distanceM float64) float64 {
	return in.Descent.StationFromTravelM(distanceM)
}

// appliedS is the recorded time with the service brakes on.
func appliedS(v *driven, w *energyWindow) float64 {
	var s float64
	for i := w.a; i < w.b; i++ {
		if on := v.pass[i].Fix.ServiceBrake; on != nil && *on {
			s += v.pass[i+1].TimeS - v.pass[i].TimeS
		}
	}
	return s
}
