package answer

import (
	"fmt"
	"io"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/table"
	"gradeline/catalog/vehicle"
)

// Classes lists weight classes and their trucks.
type Classes struct {
	Schema  string              `json:"schema"`
	Classes []vehicle.ClassView `json:"classes"`

	classes []vehicle.Class
}

// NewClasses is the answer for some classes.
func NewClasses(classes []vehicle.Class) *Classes {
	a := &Classes{Schema: catalog.Schema, Classes: []vehicle.ClassView{}, classes: classes}
	for i := range classes {
		a.Classes = append(a.Classes, classes[i].View())
	}
	return a
}

// WriteText writes a line a class.
func (a *Classes) WriteText(w io.Writer, u catalog.Units) error {
	t := table.Table{Title: "Weight classes", Header: []string{"id", "truck", "from", "advice is for", "gears", "retarders"}}
	for i, v := range a.Classes {
		var kinds []string
		for _, r := range v.Retarders {
			kinds = append(kinds, r.Kind)
		}
		k := &a.classes[i]
		t.Rows = append(t.Rows, []any{k.ID, k.Name, u.Mass(k.MassMinKg), u.MassDown(k.MassMaxKg), len(v.GearRatios), strings.Join(kinds, " + ")})
	}
	t.Notes = []string{"Generic trucks: replace them by your own (gradeline classes template)."}
	return table.WriteText(w, t)
}

// ClassCheck is the advice for classes on standard grades.
type ClassCheck struct {
	Schema   string               `json:"schema"`
	Findings []holding.ClassCheck `json:"findings"`

	count int
}

// CheckClasses takes advice for the classes on standard grades, rounded for a unit system.
func CheckClasses(classes []vehicle.Class, u catalog.Units) (*ClassCheck, error) {
	found, err := holding.Check(classes, u)
	return &ClassCheck{catalog.Schema, found, len(classes)}, err
}

// whyNotHeld is what hold says at length, for a table.
func whyNotHeld(h *catalog.Hold, u catalog.Units) string {
	k := h.Charge
	switch {
	case h.LimitedBy == catalog.LimitFriction:
		return "the stage that would hold it locks the driven wheels"
	case k != nil && !k.IsCounted && k.MostAtCrestPct >= 0 && !k.IsTooCold:
		return fmt.Sprintf("the battery is full on the way; from %.0f %% or less at the crest recuperation counts", k.MostAtCrestPct)
	case k != nil && !k.IsCounted:
		return "the battery does not take the hill"
	case h.MissingPowerW > 0 && u == catalog.US:
		return fmt.Sprintf("lacks %.0f hp", math.Ceil(h.MissingPowerW/catalog.HorsepowerW))
	case h.MissingPowerW > 0:
		return fmt.Sprintf("lacks %.0f kW", math.Ceil(h.MissingPowerW/1000))
	}
	return "see gradeline hold"
}

// WriteText writes a line a class and grade.
func (a *ClassCheck) WriteText(w io.Writer, u catalog.Units) error {
	count := "1 class"
	if a.count != 1 {
		count = fmt.Sprintf("%d classes", a.count)
	}
	t := table.Table{Title: count + ", no fault. On standard grades:",
		Header: []string{"class", "mass", "grade", "length", "advice"}}
	var remarks []string         // each once
	who := map[string][]string{} // the classes that each is about
	for _, f := range a.Findings {
		if f.Hold == nil {
			if len(who[f.Remark]) == 0 {
				remarks = append(remarks, f.Remark)
			}
			who[f.Remark] = append(who[f.Remark], f.Class)
			continue
		}
		advice := adviceWords(f.Hold, u)
		if f.Hold.Holds {
			advice += " (" + f.Hold.LimitedBy + ")"
		} else {
			advice += ": " + whyNotHeld(f.Hold, u)
		}
		t.Rows = append(t.Rows, []any{f.Class, u.MassDown(f.Hold.MassKg), fmt.Sprintf("%.0f %%", f.Grade.DowngradePct), u.Length(f.Grade.LengthM), advice})
	}
	for _, r := range remarks {
		t.Notes = append(t.Notes, strings.Join(who[r], ", ")+": "+r)
	}
	return table.WriteText(w, t)
}
