package debrief

import (
	"errors"
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/routes/recorded"
)

// crest judges gear and speed where the gear must be in, and at the crest.
func (d *Debrief) crest(v *driven, in *Input) {
	t := &in.Class.Truck
	c := &d.Crest
	c.GearByM = in.Descent.TravelFromStationM(in.Advice.GearByM)
	c.GearMostMPS = t.SpeedFromRPM(d.AdvisedGear, t.EngineMaxRPM)
	// The last run that is down (or in gear) when the place comes counts, not one
	// in slow traffic before it.
	knownS := math.Inf(-1)
	for i := range v.pass {
		at := v.pass[i].DistanceM
		if !c.DownByIsKnown || at <= c.GearByM {
			if isDown := v.speedMPS[i] <= d.AdvisedMPS+v.errMPS[i]; !isDown {
				c.DownByIsKnown = false
			} else if !c.DownByIsKnown {
				c.DownByM, c.DownByIsKnown = at, true
			}
		}
		g := gearAt(t, v.pass[i].Fix, v.speedMPS[i])
		if v.pass[i].Fix.IsNeutral {
			if at <= c.GearByM {
				c.Gear, c.GearIsKnown, c.IsNeutral, knownS = 0, false, true, v.pass[i].TimeS
			}
			continue
		}
		if g == 0 {
			if at <= c.GearByM && v.pass[i].TimeS-knownS > gearStaleS { // what was in before is no longer known
				c.Gear, c.GearIsKnown, c.IsNeutral = 0, false, false
			}
			continue
		}
		knownS = v.pass[i].TimeS
		if at <= c.GearByM {
			c.Gear, c.IsNeutral = g, false
		}
		if !c.GearIsKnown || at <= c.GearByM {
			if g > d.AdvisedGear {
				c.GearIsKnown = false
			} else if !c.GearIsKnown {
				c.GearInAtM, c.GearIsKnown = at, true
			}
		}
	}
	if crest, _, ok := v.speedAt(0); ok {
		c.CrestMPS = crest
	}
	speed, half, ok := v.speedAt(c.GearByM)
	if !ok {
		c.Verdict = CrestCannotTell
		if len(d.Neutral) > 0 {
			c.Verdict = CrestNeutral
		}
		return
	}
	c.SpeedMPS, c.SpeedErrMPS = speed, half
	switch {
	case speed-half > d.AdvisedMPS:
		c.Verdict = CrestTooFast
	case len(d.Neutral) > 0:
		c.Verdict = CrestNeutral // kept at the crest and let go below it is not kept
	case half > math.Max(0.5, 0.1*d.AdvisedMPS) && speed+half > d.AdvisedMPS:
		c.Verdict = CrestCannotTell // not proved too fast is not proved kept
	case c.Gear > d.AdvisedGear:
		c.Verdict = CrestGearLate
	case c.IsNeutral:
		c.Verdict = CrestNeutral
	case d.IsBeyond:
		c.Verdict = CrestNotCovered
	case c.Gear > 0:
		c.Verdict = CrestKept
	default:
		c.Verdict = CrestSpeedKept
	}
}

// inNeutral finds the stretches driven out of gear between two places.
func (d *Debrief) inNeutral(v *driven, fromM, toM float64) {
	d.Neutral = []Coast{}
	begin := -1
	end := func(to int) {
		if begin < 0 {
			return
		}
		c := Coast{FromM: v.pass[begin].DistanceM, ToM: v.pass[to].DistanceM, TimeS: v.pass[to].TimeS - v.pass[begin].TimeS}
		for i := begin; i <= to; i++ {
			c.MostMPS = math.Max(c.MostMPS, v.speedMPS[i])
		}
		if c.TimeS >= leastCoastS && c.TimeS >= v.sampleS {
			d.Neutral, d.NeutralS = append(d.Neutral, c), d.NeutralS+c.TimeS
		}
		begin = -1
	}
	for i := range v.pass {
		at, f := v.pass[i].DistanceM, v.pass[i].Fix
		if v.afterGap0(i) {
			end(i - 1)
		}
		isOut := f.IsNeutral && v.speedMPS[i] > stoppedMPS && at >= fromM && at <= toM
		switch {
		case isOut && begin < 0:
			begin = i
		case !isOut:
			end(max(0, i-1))
		}
	}
	end(len(v.pass) - 1)
}

// leftOut adds to a fault of a pass what was not even looked at.
func leftOut(err error, rec *routes.Recording, off []recorded.OffRoad) error {
	var f *catalog.Fault
	if !errors.As(err, &f) {
		return err
	}
	g := *f
	if rec.LeftOut > 0 && len(rec.Skipped) > 0 {
		g.What += fmt.Sprintf("; %d of its points were left out before (the first, %s: %s)", rec.LeftOut, rec.Skipped[0].Where, rec.Skipped[0].Why)
	}
	n := 0
	for _, o := range off {
		n += o.Points
	}
	if n > 0 && n < len(rec.Fixes) {
		g.What += fmt.Sprintf("; %d points lie further than %.0f m from its road", n, recorded.BesideRoadM)
	}
	return &g
}
