package debrief

import (
	"fmt"
	"math"
)

// cannotTell says in plain words what the recording does not show.
func (d *Debrief) cannotTell() []string {
	out := []string{}
	say := func(on bool, format string, a ...any) {
		if on {
			out = append(out, fmt.Sprintf(format, a...))
		}
	}
	say(!d.HasAdvice, "Whether the speed was right: there is no advice for this class on this hill to compare with.")
	const gearOpen = " Speeds show only where the advised gear cannot have been in."
	say(!d.HasGear && !d.HasRPM && d.NeutralS == 0, "The gear: there is no engine speed and no gear in it."+gearOpen)
	say(!d.HasGear && d.HasRPM && d.NeutralS == 0, "The gear: its engine speeds fit no gear of this class. Check the class."+gearOpen)
	say(!d.HasGear && d.NeutralS > 0, "Whether the truck was out of gear all the way, or its recorder writes neutral for a gear that it does not know.")
	say(d.MassIsTaken, "The mass: \"at least\" is for the lightest truck of the class, \"at most\" for the heaviest. Give the mass to narrow it.")
	say(true, "How warm the service brakes were at the start: cool ones are taken. After another hill there is no \"at most\" for their temperature.")
	say(!d.HasBrakeSignal, "When the service brakes were on: it has no signal of them. What they took is a range, and braking in place of a retarder that could have done it does not show. Record the brake switch.")
	say(d.HasAdvice && d.Crest.Verdict == CrestCannotTell, "What was done before the crest: it does not reach back, or not reliably enough, to where the gear must be in.")
	say(d.SampleS > 2, "Anything shorter than %.0f s: it has a point every %.0f s.", math.Ceil(2*d.SampleS), d.SampleS)
	say(d.SpeedWindowS > 0, "A short excess: its speeds come from places and are means over %.0f s.", d.SpeedWindowS)
	say(d.CoveredPct < 98, "%.0f %% of the hill: no points there.", math.Ceil(100-d.CoveredPct))
	say(d.HasAdvice && d.SpeedErrMPS > 0.15*d.AdvisedMPS, "Small excesses: its speeds are too imprecise for this hill's advised speed.")
	say(true, "How the load was shared among the brakes: all are assumed equal; the hottest is hotter.")
	return out
}
