package holding

import (
	"gradeline/catalog"
)

// approachMPS2 is a driver's deceleration before the crest, by a light application of cold service
// brakes (common practice, no source).
const approachMPS2 = 0.5

// setPlaces fills in where the truck must start to slow and before which station the
// gear must be in. Neither is before the start of the route.
//
//	gear in:   the crest, less the bound of where it lies, less the distance to slow
//	slow from: that much before the gear is in
//
// where the distance to slow is that from the approach speed to the advised one at 0.5
// m/s² or by the retarder, the longer of the two. So a driver who uses up all of this
// distance still has the gear in before the hill can begin.
func (p *problem) setPlaces(out *catalog.Hold) {
	out.ApproachSpeedMPS = p.approachMPS()
	if p.hill.Plain {
		return // a plain grade is not on a route
	}
	slowM := 0.0
	if out.Holds {
		slowM = p.slowingM(out.ApproachSpeedMPS, out.SpeedMPS)
	}
	onRoute := func(beforeM float64) float64 {
		at := p.hill.RouteStationM(-beforeM)
		if p.hill.RouteM > 0 {
			at = max(0, min(at, p.hill.RouteM))
		}
		return at
	}
	out.GearByM = onRoute(p.hill.StartErrM + slowM)
	out.SlowFromM = onRoute(p.hill.StartErrM + 2*slowM)
}

// approachMPS is the speed before the crest: the given one, or the lower of the class's own limit
// and the limit posted there.
func (p *problem) approachMPS() float64 {
	if p.hill.EntrySpeedMPS > 0 {
		return p.hill.EntrySpeedMPS
	}
	crestM := p.hill.RouteStationM(0)
	return min(p.class.SpeedMaxMPS, p.hill.postedOn(crestM, crestM))
}

// slowingM is the distance in which the truck slows on the level from one speed to
// another, at approachMPS2 or by the retarder, whichever is longer. Where no gear
// retards, the service brakes slow it.
func (p *problem) slowingM(fromMPS, toMPS float64) float64 {
	const steps = 20
	if fromMPS <= toMPS {
		return 0
	}
	if p.slowed.fromMPS == fromMPS && p.slowed.toMPS == toMPS {
		return p.slowed.inM
	}
	byBrakes := (fromMPS*fromMPS - toMPS*toMPS) / (2 * approachMPS2)
	byRetarder, dv := 0.0, (fromMPS-toMPS)/steps
	for i := range steps {
		v := fromMPS - (float64(i)+0.5)*dv
		slows := (1 - p.reserve) * p.mostWheelW(v) / v / p.massKg
		if slows <= 0 {
			slows = approachMPS2
		}
		byRetarder += v * dv / slows
	}
	p.slowed = slowed{fromMPS, toMPS, max(byBrakes, byRetarder)}
	return p.slowed.inM
}

// slowed is a distance in which the truck slows on the level.
type slowed struct{ fromMPS, toMPS, inM float64 }

// engineShareAt is the share of an engine brake that the air at a height leaves.
func (p *problem) engineShareAt(elevationM float64) float64 {
	at := span{highM: elevationM}
	at.setAir(p.slope.hotC)
	return p.truck.EngineShare(max(at.highM, at.thinM))
}

// mostWheelW is the greatest power of the retarder at a speed in any gear, at the crest.
func (p *problem) mostWheelW(speedMPS float64) float64 {
	if p.crestShare == 0 {
		p.crestShare = 1
		if p.hill.ElevationM != nil {
			p.crestShare = p.engineShareAt(p.hill.ElevationM[0])
		}
	}
	share, most := p.crestShare, 0.0
	for g := 1; g <= p.truck.GearCount(); g++ {
		if p.truck.HasEngineSpeed(g, speedMPS) {
			most = max(most, p.wheelPower(g, speedMPS).AtW(share))
		}
	}
	return most
}
