package signs

import (
	"fmt"
	"math"
	"sort"

	"gradeline/catalog"
)

// PanelRow is one line of a weight-and-speed panel: advice to an engineer, from
// what each class holds on its retarder alone.
type PanelRow struct {
	Class    string  `json:"class"`
	MassKg   float64 `json:"mass_kg"` // up to this mass
	Holds    bool    `json:"holds"`
	SpeedMPS float64 `json:"speed_mps"` // 0 where it does not hold
	Legend   string  `json:"legend"`
}

// panel orders the holds by mass; a heavier line never shows a higher speed than
// a lighter one. It also returns the lowest speed that any class holds.
func panel(holds []catalog.Hold, units string) ([]PanelRow, float64) {
	out := make([]PanelRow, 0, len(holds))
	u := people(units)
	for _, h := range holds {
		r := PanelRow{Class: h.Class, MassKg: h.MassKg, Holds: h.Holds && h.SpeedMPS > 0}
		if r.Holds {
			r.SpeedMPS = float64(u.WholeSpeed(h.SpeedMPS)) * u.SpeedUnitMPS()
		}
		out = append(out, r)
	}
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].MassKg != out[j].MassKg {
			return out[i].MassKg < out[j].MassKg
		}
		return out[i].Class < out[j].Class
	})
	lowest := math.Inf(1)
	held := true
	for i := range out {
		r := &out[i]
		held = held && r.Holds // heavier than one that is not held is not held either
		if r.Holds = held; held {
			lowest = math.Min(lowest, r.SpeedMPS)
			r.SpeedMPS = lowest
			r.Legend = fmt.Sprintf("up to %s: %s", mass(units, r.MassKg), u.Speed(r.SpeedMPS))
			continue
		}
		r.SpeedMPS = 0
		r.Legend = fmt.Sprintf("%s: not this hill", mass(units, r.MassKg))
	}
	if math.IsInf(lowest, 1) {
		lowest = 0
	}
	return out, lowest
}
