package holding

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// words explains an answer in two plain sentences that an instructor can read
// out. No figure is more precise than its error: rpm to 50, whole per cent and minutes.
func (p *problem) words(h *catalog.Hold, u catalog.Units) string {
	if !h.Holds {
		return p.wordsNotHeld(h, u)
	}
	speed, length := u.Speed(h.SpeedMPS), u.Length(p.hill.LengthM())
	at := minutes(p.hill.LengthM() / h.SpeedMPS)
	if len(p.truck.Retarders) == 0 {
		return fmt.Sprintf("Before the crest be in gear %s and at %s, about %.0f rpm; this truck has no retarder, and with the foot off the fuel engine drag alone holds that for all %s with the service brakes unused, using at most %.0f %% of it, in about %s. %s",
			h.GearLabel(), speed, roundTo(h.EngineRPM, 50), length, math.Ceil(h.RetarderUsePct-1e-9), at, p.whyWords(h, u))
	}
	if h.SpeedLowMPS == 0 {
		return fmt.Sprintf("Before the crest be in gear %s and at %s; rolling and air resistance alone hold that for all %s, in about %s. %s",
			h.GearLabel(), speed, length, at, p.whyWords(h, u))
	}
	band := ""
	if h.SpeedLowMPS < h.SpeedMPS {
		band = fmt.Sprintf("; switch the stage off at %s and on again at %s", u.Speed(h.SpeedLowMPS), speed)
	}
	return fmt.Sprintf("Before the crest be in gear %s and at %s, about %.0f rpm; %s holds that for all %s with the service brakes unused, using at most %.0f %% of the retarder's power, in about %s%s. %s",
		h.GearLabel(), speed, roundTo(h.EngineRPM, 50), h.StageWords(), length, math.Ceil(h.RetarderUsePct-1e-9), at, band, p.whyWords(h, u))
}

// whyWords names the limit of the speed, and the assumptions where it is the truck's own power.
func (p *problem) whyWords(h *catalog.Hold, u catalog.Units) string {
	why := p.limitWords(h, u)
	switch h.LimitedBy {
	case catalog.LimitEngineSpeed, catalog.LimitRetarder, catalog.LimitSustained, catalog.LimitFreeRolling:
		return strings.TrimSuffix(why, ".") + "; " + p.windWords(u)
	}
	return why
}

// limitWords names the limit of the speed.
func (p *problem) limitWords(h *catalog.Hold, u catalog.Units) string {
	low := p.binding(p.massKg)
	switch h.LimitedBy {
	case catalog.LimitEngineSpeed:
		if h.Gear == p.truck.GearCount() {
			return fmt.Sprintf("Faster, the %s would pass its governed %.0f rpm in top gear.", p.engineWord(), p.truck.EngineMaxRPM)
		}
		return fmt.Sprintf("Faster, the %s would pass its governed %.0f rpm in this gear, and the next gear does not hold the truck.", p.engineWord(), p.truck.EngineMaxRPM)
	case catalog.LimitRetarder:
		if len(p.truck.Retarders) == 0 {
			return fmt.Sprintf("Faster, the hill would need more than engine drag gives with %.0f %% in reserve.", h.ReservePct)
		}
		return fmt.Sprintf("Faster, the hill would need more than the retarder's power less the reserve of %.0f %%.", h.ReservePct)
	case catalog.LimitFriction:
		return "Faster, the stage that holds it would lock the wheels even on a dry road."
	case catalog.LimitSustained:
		if p.truck.IsElectric() {
			return "Faster, recuperation would give more power than the battery takes for a long time."
		}
		return "Faster, a retarder would give off more heat than its cooling carries for a long time; high up, in hot air and at low engine speed it carries less."
	case catalog.LimitPosted:
		return fmt.Sprintf("The posted limit of %s sets the speed; the %s would hold more.", u.Speed(low.SpeedMPS), h.HolderWord())
	case catalog.LimitCurve:
		return fmt.Sprintf("The tightest curve sets the speed (%s); on the straight the %s would hold more.", strings.TrimSpace(radiusWords(low.NoteIn(u))), h.HolderWord())
	case catalog.LimitStopping, catalog.LimitFoot:
		return "The service brakes must still make an emergency stop from this speed, and that sets it."
	case catalog.LimitFreeRolling, catalog.LimitTruckSpeed:
		return fmt.Sprintf("The truck's own limit of %s sets the speed; the %s would hold more.", u.Speed(low.SpeedMPS), h.HolderWord())
	}
	return "This is the highest speed that the answer allows."
}

// radiusWords is the part of a curve's note in front of its source.
func radiusWords(note string) string {
	head, _, _ := strings.Cut(note, ":")
	return head
}

func (p *problem) wordsNotHeld(h *catalog.Hold, u catalog.Units) string {
	if h.LimitedBy == catalog.LimitFriction {
		most := math.Floor(vehicle.DryFriction()*100+1e-9) / 100
		const doNot = " Do not take it down this hill: what the wheels cannot hold would fall to the service brakes, which must stay cold for the emergency."
		if h.FrictionApplied > h.FrictionNeeded {
			return fmt.Sprintf("The driven wheels cannot grip enough to hold this truck at %s on this hill, even on a dry road: the stage that holds it, when it is switched on, would lock them, needing a friction of %.2f where no more than %.2f may be used.",
				u.Mass(h.MassKg), catalog.ShownFriction(h.FrictionApplied), most) + doNot
		}
		return fmt.Sprintf("The driven wheels cannot grip enough to hold this truck at %s on this hill, even on a dry road: they would need a friction of %.2f, and of a dry road's no more than %.2f may be used.",
			u.Mass(h.MassKg), catalog.ShownFriction(h.FrictionNeeded), most) + doNot
	}
	power := fmt.Sprintf("%.0f kW", math.Ceil(h.MissingPowerW/1000))
	if u == catalog.US {
		power = fmt.Sprintf("%.0f hp", math.Ceil(h.MissingPowerW/vehicle.HorsepowerW))
	}
	lead, heaviest := "No gear holds this truck at", p.heaviestWords(h, u)
	if len(p.truck.Retarders) == 0 {
		lead = "This truck has no retarder, and engine drag alone holds it in no gear at"
	}
	first := fmt.Sprintf("%s %s on this hill: in gear %s at %s, where least is missing, it lacks %s of retarding power, and %s.",
		lead, u.Mass(h.MassKg), p.truck.GearName(p.lackGear), u.Speed(p.lackMPS), power, heaviest)
	if h.MissingPowerW <= 0 && h.LimitedBy == catalog.LimitEngineSpeed {
		first = fmt.Sprintf("%s %s on this hill: in the second in which a stage begins to work the %s would pass its governed speed, and %s.", lead, u.Mass(h.MassKg), p.engineWord(), heaviest)
	} else if h.MissingPowerW <= 0 {
		low := p.binding(p.massKg)
		first = fmt.Sprintf("No gear is slow enough: this hill needs %s (%s), and in first gear the retarder works from %s.",
			u.Speed(low.SpeedMPS), low.Reason, u.Speed(p.truck.SpeedFromRPM(1, p.truck.EngineMinRPM)+0.999*u.SpeedUnitMPS()))
	}
	if why := p.fullBatteryWords(h, u); why != "" {
		first = why + strings.ToLower(first[:1]) + first[1:]
	}
	if h.ServiceBrakeTempC == nil {
		return first + " It does not take this hill."
	}
	hot := heatWords(p.truck.ServiceBrakes, *h.ServiceBrakeTempC)
	if hot == "" { // a low temperature is not a reason
		return first + " The service brakes would have to do the rest all the way down, and they must stay cold for the emergency, so it does not take this hill."
	}
	return fmt.Sprintf("%s The service brakes doing the rest would reach about %s%s, so it does not take this hill.",
		first, roundedTemp(u, *h.ServiceBrakeTempC), hot)
}

// heaviestWords says which mass holds.
func (p *problem) heaviestWords(h *catalog.Hold, u catalog.Units) string {
	if h.HeaviestMassKg < p.class.MassMinKg {
		return "no load of this class holds, not even the empty truck"
	}
	return "the heaviest that holds is " + u.MassDown(h.HeaviestMassKg)
}

// engineWord names what drives the wheels.
func (p *problem) engineWord() string {
	if p.truck.IsElectric() {
		return "motor"
	}
	return "engine"
}

// roundedTemp writes a temperature to 50 degrees: the models agree no better.
func roundedTemp(u catalog.Units, tempC float64) string {
	if u == catalog.US {
		return fmt.Sprintf("%.0f °F", roundTo(catalog.FFromC(tempC), 50))
	}
	return fmt.Sprintf("%.0f °C", roundTo(tempC, 50))
}

func heatWords(b vehicle.ServiceBrakes, tempC float64) string {
	switch {
	case tempC >= b.FadeFromC():
		return ", where poor linings fade"
	case tempC > b.WorkingToC():
		return ", beyond their working range"
	}
	return ""
}

func minutes(timeS float64) string {
	if m := math.Round(timeS / 60); m >= 2 {
		return fmt.Sprintf("%.0f minutes", m)
	} else if m >= 1 {
		return "a minute"
	}
	return "half a minute"
}
