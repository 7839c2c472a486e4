package page

import (
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

// stretchWords says which settings are allowed on a stretch; both writes a quantity in both units.
func stretchWords(x *catalog.HoldStretch, h *catalog.Hold, both func(func(catalog.Units) string) string) string {
	t := capital(wording.Plain(catalog.LeversWords(x.Levers))) + ", at most " + both(func(u catalog.Units) string { return u.Speed(x.SpeedMPS) })
	if x.Gear != h.Gear {
		t += ", gear " + x.GearLabel()
	}
	return t
}
