package answer

import (
	"fmt"
	"io"
	"math"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/debrief"
	"gradeline/catalog/wording"
)

// debriefPage writes a debrief for people.
type debriefPage struct {
	*lines
	d *debrief.Debrief
}

// speed writes a driven speed to the nearest unit: it is not advice.
func (p debriefPage) speed(speedMPS float64) string {
	return fmt.Sprintf("%.0f %s", speedMPS/p.units.SpeedUnitMPS(), p.units.SpeedName())
}

// clock writes a moment, or the time since the start of a recording without dates.
func (p debriefPage) clock(t time.Time) string {
	if !p.d.IsClock {
		return clockTime(t.Sub(p.d.Begin).Seconds()) + " after its start"
	}
	return t.Format("15:04:05") + " UTC"
}

// when writes from when to when the run was.
func (p debriefPage) when() string {
	d := p.d
	if !d.IsClock {
		return "from " + p.clock(d.From) + " to " + p.clock(d.To)
	}
	return d.From.Format("2006-01-02 15:04:05") + " to " + p.clock(d.To)
}

// outWords says in one line that the truck was out of gear; empty if it was not.
func (p debriefPage) outWords() string {
	d := p.d
	if len(d.Neutral) == 0 {
		return ""
	}
	return fmt.Sprintf("OUT OF GEAR for %s of %s on this hill. ", clockTime(d.NeutralS), clockTime(math.Max(d.OnHillS, d.NeutralS)))
}

// along writes a distance along the hill.
func (p debriefPage) along(distanceM float64) string {
	if distanceM = math.Abs(distanceM); p.units == catalog.US && distanceM >= 0.2*catalog.MileM {
		return fmt.Sprintf("%.2f mi", catalog.MiFromM(distanceM))
	} else if p.units == catalog.Metric && distanceM >= 300 {
		return fmt.Sprintf("%.2f km", distanceM/1000)
	}
	return p.units.Length(distanceM)
}

// place writes a distance from the crest.
func (p debriefPage) place(distanceM float64) string {
	switch s := p.along(distanceM); {
	case s == "0 m" || s == "0 ft":
		return "at the crest"
	case distanceM < 0:
		return s + " before the crest"
	default:
		return s + " below the crest"
	}
}

// stretch writes from where to where.
func (p debriefPage) stretch(fromM, toM float64) string {
	if fromM < 0 {
		return "from " + p.place(fromM) + " to " + p.place(toM)
	}
	return p.along(fromM) + " to " + p.along(toM) + " below the crest"
}

func (p debriefPage) line(format string, a ...any) {
	p.printf("  %s\n", wording.Wrapped(fmt.Sprintf(format, a...), 90, 4))
}

// overWords compares the speed with the advice in one line.
func (p debriefPage) overWords() string {
	d := p.d
	switch {
	case !d.HasAdvice:
		return fmt.Sprintf("No advice to compare with. Highest speed on the hill: %s, %s.", p.speed(d.MostMPS), p.place(d.MostAtM))
	case len(d.Over) == 0 && d.MostMPS <= d.AdvisedMPS: // rounded down as the advice is, so that 13.9 does not read as over 13
		return fmt.Sprintf("Nowhere over the advised %s; highest speed %s, %s.", p.units.Speed(d.AdvisedMPS), p.units.Speed(d.MostMPS), p.place(d.MostAtM))
	case len(d.Over) == 0:
		unit := p.units.SpeedUnitMPS()
		return fmt.Sprintf("Nowhere certainly over the advised %s: the highest speed, %.1f %s, is over it (%.1f unrounded) by no more than the recording's error of ± %.1f, %s.",
			p.units.Speed(d.AdvisedMPS), d.MostMPS/unit, p.units.SpeedName(), d.AdvisedMPS/unit, math.Ceil(10*math.Max(d.SpeedErrMPS, d.MostMPS-d.AdvisedMPS)/unit)/10, p.place(d.MostAtM))
	}
	stretches := "1 stretch"
	if len(d.Over) > 1 {
		stretches = fmt.Sprintf("%d stretches", len(d.Over))
	}
	return fmt.Sprintf("Over the advised %s for %s of %s, in %s; highest speed %s, %s.",
		p.units.Speed(d.AdvisedMPS), clockTime(d.OverS), clockTime(d.OnHillS), stretches, p.speed(d.MostMPS), p.place(d.MostAtM))
}

// crestWords says whether gear and speed were right before the crest.
func (p debriefPage) crestWords() string {
	d, c := p.d, &p.d.Crest
	where, gear := p.place(c.GearByM), catalog.GearLabel(d.AdvisedName, d.AdvisedGear)
	if c.GearByM < 0 { // as on the driver's page, rounded up
		where = p.units.LengthUp(-c.GearByM) + " before the crest"
	}
	s := ""
	switch c.Verdict {
	case debrief.CrestTooFast:
		s = fmt.Sprintf("TOO FAST. Gear %s and %s are due %s; the truck came there at %s", gear, p.units.Speed(d.AdvisedMPS), where, p.speed(c.SpeedMPS))
		if c.SpeedMPS-c.SpeedErrMPS > c.GearMostMPS {
			s += fmt.Sprintf(", too fast for gear %s to be in (its governed speed is %s)", gear, p.speed(c.GearMostMPS))
		}
		s += "."
		if c.CrestMPS > 0 {
			s += fmt.Sprintf(" At the crest: %s.", p.speed(c.CrestMPS))
		}
		if c.DownByIsKnown {
			s += fmt.Sprintf(" Down to the advised speed %s.", p.place(c.DownByM))
		} else {
			s += " It was never down to the advised speed."
		}
	case debrief.CrestGearLate:
		s = fmt.Sprintf("GEAR TOO LATE. Gear %s is due %s; ", gear, where)
		if c.GearIsKnown {
			s += fmt.Sprintf("it was in %s.", p.place(c.GearInAtM))
		} else {
			s += "it was never in."
		}
	case debrief.CrestKept:
		s = fmt.Sprintf("Kept: gear %s or lower in and %s where they are due, %s.", gear, p.speed(c.SpeedMPS), where)
	case debrief.CrestSpeedKept:
		s = fmt.Sprintf("Speed kept: %s where %s is due, %s. The gear is not recorded.", p.speed(c.SpeedMPS), p.units.Speed(d.AdvisedMPS), where)
	case debrief.CrestNeutral:
		if c.IsNeutral {
			s = fmt.Sprintf("NOT KEPT: OUT OF GEAR where gear %s is due, %s.", gear, where)
		} else {
			s = fmt.Sprintf("NOT KEPT: whatever was in where gear %s is due (%s), the truck was OUT OF GEAR later on.", gear, where)
		}
	case debrief.CrestNotCovered:
		s = fmt.Sprintf("No verdict: THE ADVICE DOES NOT COVER THIS MASS. The truck came %s at %s.", where, p.speed(c.SpeedMPS))
	default:
		s = "The recording does not show it."
	}
	return s
}

// energy writes joules and how many stops they are.
func (p debriefPage) energy(energyJ float64) string {
	from := "60 km/h"
	if p.units == catalog.US {
		from = "37 mph"
	}
	mj, stops := fmt.Sprintf("%.1f MJ", energyJ/1e6), fmt.Sprintf("%.1f stops", energyJ/p.d.Brakes.StopJ)
	if energyJ >= 9.95e6 {
		mj = fmt.Sprintf("%.0f MJ", energyJ/1e6)
	}
	if n := math.Round(energyJ / p.d.Brakes.StopJ); n >= 10 {
		stops = fmt.Sprintf("%.0f stops", n)
	}
	return fmt.Sprintf("%s (as much as %s from %s)", mj, stops, from)
}

// WriteText writes the debrief: speeds, the crest, the service brakes, stops, and what the
// recording does not show.
func (a *Debrief) WriteText(w io.Writer, u catalog.Units) error {
	p := debriefPage{&lines{w: w, units: u}, &a.Debrief}
	p.head(a)
	p.verdict()
	p.neutral()
	p.speeds()
	if p.d.HasAdvice {
		p.section("Before the crest")
		p.line("%s", p.crestWords())
	}
	p.brakes()
	p.stops()
	p.places()
	p.section("What this recording does not show")
	for _, t := range p.d.CannotTell {
		p.line("- %s", t)
	}
	if gaps := a.Gaps(); len(gaps) > 0 {
		p.section("Gaps")
		for _, g := range gaps {
			p.line("- %s", wording.OneLine(g))
		}
	}
	p.cautions(nil)
	return p.err
}

// head names the drive, the hill and the advice that it is compared with.
func (p debriefPage) head(a *Debrief) {
	d, e := p.d, a.entry
	p.banner(e.Provenance.Invented)
	p.printf("Debrief of %s\n", recordingName(&a.Recording))
	p.line("%s (%s), %s at %s", wording.Title(&e.Descent), e.Descent.ID, d.Class, p.units.Mass(d.MassKg))
	p.line("%s; run %d of %d down this hill; %d points, one every %.3g s", p.when(), d.Pass, d.Passes, d.Points, d.SampleS)
	if a.Recording.Note != "" {
		p.line("%s", wording.OneLine(a.Recording.Note))
	}
	for _, t := range wording.FlagWords(e.Descent.Flags) {
		p.line("%s", t)
	}
	p.line("%s", wording.ReviewLine(e))
	known, h, why := wording.AnswerFor(e, d.Class)
	switch {
	case h != nil && d.MassKg > h.MassKg+1:
		p.line("THE ADVICE DOES NOT COVER THIS MASS: it is for %s, and a heavier truck needs a lower speed or is not held at all.", p.units.Mass(h.MassKg))
	case h != nil && d.MassKg < h.MassKg-1:
		p.line("The advice is for %s, whatever the drive's mass.", p.units.Mass(h.MassKg))
	case d.MassIsTaken:
		p.line("Its mass is not given: the advice is for the class's upper end.")
	}
	switch known {
	case wording.NotHeld:
		p.line("%s", "NOT HELD: no gear holds this class on this hill; it is not for this truck.")
	case wording.Unknown:
		p.line("The advice for this class is unknown: %s.", why)
	}
}

// neutral says where the truck was out of gear, if it was.
func (p debriefPage) neutral() {
	d := p.d
	if len(d.Neutral) == 0 {
		return
	}
	p.section("OUT OF GEAR")
	p.line("%sIn neutral an engine's retarder does nothing, and it may be impossible to engage a gear again.", p.outWords())
	for _, x := range d.Neutral {
		p.line("- %s: %s, up to %s", p.stretch(x.FromM, x.ToM), clockTime(x.TimeS), p.speed(x.MostMPS))
	}
	if !d.HasGear {
		p.line("The recording never names a gear: check that its recorder knows one, and does not write neutral for \"not known\".")
	}
}

func (p debriefPage) speeds() {
	d := p.d
	p.section("Speed")
	p.line("%s", p.overWords())
	for _, o := range d.Over {
		p.line("- %s: %s, up to %s", p.stretch(o.FromM, o.ToM), clockTime(o.TimeS), p.speed(o.MostMPS))
	}
	if d.OverMPS > 0 {
		p.line("The most over it, less the recording's error of ± %.1f %s: %s.", d.SpeedErrMPS/p.units.SpeedUnitMPS(), p.units.SpeedName(), p.speed(d.OverMPS))
	}
}

func (p debriefPage) stops() {
	p.section("Stops")
	if len(p.d.Stops) == 0 {
		p.line("%s", "None.")
	}
	for _, x := range p.d.Stops {
		p.line("- %s, %s, from %s", p.place(x.AtM), clockTime(x.TimeS), p.clock(x.At))
	}
}

func (p debriefPage) section(title string) { p.printf("\n%s\n", title) }

func (p debriefPage) brakes() {
	b := &p.d.Brakes
	p.section("Service brakes, by the balance of energies")
	mass := ""
	if p.d.MassIsTaken {
		mass = fmt.Sprintf(" \"At least\" is for the lightest truck of the class, \"at most\" for %s, as no mass is given.", p.units.Mass(p.d.MassKg))
	}
	if b.AtLeastJ >= 0.05e6 {
		p.line("They took at least %s, if the retarder did all it can; at most %s, if it did nothing.%s", p.energy(b.AtLeastJ), p.energy(b.AtMostJ), mass)
	} else {
		p.line("The recording proves no use of them: the retarder, doing all it can, could have done it alone. At most they took %s, if it did nothing.%s", p.energy(b.AtMostJ), mass)
	}
	for _, x := range b.Events {
		p.line("- they must have worked %s: %s to %s in %s, at least %s", p.stretch(x.FromM, x.ToM), p.speed(x.FromMPS), p.speed(x.ToMPS), clockTime(x.TimeS), p.energy(x.AtLeastJ))
	}
	if use := p.d.Applied; use != nil {
		p.line("%s", p.useWords(use))
	}
	for _, x := range b.Conflicts {
		p.line("- THE RECORDING CONTRADICTS ITSELF %s: service brakes off, yet nothing else could take %s. Check the mass, the class and the signal.", p.stretch(x.FromM, x.ToM), p.energy(x.AtLeastJ))
	}
	p.line("The start temperature is not known; assumed is %s, the model's own value for cool service brakes. From there they reached at least %s and at most %s by the grade-severity model (constants %s), at least %s and at most %s by heat balance (%s); hottest %s. After another hill they start hotter, and \"at most\" is none.",
		p.units.Temp(b.StartC), p.units.Temp(b.Severity.AtLeastC), p.units.Temp(b.Severity.AtMostC), b.Statuses[0].Status, p.units.Temp(b.Balance.AtLeastC), p.units.Temp(b.Balance.AtMostC), b.Statuses[1].Status, p.place(b.Balance.AtM))
}
