package page

import (
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
)

// surfaceWet is the name of a wet road among vehicle.Surfaces.
const surfaceWet = "wet"

// headPt is the size of the page's head: what forbids or narrows is larger.
func (p *sheetPage) headPt() float64 {
	switch {
	case !p.Held:
		return 30
	case p.DryOnly:
		return 19
	}
	return 13
}

// HeadClass is the same for the HTML page's style.
func (p sheetPage) HeadClass() string {
	switch {
	case !p.Held:
		return "bar big"
	case p.DryOnly:
		return "bar mid"
	}
	return "bar"
}

// notHeld gives the reason first. Neither a missing power nor a temperature of
// the service brakes may read as a way down.
func (s *Sheet) notHeld(p *sheetPage, h *catalog.Hold) {
	p.Head = "NOT HELD"
	if h.LimitedBy == catalog.LimitFriction {
		p.Says = []string{
			fmt.Sprintf("The driven wheels cannot grip enough to hold this truck, even on a dry road: friction needed %.2f, and no more than %.2f may be used.",
				math.Ceil(h.FrictionNeeded*100-1e-9)/100, math.Floor(vehicle.DryFriction()*100+1e-9)/100),
			"Do not take this truck down this hill.",
			"No mass of this class holds: a lighter load grips no better.",
		}
		return
	}
	p.Says = []string{"Do not take this truck down this hill at this mass: no gear holds it on the retarder alone."}
	if h.HeaviestMassKg > 0 {
		p.Says = append(p.Says, "Heaviest mass that holds: "+s.both(func(u catalog.Units) string { return u.MassDown(h.HeaviestMassKg) })+".")
	} else {
		p.Says = append(p.Says, "No mass of this class holds.")
	}
	if h.MissingPowerW > 0 {
		p.Facts = append(p.Facts, sheetFact{"Missing", s.both(func(u catalog.Units) string {
			w := wording.PowerUnit(u)
			return wording.Thousands(math.Ceil(h.MissingPowerW/w.Factor-1e-9)) + " " + w.Name
		}) + " of retarding power at the worst place."})
	}
	brakes := "are no way down: they must stay cold for the emergency."
	if t := h.ServiceBrakeTempC; t != nil && *t > vehicle.WorkingToC {
		brakes = "are no way down: doing the rest they would reach " + s.both(func(u catalog.Units) string { return u.Temp(*t) }) + "."
	}
	p.Facts = append(p.Facts, sheetFact{"Service brakes", brakes})
}

// stageOf is a stage for a box, stageWords for a sentence; of how many, where
// that is known.
func (s *Sheet) stageOf(stage int) string {
	if stage > 0 && s.Stages >= stage {
		return fmt.Sprintf("%d of %d", stage, s.Stages)
	}
	return wording.StageName(stage)
}

func (s *Sheet) stageWords(stage int) string {
	if stage == 0 {
		return "off"
	}
	return "on stage " + s.stageOf(stage)
}
