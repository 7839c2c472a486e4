package debrief

import (
	"errors"
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/recorded"
)

// crest judges gear and speed where the gear must be in, and at the crest.
func (d *Debrief) crest(v *driven, in *Input) {
	t := &in.Class.Truck
	c := &d.Crest
	c.GearByM = in.Descent.TravelFromStationM(in.Advice.GearByM)
	c.GearMostMPS = t.SpeedFromRPM(d.AdvisedGear, t.EngineMaxRPM)
	d.followDown(v)
	d.followGear(v, t)
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
	c.Verdict = d.crestVerdict(speed, half)
}

// crestVerdict judges what is known of the speed and the gear where they are due.
func (d *Debrief) crestVerdict(speedMPS, halfMPS float64) string {
	c := &d.Crest
	switch {
	case speedMPS-provedErrMPS(halfMPS, d.IsSpeedOwn) > d.AdvisedMPS:
		return CrestTooFast
	case len(d.Neutral) > 0:
		return CrestNeutral // kept at the crest but not below it is not kept
	case speedMPS-halfMPS > d.AdvisedMPS:
		return CrestCannotTell // likely over, but not proved
	case halfMPS > math.Max(0.5, 0.1*d.AdvisedMPS) && speedMPS+halfMPS > d.AdvisedMPS:
		return CrestCannotTell // a speed that is not proved too fast is not proved kept
	case c.Gear > d.AdvisedGear:
		return CrestGearLate
	case c.IsNeutral:
		return CrestNeutral
	case d.IsBeyond:
		return CrestNotCovered
	case c.Gear > 0:
		return CrestKept
	}
	return CrestSpeedKept
}

// followDown finds where the speed came down to the advised one. It counts the last such run that
// lasts to the place, not an earlier one in slow traffic.
func (d *Debrief) followDown(v *driven) {
	c := &d.Crest
	for i := range v.pass {
		at := v.pass[i].DistanceM
		if c.DownByIsKnown && at > c.GearByM {
			continue
		}
		if isDown := v.speedMPS[i] <= d.AdvisedMPS+v.errMPS[i]; !isDown {
			c.DownByIsKnown = false
		} else if !c.DownByIsKnown {
			c.DownByM, c.DownByIsKnown = at, true
		}
	}
}

// followGear finds the gear that was in, and where the advised one or a lower came in.
func (d *Debrief) followGear(v *driven, t *vehicle.Truck) {
	c := &d.Crest
	knownS := math.Inf(-1)
	for i := range v.pass {
		at := v.pass[i].DistanceM
		isBefore := at <= c.GearByM
		if v.pass[i].Fix.IsNeutral {
			if isBefore {
				c.Gear, c.GearIsKnown, c.IsNeutral, knownS = 0, false, true, v.pass[i].TimeS
			}
			continue
		}
		g := gearAt(t, v.pass[i].Fix, v.speedMPS[i])
		if g == 0 {
			if isBefore && v.pass[i].TimeS-knownS > gearStaleS { // the earlier gear is not known
				c.Gear, c.GearIsKnown, c.IsNeutral = 0, false, false
			}
			continue
		}
		knownS = v.pass[i].TimeS
		if isBefore {
			c.Gear, c.IsNeutral = g, false
		}
		if c.GearIsKnown && !isBefore {
			continue
		}
		if g > d.AdvisedGear {
			c.GearIsKnown = false
		} else if !c.GearIsKnown {
			c.GearInAtM, c.GearIsKnown = at, true
		}
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

// leftOut adds the unused points to a fault of a pass.
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
		g.What += fmt.Sprintf("; %d points are further than %.0f m from its road", n, recorded.BesideRoadM)
	}
	return &g
}
