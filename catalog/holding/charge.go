package holding

import (
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// charging is a power at the wheels while the battery takes recuperation, or when it is full.
func charging(w vehicle.WheelPower, isCharging bool) vehicle.WheelPower {
	if !isCharging {
		w.RecuperationW = 0
	}
	return w
}

// whileCharging is the heaviest mass that is held, of one that is held with recuperation and
// for whose descent the battery has room, and one that is held without it.
func (p *problem) whileCharging(heaviestKg func(isCharging bool) float64) float64 {
	if math.IsInf(p.chargeKg, 1) {
		return heaviestKg(true)
	}
	return max(heaviestKg(false), min(heaviestKg(true), p.chargeKg))
}

// crestChargePct is the highest charge at the crest for which advice is requested.
func (p *problem) crestChargePct(b vehicle.Battery) float64 {
	if p.opt.ChargePct != nil {
		return *p.opt.ChargePct
	}
	return b.CrestPct
}

// workPerKg is the most energy that the hill supplies to each kilogram, J/kg: the pull of every
// piece at the steep end of its mean's bound. Air resistance, losses on the way to the battery and
// other retarders are ignored: the battery is never fuller than that.
func (p *problem) workPerKg() float64 {
	pieces, length := p.slope.heatPieces()
	work := 0.0
	for i := range pieces {
		work += max(0, pieces[i].force(p.v.gradePct, p.truck).pullMPS2) * length
	}
	return work
}

// chargedKg is the heaviest mass whose descent the battery has room for; +Inf for a truck
// without recuperation and on a hill that does not pull.
func (p *problem) chargedKg() float64 {
	b, ok := p.truck.Battery()
	if !ok {
		return math.Inf(1)
	}
	if p.isTooCold() {
		return 0
	}
	work := p.workPerKg()
	if work <= 0 {
		return math.Inf(1)
	}
	return b.RoomJ(p.crestChargePct(b)) / work
}

// coldBatteryC is the air below which recuperation is not counted: lithium cells may not be
// charged below freezing, and whether the truck heats them is not known (from memory).
const coldBatteryC = 0.0

func (p *problem) isTooCold() bool {
	coldC, _ := p.opt.airTempsC()
	return coldC != nil && *coldC < coldBatteryC
}

// charge is the effect of the hill on the battery; nil for a truck without recuperation.
func (p *problem) charge() *catalog.Charge {
	b, ok := p.truck.Battery()
	if !ok {
		return nil
	}
	work := p.massKg * p.workPerKg()
	out := catalog.Charge{
		AtCrestPct: p.crestChargePct(b), FullPct: b.FullPct, EnergyJ: work, RoomJ: b.RoomJ(p.crestChargePct(b)),
		MostAtCrestPct: math.Floor(b.FullPct - 100*work/(b.CapacityWh*catalog.JPerWh) + 1e-9),
		IsCounted:      p.massKg <= p.chargeKg, IsTooCold: p.isTooCold(),
	}
	if out.IsCounted || out.IsTooCold {
		return &out
	}
	pieces, length := p.slope.heatPieces()
	left := out.RoomJ
	for i := range pieces {
		left -= p.massKg * max(0, pieces[i].force(p.v.gradePct, p.truck).pullMPS2) * length
		if left < 0 {
			at := float64(i) * length // where the piece begins: no later than where it is full
			out.FullBelowCrestM = &at
			break
		}
	}
	return &out
}

// chargeCaution states the charge needed at the crest, or that the battery becomes full on the way.
func chargeCaution(c *catalog.Charge, u catalog.Units) string {
	kwh := func(j float64) float64 { return j / catalog.JPerWh / 1000 }
	switch {
	case c.IsTooCold:
		return "Recuperation is not counted in air below freezing: a cold battery takes little or nothing (from memory)."
	case c.IsCounted:
		return fmt.Sprintf("Only with the battery at %.0f %% or less at the crest: the hill puts in up to %.0f kWh, and at %.0f %% it takes no more. Fuller, this advice does not hold.",
			max(c.AtCrestPct, c.MostAtCrestPct), math.Ceil(kwh(c.EnergyJ)), c.FullPct)
	case c.MostAtCrestPct < 0:
		return fmt.Sprintf("Recuperation is not counted: the hill puts in up to %.0f kWh, more than the battery takes at any charge.", math.Ceil(kwh(c.EnergyJ)))
	}
	from := ""
	if c.FullBelowCrestM != nil && *c.FullBelowCrestM > 0 {
		from = fmt.Sprintf(", from about %s below the crest on", u.LengthDown(*c.FullBelowCrestM))
	}
	return fmt.Sprintf("Recuperation is not counted: from %.0f %% at the crest the battery takes %.0f kWh, and the hill puts in up to %.0f kWh. Once it is full%s, the friction brakes would have to do the work. It would take the whole hill from %.0f %% or less at the crest.",
		c.AtCrestPct, math.Floor(kwh(c.RoomJ)), math.Ceil(kwh(c.EnergyJ)), from, c.MostAtCrestPct)
}

// fullBatteryWords is the reason why recuperation is not counted, and what would hold with room in the
// battery; empty where it is counted.
func (p *problem) fullBatteryWords(h *catalog.Hold, u catalog.Units) string {
	switch k := h.Charge; {
	case k == nil || k.IsCounted:
		return ""
	case k.IsTooCold:
		return "Recuperation is not counted in air below freezing, and without it: "
	case k.MostAtCrestPct < 0:
		return "The hill puts in more than the battery takes at any charge, so recuperation is not counted, and without it: "
	default:
		q := p.with(variant{})
		q.chargeKg, q.memo, q.isAskedOnce = math.Inf(1), nil, true
		would := "even with room in the battery nothing holds it"
		if whole, at := q.best(); at.gear > 0 {
			would = fmt.Sprintf("from %.0f %% or less at the crest gear %s holds it at %s", k.MostAtCrestPct, p.truck.GearName(at.gear), u.Speed(p.speed(whole)))
		} else if at.hasSlid {
			would = "even with room in the battery the driven wheels would not grip enough"
		}
		return fmt.Sprintf("From %.0f %% at the crest the battery is full before the foot, so recuperation is not counted; %s. Without it: ", k.AtCrestPct, would)
	}
}

// ownDragW is the drag of the drive with every retarder off: the grade-severity model's engine,
// nothing for a motor.
func (p *problem) ownDragW() float64 {
	if p.truck.IsElectric() {
		return 0
	}
	return p.heatModel.EngineDragHP * catalog.HorsepowerW
}
