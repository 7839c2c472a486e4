package debrief

import (
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/recorded"
	"gradeline/terrain"
)

// A truck is stopped below stoppedMPS; a stop lasts at least leastStopS.
const (
	stoppedMPS  = 0.7
	leastStopS  = 5.0
	gearStaleS  = 10.0 // a gear not recorded for longer is unknown
	leastCoastS = 4.0  // out of gear for a shorter time is a gear change
	gearOff     = 0.06 // an engine speed within this share of a gear's ratio belongs to that gear
)

// FromDrive matches a recorded drive to the road of a descent and compares it with the advice. It
// claims an excess only beyond the recording's own error, and says what the recording does not
// show.
//
// Errors: terrain.ErrInput where the recording is not of this hill, goes up it,
// or gives speeds in another unit than its places; catalog.ErrImpossible for a
// class or mass that cannot be.
func FromDrive(in Input) (Debrief, error) {
	massKg, err := checkedMassKg(&in)
	if err != nil {
		return Debrief{}, err
	}
	line, err := roadOf(in.Profile, in.Descent)
	if err != nil {
		return Debrief{}, err
	}
	if err := oneVehicle(in); err != nil {
		return Debrief{}, err
	}
	on, off := line.Lay(in.Drive.Fixes)
	pass, which, count, err := choosePass(on, in.Descent, in.File, in.Pass)
	if err != nil {
		return Debrief{}, leftOut(err, in.Drive, off)
	}
	v, err := speedsOf(pass, in.File)
	if err != nil {
		return Debrief{}, err
	}
	d := Debrief{Descent: in.Descent.ID, Class: in.Class.ID, MassKg: massKg, Pass: which, Passes: count,
		From: pass[0].Fix.At, To: pass[len(pass)-1].Fix.At, Points: len(pass), SampleS: v.sampleS, IsSpeedOwn: v.isRecorded,
		SpeedErrMPS: median(v.errMPS), SpeedWindowS: v.windowS, PlaceScatterM: v.scatterM,
		CoveredPct: 100 * coveredM(pass, in.Descent.LengthM, v.gapS) / in.Descent.LengthM,
		Over:       []OverStretch{}, Stops: []DriveStop{}, Off: []recorded.OffRoad{}, Gaps: []DriveGap{}, CannotTell: []string{}}
	for _, o := range off {
		if o.From.Before(d.From) || o.To.After(d.To) {
			d.Elsewhere += o.Points
		} else {
			d.Off = append(d.Off, o)
		}
	}
	d.readTrace(&in.Class.Truck, v)
	d.MassIsTaken, d.IsClock, d.Begin = in.MassKg == 0, !in.Drive.NoClock, in.Drive.Fixes[0].At
	d.compareWithAdvice(v, &in)
	d.onHill(v, in.Descent)
	d.Places, d.Applied = d.placesPassed(&in, v), brakeUse(v, in.Descent.LengthM)
	d.HighGearM = highGear(v, d.AdvisedGear, in.Descent.LengthM)
	d.HighGearUnheldM = highGearUnheldM(&d)
	d.Brakes, err = brakeBalance(&in, v, massKg)
	d.CannotTell = d.cannotTell()
	return d, err
}

// checkedMassKg is the mass of a drive whose class, mass and grade line can be.
func checkedMassKg(in *Input) (float64, error) {
	if err := in.Class.Validate(); err != nil {
		return 0, err
	}
	massKg := in.MassKg
	if massKg == 0 {
		massKg = in.Class.MassMaxKg
	}
	if !(massKg >= 1000 && massKg <= vehicle.MostKg) {
		return 0, &catalog.Fault{Kind: catalog.ErrImpossible, Feature: "class " + in.Class.ID, What: "not a possible mass of a truck", Fix: "use its mass on the road"}
	}
	if math.IsInf(in.Profile.Bound.MeanErrPct(holding.WindowM, 0), 0) {
		return 0, &catalog.Fault{Kind: catalog.ErrImpossible, Feature: "descent " + in.Descent.ID, What: "its grade line has no error bound", Fix: "survey the road again"}
	}
	return massKg, nil
}

// readTrace keeps the points of a pass, and which signals they have.
func (d *Debrief) readTrace(t *vehicle.Truck, v *driven) {
	for i := range v.pass {
		d.HasGear = d.HasGear || gearAt(t, v.pass[i].Fix, v.speedMPS[i]) > 0
		d.HasRPM = d.HasRPM || !math.IsNaN(v.pass[i].Fix.EngineRPM)
		d.HasBrakeSignal = d.HasBrakeSignal || v.pass[i].Fix.ServiceBrake != nil
		d.Trace.DistanceM = append(d.Trace.DistanceM, v.pass[i].DistanceM)
		d.Trace.AfterGap = append(d.Trace.AfterGap, i > 0 && v.afterGap(i))
	}
	d.Trace.SpeedMPS, d.Trace.SpeedErrMPS = v.speedMPS, v.errMPS
}

// compareWithAdvice compares speeds, gears and the crest with advice that holds.
func (d *Debrief) compareWithAdvice(v *driven, in *Input) {
	dueM := 0.0
	if in.Advice != nil && in.Advice.Holds {
		dueM = math.Min(0, in.Descent.TravelFromStationM(in.Advice.GearByM))
		d.IsBeyond = in.Advice.MassKg > 0 && d.MassKg > in.Advice.MassKg+1
	}
	d.inNeutral(v, dueM, in.Descent.LengthM)
	if in.Advice != nil && in.Advice.Holds {
		d.HasAdvice, d.AdvisedGear, d.AdvisedName, d.AdvisedMPS = true, in.Advice.Gear, in.Advice.GearLabel(), in.Advice.SpeedMPS
		d.againstAdvice(v, in.Descent)
		d.crest(v, in)
	} else {
		d.Crest.Verdict = CrestCannotTell
	}
}

// gearAt is the gear of a point: as recorded, or by its engine speed; 0 unknown.
func gearAt(t *vehicle.Truck, f *routes.Fix, speedMPS float64) int {
	if f.Gear > 0 {
		return f.Gear
	}
	if f.IsNeutral || math.IsNaN(f.EngineRPM) || !(speedMPS > 1) {
		return 0
	}
	for g := 1; g <= t.GearCount(); g++ {
		if math.Abs(f.EngineRPM/t.RPMFromSpeed(g, speedMPS)-1) <= gearOff {
			return g
		}
	}
	return 0
}

// againstAdvice finds the stretches over the advised speed: each begins where the excess is
// proved and lasts until the speed is back.
func (d *Debrief) againstAdvice(v *driven, hill *routes.Descent) {
	var open *OverStretch
	for i := range v.pass {
		at := v.pass[i].DistanceM
		if at < 0 || at > hill.LengthM || v.afterGap0(i) {
			open = nil
		}
		if at < 0 || at > hill.LengthM {
			continue
		}
		switch speed := v.speedMPS[i]; {
		case speed <= d.AdvisedMPS:
			open = nil
			continue
		case open == nil && speed-provedErrMPS(v.errMPS[i], v.isRecorded) > d.AdvisedMPS:
			d.Over = append(d.Over, OverStretch{FromM: at})
			open = &d.Over[len(d.Over)-1]
		}
		if open == nil {
			continue
		}
		open.ToM = at
		open.TimeS += v.heldS(i)
		d.OverS += v.heldS(i)
		if v.speedMPS[i] > open.MostMPS {
			open.MostMPS, open.AtM = v.speedMPS[i], at
		}
		d.OverMPS = max(d.OverMPS, v.speedMPS[i]-v.errMPS[i]-d.AdvisedMPS)
	}
}

func (v *driven) afterGap0(i int) bool { return i > 0 && v.afterGap(i) }

// onHill collects stops, gaps and the highest speed.
func (d *Debrief) onHill(v *driven, hill *routes.Descent) {
	standing := -1
	stop := func(to int) {
		if standing < 0 {
			return
		}
		if s := v.pass[to].TimeS - v.pass[standing].TimeS; s >= leastStopS {
			d.Stops = append(d.Stops, DriveStop{v.pass[standing].DistanceM, v.pass[standing].Fix.At, s})
		}
		standing = -1
	}
	for i := range v.pass {
		at := v.pass[i].DistanceM
		if v.afterGap0(i) {
			stop(i - 1)
			d.Gaps = append(d.Gaps, DriveGap{v.pass[i-1].DistanceM, at, v.pass[i-1].Fix.At, v.pass[i].TimeS - v.pass[i-1].TimeS})
		}
		if v.speedMPS[i] <= stoppedMPS {
			if standing < 0 {
				standing = i
			}
		} else {
			stop(max(0, i-1))
		}
		if at >= 0 && at <= hill.LengthM {
			d.OnHillS += v.heldS(i)
			if v.speedMPS[i] > d.MostMPS {
				d.MostMPS, d.MostAtM = v.speedMPS[i], at
			}
		}
	}
	stop(len(v.pass) - 1)
}

// oneVehicle refuses recordings that are not those of one truck.
func oneVehicle(in Input) error {
	f := &catalog.Fault{Kind: terrain.ErrInput, File: in.File, What: "fewer than two points", Fix: "use another recording"}
	n, several := recorded.AreSeveral(in.Drive.Fixes)
	switch {
	case len(in.Drive.Fixes) < 2:
		return f
	case several:
		f.What, f.Fix = fmt.Sprintf("its places jump %d times faster than any truck: it holds two vehicles, or its receiver was wrong", n), "split it by vehicle"
		return f
	}
	return nil
}
