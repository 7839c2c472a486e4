package signs

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/terrain"
)

// mostPanelRows is the number of lines that a driver can read in passing (common practice, no
// source).
const mostPanelRows = 5

// PanelRow is one line of a weight-and-speed panel: advice to an engineer, from the speeds that its
// classes hold on their retarders alone. Classes of one speed share a line.
type PanelRow struct {
	Class    string   `json:"class"`   // the heaviest of the line
	Classes  []string `json:"classes"` // all of it, by mass
	MassKg   float64  `json:"mass_kg"` // up to this mass, of the heaviest
	Holds    bool     `json:"holds"`
	SpeedMPS float64  `json:"speed_mps"` // 0 where it does not hold
	Legend   string   `json:"legend"`
}

// panelHolds are the holds for a panel: those of the chosen classes, else of the rule set's
// country, else all.
func (rs *RuleSet) panelHolds(in *Input) ([]catalog.Hold, error) {
	if len(in.PanelClasses) > mostPanelRows {
		return nil, &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%d classes for a panel", len(in.PanelClasses)), Fix: fmt.Sprintf("name at most %d", mostPanelRows)}
	}
	var out []catalog.Hold
	for _, id := range in.PanelClasses {
		i := slices.IndexFunc(in.Holds, func(h catalog.Hold) bool { return h.Class == id })
		if i < 0 {
			return nil, &Fault{Kind: catalog.ErrClass, Feature: in.Descent.ID, What: fmt.Sprintf("no advice for class %q is stored with this descent", id), Fix: "name a class that the survey was made for"}
		}
		out = append(out, in.Holds[i])
	}
	if len(out) > 0 || rs.Country == "" {
		return firstOf(out, in.Holds), nil
	}
	for _, h := range in.Holds {
		if strings.HasPrefix(h.Class, rs.Country+"-") {
			out = append(out, h)
		}
	}
	return firstOf(out, in.Holds), nil
}

// firstOf is the first list, or the second where the first is empty.
func firstOf(a, b []catalog.Hold) []catalog.Hold {
	if len(a) > 0 {
		return a
	}
	return b
}

// panel orders the holds by mass and merges equal speeds; a heavier line never shows a
// higher speed than a lighter one. Of more lines than a panel may have the lightest are
// left out: their trucks read the next line, which is slower.
func panel(holds []catalog.Hold, units string) []PanelRow {
	u := people(units)
	sorted := slices.Clone(holds)
	slices.SortStableFunc(sorted, func(a, b catalog.Hold) int {
		return cmp.Or(cmp.Compare(a.MassKg, b.MassKg), cmp.Compare(a.Class, b.Class))
	})
	out := []PanelRow{}
	lowest := math.MaxInt
	held := true
	for _, h := range sorted {
		held = held && h.Holds && h.SpeedMPS > 0 // heavier than one that is not held is not held either
		if held {
			lowest = min(lowest, u.WholeSpeed(h.SpeedMPS))
		}
		r := PanelRow{Class: h.Class, MassKg: h.MassKg, Holds: held}
		if held {
			r.SpeedMPS = float64(lowest) * u.SpeedUnitMPS()
		}
		if n := len(out); n > 0 && out[n-1].Holds == r.Holds && out[n-1].SpeedMPS == r.SpeedMPS {
			r.Classes = out[n-1].Classes
			out = out[:n-1]
		}
		r.Classes = append(r.Classes, h.Class)
		out = append(out, r)
	}
	for i := range out {
		r := &out[i]
		switch {
		case r.Holds:
			r.Legend = fmt.Sprintf("up to %s: %s", mass(units, r.MassKg), u.Speed(r.SpeedMPS))
		case i > 0:
			r.Legend = fmt.Sprintf("over %s: not this hill", mass(units, out[i-1].MassKg))
		default:
			r.Legend = "trucks: not this hill"
		}
	}
	return out[max(0, len(out)-mostPanelRows):]
}

// slowestMPS is the lowest speed that any class holds, in whole mph or km/h; 0 if none does.
func slowestMPS(holds []catalog.Hold, units string) float64 {
	u, lowest := people(units), math.MaxInt
	for _, h := range holds {
		if h.Holds && h.SpeedMPS > 0 {
			lowest = min(lowest, u.WholeSpeed(h.SpeedMPS))
		}
	}
	if lowest == math.MaxInt {
		return 0
	}
	return float64(lowest) * u.SpeedUnitMPS()
}

// panelNotes say which classes a panel by weight leaves out or bars.
func (s *Schedule) panelNotes(on, all []catalog.Hold) []string {
	var out []string
	for _, h := range on {
		i := slices.IndexFunc(s.Panel, func(r PanelRow) bool { return slices.Contains(r.Classes, h.Class) })
		switch {
		case !h.Holds:
			out = append(out, fmt.Sprintf("Class %s at %s is not held by its retarder on this hill: the panel bars it.", h.Class, mass(s.Units, h.MassKg)))
		case i >= 0 && !s.Panel[i].Holds:
			out = append(out, fmt.Sprintf("Class %s at %s holds %s on this hill; the panel bars it, because a lighter truck does not hold and a panel goes by weight alone.",
				h.Class, mass(s.Units, h.MassKg), legendSpeed(s.Units, h.SpeedMPS)))
		case i < 0:
			out = append(out, fmt.Sprintf("Class %s at %s has no line of its own on the panel: the next heavier line applies.", h.Class, mass(s.Units, h.MassKg)))
		}
	}
	if n := len(all) - len(on); n > 0 && len(s.Panel) > 0 {
		out = append(out, fmt.Sprintf("The panel is for %d of %d classes; the others are not on it.", len(on), len(all)))
	}
	return out
}

// PanelTable is the weight-and-speed panel as rows, in the units of u.
func (s *Schedule) PanelTable(u catalog.Units) (header []string, rows [][]string) {
	header = []string{"line", "classes", "up_to_mass", "holds", "speed"}
	for _, r := range s.Panel {
		holds, speed := "no", ""
		if r.Holds {
			holds, speed = "yes", legendSpeed(s.Units, r.SpeedMPS)
		}
		rows = append(rows, []string{r.Legend, strings.Join(r.Classes, "; "), u.MassDown(r.MassKg), holds, speed})
	}
	return header, rows
}
