package page

import (
	"fmt"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// mostStretches is the largest number of changes of speed or stage on a page.
const mostStretches = 5

// changedStretches are the stretches of a hold where what the driver sets differs from
// that before, as the unit's whole speeds say it, the first against the answer itself.
func changedStretches(h *catalog.Hold, u catalog.Units) (out []catalog.HoldStretch) {
	last := catalog.HoldStretch{Gear: h.Gear, Levers: h.Levers, SpeedMPS: h.SpeedMPS}
	for _, x := range h.Stretches {
		if x.Gear == last.Gear && u.WholeSpeed(x.SpeedMPS) == u.WholeSpeed(last.SpeedMPS) && slices.Equal(x.Levers, last.Levers) {
			continue
		}
		last = x
		out = append(out, x)
	}
	return out
}

// shownStretches are the changed stretches that a page has room for; isCut says that there are more.
// A driver who stops reading after some of them keeps to the last, which another gear may not hold: of
// changes with shifts a page has all or none.
func shownStretches(h *catalog.Hold, u catalog.Units) (out []catalog.HoldStretch, isCut bool) {
	out = changedStretches(h, u)
	switch {
	case len(out) <= mostStretches:
		return out, false
	case hasShifts(h):
		return nil, true
	}
	return out[:mostStretches], true
}

// hasShifts reports whether the advice by stretch is in more gears than the answer.
func hasShifts(h *catalog.Hold) bool {
	return slices.ContainsFunc(h.Stretches, func(x catalog.HoldStretch) bool { return x.Gear != h.Gear })
}

// asksMore reports whether a driver who has set prev must set more at x: a higher stage or a lower
// speed, or another gear that is no choice.
func asksMore(prev, x *catalog.HoldStretch, h *catalog.Hold) bool {
	if x.Slowing != nil || x.SpeedMPS < prev.SpeedMPS-1e-6 {
		return true
	}
	if x.Gear != prev.Gear {
		return x.Gear == h.Gear
	}
	for i := range x.Levers {
		if i >= len(prev.Levers) || x.Levers[i].Stage > prev.Levers[i].Stage {
			return true
		}
	}
	return false
}

// stretchWords says which settings are allowed on a stretch; both writes a quantity in both units.
func stretchWords(x *catalog.HoldStretch, h *catalog.Hold, both func(func(catalog.Units) string) string) string {
	speed := both(func(u catalog.Units) string { return u.Speed(x.SpeedMPS) })
	if x.Slowing != nil {
		return fmt.Sprintf("SLOW DOWN from here by the service brakes, to %s; foot on the brake until gear %s is in", speed, x.GearLabel())
	}
	levers := wording.Plain(catalog.LeversWords(x.Levers))
	switch {
	case x.Gear != h.Gear:
		return fmt.Sprintf("Or gear %s: %s, at most %s", x.GearLabel(), levers, speed)
	case hasShifts(h):
		return fmt.Sprintf("Gear %s: %s, at most %s", x.GearLabel(), levers, speed)
	}
	return capital(levers) + ", at most " + speed
}
