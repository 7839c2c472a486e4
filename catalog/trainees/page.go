package trainees

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/handout"
	"gradeline/catalog/wording"
)

// cleanNeeded is the number of clean drives in a row that the practice plan asks for before the
// next step. Common practice, no source.
const cleanNeeded = 2

// PageOptions hold what a page has besides the trainee.
type PageOptions struct {
	Units   catalog.Units
	On      time.Time // day of printing
	Creator string
}

// Document is the page about a trainee to hand out: where each hill stands, every drive, and what
// the last one leaves to change.
func Document(t *Trainee, o PageOptions) handout.Document {
	d := handout.Document{Title: "Progress of " + wording.Plain(t.Name), Creator: o.Creator,
		Footer: "Personal data; kept by the office in a file of its own. " + catalog.Cautions()[0]}
	add := func(b ...handout.Block) { d.Blocks = append(d.Blocks, b...) }
	if slices.ContainsFunc(t.Drives, func(d Drive) bool { return d.Invented }) {
		d.Banner = wording.InventedBanner
	}
	hills := t.Hills()
	add(handout.Blanks{Labels: []string{"Trainee", "Instructor", "Date"}},
		handout.Paragraph{Text: fmt.Sprintf("As on file on %s. A drive is clean where its recording covers the hill and proves nothing to change; what it could not show is listed as open. Before the next hill: %d clean drives in a row (common practice, no source), and the instructor's word.", o.On.Format("2006-01-02"), cleanNeeded)},
		handout.Heading{Text: "Where it stands"})
	table := handout.Table{Head: []string{"Hill", "Class", "Drives", "Clean in a row", "Last drive", "Signed off"}, Share: 0.3}
	for i := range hills {
		h := &hills[i]
		last := &h.Drives[len(h.Drives)-1]
		table.Rows = append(table.Rows, []string{h.Hill, h.Class, fmt.Sprint(len(h.Drives)), fmt.Sprint(h.CleanOnEnd()), last.day(), signedWords(h)})
	}
	if len(hills) == 0 {
		add(handout.Paragraph{Text: "No drive is on file."})
		return d
	}
	add(table)
	for i := range hills {
		add(hillBlocks(&hills[i], o.Units)...)
	}
	return d
}

// signedWords says who signed a hill off, and whether later drives bear it out.
func signedWords(h *HillDrives) string {
	s := h.SignOff
	if s == nil {
		return "no"
	}
	words := fmt.Sprintf("%s by %s, after %s", s.On.Format("2006-01-02"), s.Instructor, wording.Counted(s.Drives, "drive"))
	if !h.wasCleanThen() {
		words += ", the last of which was NOT CLEAN"
	}
	switch n, clean := h.Since(); {
	case n > 0 && clean:
		words += fmt.Sprintf("; %s since, all clean", wording.Counted(n, "drive"))
	case n > 0:
		words += fmt.Sprintf("; %s since, NOT ALL CLEAN", wording.Counted(n, "drive"))
	}
	return words
}

// hillBlocks are one hill's drives, the change from the first to the last, and what is left to do.
func hillBlocks(h *HillDrives, u catalog.Units) []handout.Block {
	out := []handout.Block{handout.Heading{Text: fmt.Sprintf("%s, %s", h.Hill, h.Class)}}
	t := handout.Table{Head: []string{"Drive", "Mass", "Before the crest", "Over advised", "Highest", "Out of gear", "Service brakes", "Brake check"}, Share: 0.13}
	for i := range h.Drives {
		t.Rows = append(t.Rows, h.Drives[i].row(u))
	}
	out = append(out, t)
	if words := change(h, u); words != "" {
		out = append(out, handout.Paragraph{Text: words})
	}
	last := &h.Drives[len(h.Drives)-1]
	if s := h.SignOff; s != nil {
		note := ""
		if s.Note != "" {
			note = " Note: " + s.Note
		}
		out = append(out, handout.Paragraph{Text: "Signed off: " + signedWords(h) + "." + note, Strong: true})
	} else if n := h.CleanOnEnd(); n >= cleanNeeded {
		out = append(out, handout.Paragraph{Text: fmt.Sprintf("Not signed off. Clean drives in a row: %d of %d. The instructor decides.", n, cleanNeeded), Strong: true})
	} else {
		out = append(out, handout.Paragraph{Text: fmt.Sprintf("Not signed off. Clean drives in a row: %d of %d.", n, cleanNeeded), Strong: true})
	}
	for _, part := range []struct {
		words string
		items []string
	}{{"Last drive, well done", last.WellDone}, {"Last drive, to change", last.ToChange}, {"Not shown by its recording", last.Open}} {
		if len(part.items) > 0 {
			out = append(out, handout.Paragraph{Text: part.words + ":"}, handout.List{Items: part.items})
		}
	}
	return out
}

// day is the day of a drive.
func (d *Drive) day() string {
	if d.At.IsZero() {
		return "no clock; added " + d.Added.Format("2006-01-02")
	}
	return d.At.Format("2006-01-02")
}

func (d *Drive) row(u catalog.Units) []string {
	over := "no advice"
	switch {
	case d.AdvisedMPS > 0 && d.OverS > 0:
		over = fmt.Sprintf("%s of %s", seconds(d.OverS), seconds(d.OnHillS))
	case d.AdvisedMPS > 0:
		over = "never"
	}
	if d.CoveredPct < 98 {
		over += fmt.Sprintf(", on %.0f %% recorded", math.Floor(d.CoveredPct))
	}
	highest := driven(u, d.MostMPS)
	if d.AdvisedMPS > 0 {
		highest += ", advised " + u.Speed(d.AdvisedMPS)
	}
	neutral := "no"
	if d.NeutralS > 0 {
		neutral = seconds(d.NeutralS)
	}
	return []string{d.day(), u.Mass(d.MassKg), d.Crest, over, highest, neutral, d.brakes(), d.BrakeCheck}
}

// brakes describes the use of the service brakes, as far as the recording shows it.
func (d *Drive) brakes() string {
	words := "switch not recorded"
	if u := d.Applied; u != nil {
		switch {
		case u.Count == 0:
			words = "off"
		case u.Drags > 0:
			words = fmt.Sprintf("dragged, %s in one go", seconds(u.LongestS))
		default:
			words = fmt.Sprintf("on %d times, %s in all", u.Count, seconds(u.TotalS))
		}
	}
	if d.MustWorkJ >= 0.05e6 {
		words += fmt.Sprintf("; must have worked, %.1f MJ", d.MustWorkJ/1e6)
	}
	return words
}

// change compares the first drive with the last; empty for a single one.
func change(h *HillDrives, u catalog.Units) string {
	n := len(h.Drives)
	if n < 2 {
		return ""
	}
	a, b := &h.Drives[0], &h.Drives[n-1]
	words := fmt.Sprintf("From the first drive to the last: over the advised speed for %s, then %s; highest speed %s, then %s; points to change %d, then %d",
		seconds(a.OverS), seconds(b.OverS), driven(u, a.MostMPS), driven(u, b.MostMPS), len(a.ToChange), len(b.ToChange))
	if a.Applied != nil && b.Applied != nil {
		words += fmt.Sprintf("; service brakes on for %s, then %s", seconds(a.Applied.TotalS), seconds(b.Applied.TotalS))
	}
	words += "."
	if math.Abs(a.MassKg-b.MassKg) > 0.05*a.MassKg {
		words += " The masses differ: the drives are not alike."
	}
	if math.Abs(a.AdvisedMPS-b.AdvisedMPS) > 0.1 {
		words += " The advised speed differs: the advice has changed."
	}
	return words
}

// driven writes a driven speed to the nearest unit, as the debrief does: it is not advice.
func driven(u catalog.Units, speedMPS float64) string {
	return fmt.Sprintf("%.0f %s", speedMPS/u.SpeedUnitMPS(), u.SpeedName())
}

// seconds is a time in minutes and seconds.
func seconds(timeS float64) string {
	n := int(math.Round(timeS))
	if n < 60 {
		return fmt.Sprintf("%d s", n)
	}
	return fmt.Sprintf("%d min %02d s", n/60, n%60)
}
