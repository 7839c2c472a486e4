package holding

import (
	"cmp"
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// Ways to drive down a hill, as a lesson compares them.
const (
	WayRetarder = "on the retarder"
	WayDragged  = "service brakes dragged"
	WaySnubbed  = "service brakes snubbed"
	WayGearUp   = "one gear up, service brakes do the rest"
)

// BrakeStation is the service brakes' state at a place of the hill.
type BrakeStation struct {
	DistanceM float64 // below the crest
	TempC     float64 // the hotter of the two heat models
	GrowthM   float64 // of a drum's diameter; 0 for a disc
	StrokeM   float64 // of the pushrod; 0 for a disc
	LeftShare float64 // of the cold braking force
}

// BrakeRun is one way down the hill and its effect on the service brakes. Places are distances
// below the crest, nil where the brakes do not reach that state.
type BrakeRun struct {
	Way      string
	SpeedMPS float64
	Stations []BrakeStation // the hottest of each piece, the last at the foot or where the run ends
	PeakC    float64
	WorkingM *float64 // where they leave their working range
	FadeM    *float64 // where poor linings begin to fade
	SmokeM   *float64 // where smell and smoke begin
	LostM    *float64 // where they can no longer hold the speed; the run ends there
	StopM    float64  // distance of an emergency stop at the foot; +Inf where there is none
}

// What a stop needs, from memory: the least deceleration that a combination's brakes
// must give (14 ft/s², 49 CFR 393.52), the time to see and to act (2.5 s, AASHTO), and
// the lag of air brakes (0.5 s, common practice).
const (
	ColdStopMPS2 = 14 * catalog.FootM
	reactS       = 2.5
	airLagS      = 0.5
)

// SmokeFromC is where smell and smoke begin: 700 °F, the low end of the trade's 700 to
// 800 °F (common practice, no source).
const SmokeFromC = (700.0 - 32) * 5 / 9

// snubDecelMPS2 takes 5 mph off in 3 s, as the model driver's manual teaches (AAMVA,
// from memory).
const snubDecelMPS2 = snubMPS / 3

// BrakeRuns follows the service brakes down a hill at an advised gear and speed: unused,
// dragged, snubbed, and one gear too high with the retarder at full power. With gear 0,
// which means that no gear holds, the first and the last are left out. The grade is the
// steep end of the bound of the mean, as in Hold.Heat. Errors are those of Advise.
func BrakeRuns(h Hill, c vehicle.Class, o Options, gear int, speedMPS float64) ([]BrakeRun, error) {
	p, err := newProblem(&h, &c, o)
	if err != nil {
		return nil, err
	}
	if gear < 1 || gear > p.truck.GearCount() || !(speedMPS > 0) {
		gear = 0
		_, _, speedMPS = p.missing(p.massKg)
	}
	var out []BrakeRun
	if gear > 0 {
		out = append(out, p.brakeRun(WayRetarder, 0, speedMPS))
	}
	out = append(out, p.brakeRun(WayDragged, 0, speedMPS), p.brakeRun(WaySnubbed, 0, speedMPS))
	if gear > 0 && gear < p.truck.GearCount() {
		out = append(out, p.brakeRun(WayGearUp, gear+1, speedMPS))
	}
	return out, nil
}

// brakeRunStations is the number of places of a run that are kept.
const brakeRunStations = 48

// rolling is the truck on its way down.
type rolling struct {
	p              *problem
	way            string
	gear           int
	lowMPS, topMPS float64 // of a snub
	isBraking      bool
	tempF, drumC   float64
	airC           float64
	drum           vehicle.RotorBalance
}

// brakeRun drives the truck down in steps of a quarter second.
func (p *problem) brakeRun(way string, gear int, speedMPS float64) BrakeRun {
	b, g := p.truck.ServiceBrakes, p.heatModel
	out := BrakeRun{Way: way, SpeedMPS: speedMPS, StopM: math.Inf(1)}
	r := rolling{p: p, way: way, gear: gear, topMPS: speedMPS, lowMPS: speedMPS - min(snubMPS, speedMPS/2), tempF: g.StartTempF, airC: catalog.CFromF(g.AirTempF), drum: b.Balance()}
	startC := catalog.CFromF(g.StartTempF)
	r.drumC = startC
	if hotC := p.slope.hotC; hotC != nil {
		r.airC = *hotC
	}
	total := p.hill.LengthM()
	n := min(mostPieces, max(1, int(math.Ceil(total/pieceM))))
	pieces := withAir(spansEven(p.hill, n, p.opt.altitudeM()), p.slope.hotC)
	binM := total / brakeRunStations
	bin := BrakeStation{TempC: startC, StrokeM: b.ChainAt(startC, startC).StrokeM, LeftShare: 1}
	out.Stations, out.PeakC = append(out.Stations, bin), startC
	var at stretch
	for x, v := 0.0, speedMPS; x < total-1e-9; {
		at = forceOf(pieces[min(n-1, int(x/total*float64(n)))], p.v.gradePct, p.truck)
		dt := min(0.25, (total-x)/v)
		forceN, next := r.step(at, v, dt)
		x += v * dt
		v = next
		hotC := max(catalog.CFromF(r.tempF), r.drumC)
		chain := b.ChainAt(hotC, startC)
		out.note(x, hotC, b)
		if hotC >= bin.TempC || bin.DistanceM == 0 {
			bin = BrakeStation{DistanceM: x, TempC: hotC, GrowthM: chain.GrowthM, StrokeM: chain.StrokeM, LeftShare: chain.LeftShare}
		}
		isLost := forceN > p.massKg*ColdStopMPS2*chain.LeftShare
		if x >= binM*float64(len(out.Stations))-1e-9 || x >= total-1e-9 || isLost {
			bin.DistanceM = x
			out.Stations, bin = append(out.Stations, bin), BrakeStation{}
		}
		if isLost {
			out.LostM = &x
			return out
		}
	}
	hotF := max(r.tempF, catalog.FFromC(r.drumC))
	stopC := catalog.CFromF(hotF + g.StopF(p.massKg/catalog.PoundKg, speedMPS/catalog.MilePerHourMPS, b.Count))
	if slows := ColdStopMPS2*b.ChainAt(stopC, startC).LeftShare - max(0, at.pullMPS2); slows > 0 {
		out.StopM = speedMPS*(reactS+airLagS) + speedMPS*speedMPS/(2*slows)
	}
	return out
}

// step advances the run by one time step. It returns the force of the service brakes and the next
// speed.
func (r *rolling) step(at stretch, v, dt float64) (forceN, nextMPS float64) {
	p, g := r.p, r.p.heatModel
	brakes := p.truck.ServiceBrakes.Count
	pullN := p.massKg*at.pullMPS2 - p.airflowAt(v).dragN(&at)
	helpW := p.ownDragW()
	if r.gear > 0 {
		helpW = p.wheelPower(r.gear, v).AtW(at.engineShare)
	}
	restN := pullN - helpW/v
	mph, hp := v/catalog.MilePerHourMPS, 0.0
	nextMPS = v
	switch r.way {
	case WayRetarder:
	case WaySnubbed:
		r.isBraking = v >= r.topMPS-1e-9 && restN > 0 || r.isBraking && v > r.lowMPS
		if r.isBraking {
			forceN = max(0, restN) + p.massKg*snubDecelMPS2
			nextMPS = max(r.lowMPS, v-snubDecelMPS2*dt)
			hp = forceN * v / vehicle.HorsepowerW
		} else {
			nextMPS = max(r.lowMPS, min(r.topMPS, v+restN/p.massKg*dt))
		}
	default:
		forceN = max(0, restN)
		hp = max(0, g.BrakeHP(p.massKg/catalog.PoundKg, (at.gradePct+g.LowDragPct)/100, mph, helpW/vehicle.HorsepowerW))
	}
	r.tempF = g.TempF(r.tempF, hp, mph, v*dt/catalog.MileM, brakes)
	r.drumC = r.drum.TempC(r.drumC, r.airC, forceN*v/float64(brakes), v, dt)
	return forceN, nextMPS
}

// note keeps the peak and the places where limits are passed.
func (r *BrakeRun) note(x, hotC float64, b vehicle.ServiceBrakes) {
	r.PeakC = max(r.PeakC, hotC)
	for _, l := range []struct {
		fromC float64
		at    **float64
	}{{b.WorkingToC(), &r.WorkingM}, {b.FadeFromC(), &r.FadeM}, {SmokeFromC, &r.SmokeM}} {
		if *l.at == nil && hotC > l.fromC {
			*l.at = &x
		}
	}
}

// AdjustmentCase is a brake in some adjustment, with the remaining share of its chamber's best force.
type AdjustmentCase struct {
	What       string
	StrokeM    float64 // as adjusted, cold
	ColdShare  float64
	HotStrokeM float64
	HotShare   float64 // lining included
}

// AdjustmentCases compares a brake as the class adjusts it, half an inch under its legal
// limit, at the limit and a quarter inch beyond, at the temperature at which it was
// adjusted and at a hotter one, the shortest stroke first. A class that adjusts to the limit has no case twice.
// Empty for disc brakes.
func AdjustmentCases(b vehicle.ServiceBrakes, coldC, hotC float64) []AdjustmentCase {
	if b.IsDisc() {
		return nil
	}
	limitM := vehicle.AdjustLimitM(b.Chamber)
	var out []AdjustmentCase
	for _, k := range []struct {
		what    string
		strokeM float64
	}{{"as the class adjusts it", b.AdjustedStrokeM}, {"½ in under the limit", limitM - 0.5*catalog.InchM}, {"at the legal limit", limitM}, {"¼ in beyond the limit", limitM + 0.25*catalog.InchM}} {
		if len(out) > 0 && math.Abs(k.strokeM-b.AdjustedStrokeM) < 1e-4 {
			out[0].What += ", " + k.what
			continue
		}
		set := b
		set.AdjustedStrokeM = k.strokeM
		cold, hot := set.ChainAt(coldC, coldC), set.ChainAt(hotC, coldC)
		out = append(out, AdjustmentCase{What: k.what, StrokeM: k.strokeM, ColdShare: cold.ForceShare, HotStrokeM: hot.StrokeM, HotShare: hot.ForceShare * set.LiningShare(hotC)})
	}
	slices.SortStableFunc(out, func(a, b AdjustmentCase) int { return cmp.Compare(a.StrokeM, b.StrokeM) })
	return out
}
