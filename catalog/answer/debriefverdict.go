package answer

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"gradeline/catalog"
	"gradeline/catalog/debrief"
	"gradeline/catalog/wording"
)

// verdict writes three lines that a trainer reads out: the good points, what to change, and what
// the recording cannot show, with the signal that would show it.
func (p debriefPage) verdict() {
	p.section("Verdict")
	p.line("Well done: %s", p.listed(p.wellDone(), "Nothing that this recording proves."))
	p.line("To change: %s", p.listed(p.toChange(), "Nothing that this recording proves."))
	p.line("Open: %s", p.listed(p.open(), "Nothing of these."))
}

func (p debriefPage) listed(items []string, none string) string {
	if len(items) == 0 {
		return none
	}
	for i, x := range items {
		items[i] = capital(x)
	}
	return strings.Join(items, " ")
}

// capital begins a sentence with a capital.
func capital(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}

// headline is the verdict in one line for the drawing: what to change comes first.
func (p debriefPage) headline() string {
	change := p.toChange()
	if len(change) == 0 {
		return p.overWords()
	}
	more := ""
	if n := len(change) - 1; n > 0 {
		more = fmt.Sprintf(" And %d more.", n)
	}
	return "To change: " + p.listed(change[:1], "") + more
}

// share says of how much of the hill a statement is, where that is not all of it.
func (p debriefPage) share() string {
	if p.d.CoveredPct >= 98 {
		return ""
	}
	return fmt.Sprintf(", on the %.0f %% recorded", math.Floor(p.d.CoveredPct))
}

// wellDone lists what the recording shows to be right.
func (p debriefPage) wellDone() []string {
	d := p.d
	var out []string
	say := func(on bool, format string, a ...any) {
		if on {
			out = append(out, fmt.Sprintf(format, a...))
		}
	}
	if stop := brakeCheckStop(d.Places); stop != nil {
		say(true, "stopped at the brake check area %s for %s.", wording.OneLine(stop.Name), clockTime(stop.StopS))
	}
	say(d.HasAdvice && d.Crest.Verdict == debrief.CrestKept, "gear and speed were right before the crest.")
	say(d.HasAdvice && d.Crest.Verdict == debrief.CrestSpeedKept, "the speed was right before the crest.")
	say(d.HasAdvice && !d.IsBeyond && len(d.Over) == 0 && len(d.Neutral) == 0, "nowhere certainly over the advised %s%s.", p.units.Speed(d.AdvisedMPS), p.share())
	say(d.Applied != nil && d.Applied.Count == 0 && d.Applied.KnownPct >= 98 && !d.Applied.IsSparse && len(d.Brakes.Conflicts) == 0, "the service brakes stayed off%s.", p.share())
	return out
}

// brakeCheckStop is the first brake check area before the crest that was stopped at; nil for none.
func brakeCheckStop(places []debrief.PassedPlace) *debrief.PassedPlace {
	for i := range places {
		if x := &places[i]; x.Kind == catalog.BrakeCheck && x.DistanceM <= 50 && x.StopS > 0 {
			return x
		}
	}
	return nil
}

// toChange lists what the recording shows to be wrong, the worst first.
func (p debriefPage) toChange() []string {
	d, b := p.d, &p.d.Brakes
	var out []string
	say := func(on bool, format string, a ...any) {
		if on {
			out = append(out, fmt.Sprintf(format, a...))
		}
	}
	say(d.IsBeyond, "this mass is not covered by the advice: plan the hill for it.")
	say(len(d.Neutral) > 0, "%s", strings.TrimSpace(p.outWords()))
	say(d.Crest.Verdict == debrief.CrestTooFast, "be down to %s before the crest: the truck came at %s.", p.units.Speed(d.AdvisedMPS), p.speed(d.Crest.SpeedMPS))
	say(d.Crest.Verdict == debrief.CrestGearLate, "have the gear in before the crest.")
	say(len(d.Over) > 0, "keep to %s: it was over for %s, up to %s%s.", p.units.Speed(d.AdvisedMPS), clockTime(d.OverS), p.speed(p.mostOver()), p.share())
	say(d.HighGearUnheldM > 0, "use gear %s or a lower one: in a higher one it was over the advised speed or on the service brakes for %s.", catalog.GearLabel(d.AdvisedName, d.AdvisedGear), p.units.Length(d.HighGearUnheldM))
	say(len(b.Events) > 0, "let gear and retarder carry the hill: the service brakes must have worked, at least %s.", p.energy(b.AtLeastJ))
	if u := d.Applied; u != nil && u.Count > 0 {
		say(u.Drags > 0, "do not drag the service brakes: on for %s in one go.", clockTime(u.LongestS))
		say(u.Drags == 0, "keep the service brakes for the emergency: %s", p.useWords(u))
	}
	for i := range d.Places {
		if x := &d.Places[i]; x.Kind == catalog.BrakeCheck && x.DistanceM <= 50 {
			say(x.StopS == 0 && !x.IsUnseen, "stop at the brake check area %s.", wording.OneLine(x.Name))
		}
	}
	return out
}

// mostOver is the highest speed of the stretches over the advised one.
func (p debriefPage) mostOver() float64 {
	most := 0.0
	for _, o := range p.d.Over {
		most = max(most, o.MostMPS)
	}
	return most
}

// open lists the main points that the recording cannot show, each with the signal that would show it.
func (p debriefPage) open() []string {
	d := p.d
	var out []string
	say := func(on bool, format string, a ...any) {
		if on {
			out = append(out, fmt.Sprintf(format, a...))
		}
	}
	say(!d.HasBrakeSignal, "whether the service brakes did the retarder's work (record the brake switch).")
	say(!d.HasGear && len(d.Neutral) == 0, "the gear (record the gear or the engine speed).")
	say(!d.IsSpeedOwn, "short excesses (record the speed).")
	say(d.HasAdvice && d.Crest.Verdict == debrief.CrestCannotTell, "what was done before the crest (record from before the brake check area on).")
	say(d.CoveredPct < 98, "%.0f %% of the hill, where no points are.", math.Ceil(100-d.CoveredPct))
	say(d.MassIsTaken, "the mass (give it).")
	return out
}

// useWords describes the use of the service brakes by their switch.
func (p debriefPage) useWords(u *debrief.BrakeUse) string {
	if u.Count == 0 {
		return "By their switch the service brakes were not on" + p.share() + "."
	}
	times := "once"
	if u.Count > 1 {
		times = fmt.Sprintf("%d times", u.Count)
	}
	s := fmt.Sprintf("on %s, %s in all, the longest %s, %s.", times, clockTime(u.TotalS), clockTime(u.LongestS), p.stretch(u.FromM, u.ToM))
	if u.Drags > 0 {
		s += fmt.Sprintf(" Dragged for %s in %d of them; the others are snubs.", clockTime(u.DragS), u.Drags)
		if u.Drags == u.Count {
			s = strings.TrimSuffix(s, "; the others are snubs.") + "."
		}
	}
	if u.IsSparse {
		s += " Points are too far apart to count short ones."
	}
	return s
}

// places lists the places along the way, with the stops at them.
func (p debriefPage) places() {
	if len(p.d.Places) == 0 {
		return
	}
	p.section("Places on record along the drive")
	for i := range p.d.Places {
		x := &p.d.Places[i]
		stop := "passed"
		if x.IsUnseen {
			stop = "no points there"
		}
		if x.StopS > 0 {
			stop = "stopped there for " + clockTime(x.StopS)
		}
		p.line("- %s %s, %s: %s", x.Kind.Words(), wording.OneLine(x.Name), p.place(x.DistanceM), stop)
	}
}
