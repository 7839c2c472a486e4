package answer

import (
	"io"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// PlainGrade is the advice for one plain grade.
type PlainGrade struct {
	Schema   string       `json:"schema"`
	GradePct float64      `json:"downgrade_pct"`
	LengthM  float64      `json:"length_m"`
	Hold     catalog.Hold `json:"hold"`
	Cautions []string     `json:"cautions"`

	className string
}

// NewPlainGrade is the answer for a grade and the advice on it; className is the truck's
// name for people.
func NewPlainGrade(gradePct, lengthM float64, className string, h catalog.Hold) *PlainGrade {
	return &PlainGrade{catalog.Schema, gradePct, lengthM, h, catalog.Cautions(), className}
}

// WriteText writes the answer, then the reasons.
func (a *PlainGrade) WriteText(w io.Writer, u catalog.Units) error {
	l := &lines{w: w, units: u}
	h := &a.Hold
	l.printf("%s at %s\n%s\n", wording.WithoutMass(a.className), u.MassDown(h.MassKg), wording.Wrapped(wordsIn(h, u), textCols, 0))
	switch {
	case h.Holds:
		l.item("gear %s (%.2f), %s, %s, %.0f rpm, %.0f %% of the %s; limited by: %s", h.GearLabel(), h.Ratio, h.StageWords(), u.Speed(h.SpeedMPS), h.EngineRPM, math.Ceil(h.RetarderUsePct-1e-9), h.HolderWord(), h.LimitedBy)
	case h.LimitedBy == catalog.LimitFriction:
		l.item("NOT HELD: the driven wheels cannot grip enough; this truck does not take this hill")
	default:
		l.item("NOT HELD: this truck does not take this hill at this mass")
	}
	l.item("holds up to: %s", h.HoldsUpTo(u))
	l.behind(h)
	for _, d := range h.Defaults {
		l.item("default used: %s", d)
	}
	l.cautions(h.CautionsIn(u))
	return l.err
}

// wordsIn explains a hold in two sentences.
func wordsIn(h *catalog.Hold, u catalog.Units) string {
	if u == catalog.US {
		return h.Words.US
	}
	return h.Words.Metric
}

// behind writes the reasons for the advice: what happens one gear higher, how close the advice is
// to the limit, what else limits the speed, and what the service brakes would reach.
func (l *lines) behind(h *catalog.Hold) {
	u := l.units
	if up := h.OneGearUpIn(u); up != "" {
		l.item("one gear higher: %s", up)
	}
	if len(h.Stretches) > 1 {
		for i := range h.Stretches {
			l.item("by stretch, %s", wording.Stretch(&h.Stretches[i], u))
		}
	}
	for _, x := range h.Sensitivity {
		l.item("if %s: %s", x.Change, x.OutcomeWords(u))
	}
	for _, c := range h.Limits {
		note := ""
		if c.Note != "" {
			note = " (" + c.NoteIn(u) + ")"
		}
		l.item("ceiling, %s: %s%s", c.Reason, u.Speed(c.SpeedMPS), note)
	}
	if n := len(h.Heat); n > 0 && h.LimitedBy != catalog.LimitFriction {
		last := h.Heat[n-1]
		l.item("why not to rely on the service brakes (%s): at the foot about %s by the grade-severity model, %s by heat balance, %.0f %% of their cold force left", h.HeatCaseIn(u), u.Temp(last.TempC), u.Temp(last.BalanceC), 100*last.ForceShare)
	}
}
