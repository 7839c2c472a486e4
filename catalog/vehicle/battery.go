package vehicle

import "gradeline/catalog"

// Battery is the battery that recuperation charges. Charges are per cent of CapacityWh.
// Recuperation is counted on a hill only where the most energy that the hill can supply fits
// between the highest charge at the crest and the charge at which the battery is full. After that
// the friction brakes have to do the rest.
type Battery struct {
	CapacityWh float64
	CrestPct   float64 // highest charge that the truck has at a crest
	FullPct    float64 // charge from which the battery takes no more
}

// RoomJ is the energy that the battery can store from a charge at the crest on.
func (b Battery) RoomJ(crestPct float64) float64 {
	return max(0, b.FullPct-crestPct) / 100 * b.CapacityWh * catalog.JPerWh
}

// Battery is that of the truck's recuperation, or of its trailer's electric axle; false
// where there is none.
func (t *Truck) Battery() (Battery, bool) {
	for i := range t.Retarders {
		if b := t.Retarders[i].Battery; b.CapacityWh > 0 {
			return b, true
		}
	}
	return Battery{}, false
}

// IsElectric reports whether a motor and no engine drives the truck.
func (t *Truck) IsElectric() bool {
	return t.stagesOf(Recuperation) > 0 && !t.hasEngineBrake() && len(t.EngineDrag) == 0
}
