package page

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
)

// held fills the page for a class that holds, first the figures to set.
func (s *Sheet) held(p *sheetPage, h *catalog.Hold) {
	p.Head = "HOLDS ON THE RETARDER ALONE"
	if h.IsDryRoadOnly() {
		p.Narrowed = catalog.DryRoadOnly
	}
	p.Boxes = append(append([]sheetBox{s.gearBox(h)}, s.leverBoxes(h)...),
		sheetBox{"Speed at most", s.Units.Speed(h.SpeedMPS), s.bandOf(h)},
		sheetBox{"Engine", wording.Thousands(math.Round(h.EngineRPM/10) * 10), "rpm at that speed"})
	p.GearIn = fmt.Sprintf("Gear %s in, %s: %s.", h.GearLabel(), wording.Plain(h.StageWords()), s.gearPoint(h))
	p.Facts = append(p.Facts, s.surfaces(h)...)
	for _, x := range h.Limits {
		if x.Reason == catalog.LimitPosted && x.SpeedMPS > 0 {
			p.Facts = append(p.Facts, sheetFact{factPosted, s.both(func(u catalog.Units) string { return u.Speed(x.SpeedMPS) })})
		}
	}
	p.Facts = append(p.Facts, sheetFact{factReserve, strings.TrimSpace(s.useWords(h) + " " + s.halfRetarder(h))})
	if up := h.OneGearUpIn(s.Units); up != "" {
		p.Facts = append(p.Facts, sheetFact{"One gear up", capital(wording.Plain(up))})
	}
	s.rise(p, h)
	p.Cautions = append(p.Cautions, automatedGearbox)
}

// automatedGearbox is on every page that gives a gear, since classes do not say who shifts (common
// practice, no source).
const automatedGearbox = "A gearbox that shifts by itself: lock the gear in manual mode before the crest."

// speakOfEngineDrag puts a held page into the words of a truck without a retarder.
func (p *sheetPage) speakOfEngineDrag() {
	words := strings.NewReplacer("retarder on", "foot off the fuel", "the retarder alone", "engine drag alone", "half the retarder lost", "half of the drag lost", "its retarding power", "the engine's drag", "min on the retarder", "min on engine drag", "; retarder answers", "")
	p.Head = "HOLDS ON ENGINE DRAG ALONE: NO RETARDER"
	p.Rise = each(p.Rise, words.Replace)
	facts := slices.Clone(p.Facts)
	for i := range facts {
		facts[i].Text = words.Replace(facts[i].Text)
	}
	p.Facts = facts
}

func (s *Sheet) gearBox(h *catalog.Hold) sheetBox {
	b := sheetBox{"Gear", wording.Plain(h.GearLabel()), "no shift on the grade"}
	if h.Ratio > 0 {
		b.Small = fmt.Sprintf("ratio %.2f; no shift", h.Ratio)
	}
	return b
}

// leverBoxes are one box for each retarding device that has a lever of its own.
func (s *Sheet) leverBoxes(h *catalog.Hold) []sheetBox {
	var out []sheetBox
	for _, l := range h.Levers {
		b := sheetBox{shortLever(l.Retarder), wording.StageName(l.Stage), "stage of its lever"}
		if len(h.Levers) == 1 {
			b.Small = s.useInBox(h)
		}
		if l.Stage > 0 {
			b.Big = fmt.Sprintf("%d of %d", l.Stage, l.Stages)
		}
		out = append(out, b)
	}
	if len(out) == 0 {
		out = append(out, sheetBox{"Retarder stage", wording.StageName(h.Stage), s.useInBox(h)})
	}
	return out
}

// shortLever is a retarder's short name for a box, without its size or position.
func shortLever(name string) string {
	s := capital(wording.Plain(name))
	for _, end := range []string{", ", " on the "} {
		if i := strings.Index(s, end); i > 0 {
			s = s[:i]
		}
	}
	return s
}

// shortLevers writes each retarder as its box does, where that is enough to tell them apart. The
// list of places is written so; the line under the boxes has the whole names while there is room.
func shortLevers(h *catalog.Hold) *strings.Replacer {
	var pairs []string
	seen := map[string]bool{}
	for i := range levers(h) {
		name := h.Levers[i].Retarder
		long, short := wording.Plain(name), uncapital(shortLever(name), name)
		if seen[short] {
			return strings.NewReplacer()
		}
		seen[short] = true
		if short != long {
			pairs = append(pairs, long, short, capital(long), capital(short))
		}
	}
	return strings.NewReplacer(pairs...)
}

func levers(h *catalog.Hold) []catalog.Lever {
	if h == nil {
		return nil
	}
	return h.Levers
}

// uncapital writes a name's first letter as the long name does.
func uncapital(short, long string) string {
	if long := wording.Plain(long); strings.HasPrefix(capital(long), short) {
		return long[:len(short)]
	}
	return short
}

// useInBox is the share of the retarder in use, for a box.
func (s *Sheet) useInBox(h *catalog.Hold) string {
	if h.Stage == 0 {
		return "no retarder needed"
	}
	return fmt.Sprintf("%.0f %% in use", math.Ceil(h.RetarderUsePct))
}

// bandOf is the band of speed to keep, in the first units, with its top in the others.
func (s *Sheet) bandOf(h *catalog.Hold) string {
	other := s.other().Speed(h.SpeedMPS)
	if !(h.SpeedLowMPS > 0) || h.SpeedLowMPS >= h.SpeedMPS {
		return other
	}
	return fmt.Sprintf("keep %d–%s (%s)", s.Units.WholeSpeed(h.SpeedLowMPS), s.Units.Speed(h.SpeedMPS), other)
}

// gearPoint says where the gear must be in, at the latest at the crest.
func (s *Sheet) gearPoint(h *catalog.Hold) string {
	at := s.distanceM(h.GearByM)
	where := "by the crest"
	if at < -1 {
		where = s.both(func(u catalog.Units) string { return u.LengthUp(-at) }) + " before the crest"
	} else if at >= 10 {
		where = s.both(func(u catalog.Units) string { return u.Length(at) }) + " below the crest"
	}
	if l := s.lastBefore(h.GearByM); l != "" {
		where += "; " + l
	}
	return where
}

// surfaces is one sentence for each kind of road surface.
func (s *Sheet) surfaces(h *catalog.Hold) []sheetFact {
	var out []sheetFact
	for i := range h.Surfaces {
		x := &h.Surfaces[i]
		name, rest, found := strings.Cut(wording.Plain(x.Sentence()), ": ")
		if !found {
			name, rest = "Road", wording.Plain(x.Sentence())
		}
		if x.Surface == "dry" || x.Surface == catalog.SurfaceWet {
			name += " road"
		}
		out = append(out, sheetFact{capital(name), capital(rest)})
	}
	if len(out) == 0 && len(h.SurfacesOut) > 0 { // a hold of an older catalogue
		out = append(out, sheetFact{"Road", "NOT on " + wording.Plain(strings.Join(h.SurfacesOut, ", ")) + ": the wheels that the retarder turns would slide."})
	}
	return out
}

func (s *Sheet) useWords(h *catalog.Hold) string {
	if h.Stage == 0 && len(h.Levers) == 0 || h.LimitedBy == catalog.LimitFreeRolling {
		return "Rolling and air resistance hold the truck: the retarder stays off."
	}
	return fmt.Sprintf("Uses %.0f %% of its retarding power at the worst place.", math.Ceil(h.RetarderUsePct))
}

// halfRetarder is the instruction for a failure of half of the retarder.
func (s *Sheet) halfRetarder(h *catalog.Hold) string {
	for _, x := range h.Sensitivity {
		if x.Change != holding.ChangeHalfRetarder {
			continue
		}
		if !x.Holds {
			return "With half the retarder lost nothing holds: stop at the first safe place."
		}
		gear := "gear " + h.GearLabel()
		if x.Gear < h.Gear {
			gear = "a lower gear"
		}
		return fmt.Sprintf("With half the retarder lost: %s, at most %s.", gear, s.both(func(u catalog.Units) string { return u.Speed(x.SpeedMPS) }))
	}
	return ""
}

// firmBrakeMPS is how far under the mark one firm application of the service brakes takes the truck.
const firmBrakeMPS = 5 * catalog.MilePerHourMPS

// rise is the instruction for a speed above the mark. The firm application
// down to 5 mph under the mark follows the braking technique of the model
// commercial driver licence manual (AAMVA), from memory; so does what to look for
// where there is no ramp.
func (s *Sheet) rise(p *sheetPage, h *catalog.Hold) {
	p.RiseHead = "If speed rises past " + s.both(func(u catalog.Units) string { return u.Speed(h.SpeedMPS) })
	under := math.Max(0, h.SpeedMPS-firmBrakeMPS)
	brake := "Service brakes: one firm application down to " + s.both(func(u catalog.Units) string { return u.Speed(under) }) + ", then release. Never drag them."
	if under < firmBrakeMPS {
		brake = "Service brakes: one firm application down to walking pace, then release. Never drag them."
	}
	p.Rise = []string{
		fmt.Sprintf("Stay in gear %s, retarder on. ", h.GearLabel()) + brake,
		"If it rises past the mark again: brake to a full stop at the first safe place while the service brakes are cool.",
	}
	if v := h.RecoverySpeedMPS; v != nil && *v > h.SpeedMPS {
		p.Rise = append(p.Rise, fmt.Sprintf("Too fast already: from up to %s the retarder alone brings the truck back. Faster: service brakes at once, down to that.",
			s.both(func(u catalog.Units) string { return u.Speed(*v) })))
	}
	p.Rise = append(p.Rise, "If brakes fade or air runs low: "+s.ramps())
}

// ramps names the escape ramps along the hill, and what to do past the last of them.
func (s *Sheet) ramps() string {
	var at []string
	for _, x := range s.sorted() {
		if x.Kind == catalog.EscapeRamp {
			d := s.distanceM(*x.StationM)
			if d <= 0 {
				continue // of no use once over the crest
			}
			at = append(at, s.both(func(u catalog.Units) string { return u.Length(d) }))
		}
	}
	const without = "stay in gear, retarder on; look for a side road, field or rising ground."
	if len(at) == 0 {
		return "no escape ramp is on record: " + without
	}
	return "escape ramp " + strings.Join(at[:min(len(at), 4)], ", ") + " below the crest. Past the last one: " + without
}

// notHeld gives the reason first. Neither a missing power nor a brake temperature may read as if
// there were a way down.
func (s *Sheet) notHeld(p *sheetPage, h *catalog.Hold) {
	p.Head = "NOT HELD"
	if h.LimitedBy == catalog.LimitFriction {
		p.Says = []string{
			"The driven wheels cannot grip enough to hold this truck, even on a dry road: " + frictionWords(h.FrictionNeeded, vehicle.DryFriction()),
			"Do not take this truck down this hill.",
			"Another load needs a page of its own: not every lighter one grips better.",
		}
		return
	}
	by := "on the retarder alone"
	if slices.ContainsFunc(h.Cautions, func(c string) bool { return strings.HasPrefix(c, holding.NoRetarder) }) {
		by = "by engine drag alone, and it has no retarder"
	}
	p.Says = []string{"Do not take this truck down this hill at this mass: no gear holds it " + by + "."}
	if h.HeaviestMassKg > 0 {
		p.Says = append(p.Says, "Heaviest mass that holds: "+s.both(func(u catalog.Units) string { return u.MassDown(h.HeaviestMassKg) })+".")
	} else {
		p.Says = append(p.Says, "No mass of this class holds.")
	}
	isFull := h.Charge != nil && !h.Charge.IsCounted
	if isFull { // the missing power at walking pace would read as if little were missing
		p.Facts = append(p.Facts, sheetFact{"Battery", "takes less than this hill puts in: the motors' braking ends on the way and is not counted."})
	}
	if h.MissingPowerW > 0 && !isFull {
		p.Facts = append(p.Facts, sheetFact{"Missing", s.both(func(u catalog.Units) string {
			w := wording.PowerUnit(u)
			return wording.Thousands(math.Ceil(h.MissingPowerW/w.Factor-1e-9)) + " " + w.Name
		}) + " of retarding power at the worst place."})
	}
	brakes := "must not be used instead: they must stay cold for the emergency."
	if t := h.ServiceBrakeTempC; t != nil && *t > vehicle.WorkingToC {
		brakes = "must not be used instead: doing the rest they would reach " + s.both(func(u catalog.Units) string { return u.Temp(*t) }) + "."
	}
	p.Facts = append(p.Facts, sheetFact{"Service brakes", brakes})
}

// frictionWords compare the friction needed with what may be used. Figures that round to one are said
// as such, since "needed 0.40, 0.40 may be used" reads as enough.
func frictionWords(needed, may float64) string {
	n, m := math.Ceil(needed*100-1e-9)/100, math.Floor(may*100+1e-9)/100
	if n <= m {
		return fmt.Sprintf("friction needed just over %.2f, and no more than %.2f may be used.", m, m)
	}
	return fmt.Sprintf("friction needed %.2f, and no more than %.2f may be used.", n, m)
}

// headPt is the size of the page's head; prohibitions are larger.
func (p *sheetPage) headPt() float64 {
	if !p.Held {
		return narrowedPt
	}
	return 13
}

// narrowedPt is the size of prohibitions and restrictions, the same for NOT HELD and DRY ROAD ONLY.
const narrowedPt = 30

// HeadClass is the same for the HTML page's style.
func (p sheetPage) HeadClass() string {
	if !p.Held {
		return "bar big"
	}
	return "bar"
}

// PlacesHead is the heading of the list of actions and places.
func (p sheetPage) PlacesHead() string {
	const head = "In order of the road: distance past the crest, or before it"
	if p.WithoutPicture {
		return head
	}
	return head + " (numbers as on the profile)"
}
