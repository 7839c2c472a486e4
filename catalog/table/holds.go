package table

import (
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// holdRow is the data of one row of holds; h is nil where none was computed.
type holdRow struct {
	e      *catalog.Entry
	class  string
	answer wording.Answer
	h      *catalog.Hold
	why    string
}

// holdColumn is a column of the table of holds.
type holdColumn struct {
	header string
	of     func(r *holdRow) any
}

// advised is a column of advice: "none" where the class is not held, nil ("unknown") where that is
// not known.
func advised(header string, of func(h *catalog.Hold) any) holdColumn {
	return holdColumn{header, func(r *holdRow) any {
		switch r.answer {
		case wording.Held:
			return of(r.h)
		case wording.NotHeld:
			return "none"
		}
		return nil
	}}
}

// computed is a column of a figure that is computed for every answer.
func computed(header string, of func(h *catalog.Hold) any) holdColumn {
	return holdColumn{header, func(r *holdRow) any {
		if r.h == nil {
			return nil
		}
		return of(r.h)
	}}
}

// holdColumns are the columns in their order.
func holdColumns(u catalog.Units) []holdColumn {
	far, heavy, power := wording.LengthUnit(u), wording.MassUnit(u), wording.PowerUnit(u)
	speed := " (" + u.SpeedName() + ")"
	return []holdColumn{
		{"Descent", func(r *holdRow) any { return r.e.Descent.ID }},
		{"Name", func(r *holdRow) any { return wording.Title(&r.e.Descent) }},
		{"Class", func(r *holdRow) any { return r.class }},
		computed("Mass ("+heavy.Name+")", func(h *catalog.Hold) any { return down(heavy, h.MassKg) }),
		{"Answer", func(r *holdRow) any { return wording.AnswerWords(r.answer, r.h) }},
		advised("Gear", func(h *catalog.Hold) any { return h.GearLabel() }),
		advised("Retarder", func(h *catalog.Hold) any { return h.StageWords() }),
		advised("Speed"+speed, func(h *catalog.Hold) any { return u.WholeSpeed(h.SpeedMPS) }),
		advised("Band from"+speed, func(h *catalog.Hold) any { return orUnknown(h.SpeedLowMPS > 0, u.WholeSpeed(h.SpeedLowMPS)) }),
		advised("Engine speed (rpm)", func(h *catalog.Hold) any { return Num{h.EngineRPM, 0} }),
		advised("Gear in by station ("+far.Name+")", func(h *catalog.Hold) any { return num(far, h.GearByM, 2) }),
		advised("Time (min)", func(h *catalog.Hold) any { return Num{h.TimeS / 60, 0} }),
		advised("Retarder in use (%)", func(h *catalog.Hold) any { return Num{h.RetarderUsePct, 0} }),
		computed("Limited by", func(h *catalog.Hold) any { return h.LimitedBy }),
		computed("Holds up to ("+heavy.Name+")", func(h *catalog.Hold) any { return down(heavy, h.HoldsUpToKg()) }),
		computed("Power missing ("+power.Name+")", func(h *catalog.Hold) any { return num(power, h.MissingPowerW, 0) }),
		computed("Tyre grip needed", func(h *catalog.Hold) any { return Num{max(h.FrictionNeeded, h.FrictionApplied), 2} }),
		computed("Keep off when", func(h *catalog.Hold) any { return orNone(strings.Join(h.SurfacesOut, ", ")) }),
		advised("Retarder recovers from"+speed, func(h *catalog.Hold) any {
			if h.RecoverySpeedMPS == nil {
				return nil
			}
			return u.WholeSpeed(*h.RecoverySpeedMPS)
		}),
		computed("Weather", func(h *catalog.Hold) any {
			if h.Weather == nil {
				return nil
			}
			return h.Weather.Words(u)
		}),
		{"Why unknown", func(r *holdRow) any { return orNone(r.why) }},
	}
}

// orUnknown returns a figure where it is known, else nil.
func orUnknown(known bool, v any) any {
	if known {
		return v
	}
	return nil
}

// HoldsTable has one row for each descent and class.
func HoldsTable(es []catalog.Entry, u catalog.Units) Table {
	t := Table{Title: "Holds", Notes: notes(es)}
	columns := holdColumns(u)
	for _, c := range columns {
		t.Header = append(t.Header, c.header)
	}
	classes := wording.Classes(es)
	for i := range es {
		for _, class := range classes {
			r := holdRow{e: &es[i], class: class}
			r.answer, r.h, r.why = wording.AnswerFor(r.e, class)
			row := make([]any, len(columns))
			for k, c := range columns {
				row[k] = c.of(&r)
			}
			t.Rows = append(t.Rows, row)
		}
	}
	return t
}
