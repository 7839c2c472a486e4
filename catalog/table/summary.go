package table

import (
	"fmt"
	"io"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// SummaryText writes a mail-sized summary: a few lines a descent, the answer
// for each class, the cautions and the sources, with further notes before the cautions.
func SummaryText(w io.Writer, es []catalog.Entry, u catalog.Units, more ...string) error {
	var b strings.Builder
	classes := wording.Classes(es)
	if wording.AnyInvented(es) {
		b.WriteString(wording.InventedBanner + "\n\n")
	}
	switch len(es) {
	case 0:
		b.WriteString("No descent is listed. That is not an all-clear: check which roads were surveyed, the filters and the gaps.\n")
	case 1:
		b.WriteString("1 sustained downgrade\n")
	default:
		fmt.Fprintf(&b, "%d sustained downgrades\n", len(es))
	}
	for i := range es {
		e := &es[i]
		d := &e.Descent
		fmt.Fprintf(&b, "\n%s\n", wording.Wrap(fmt.Sprintf("%d. %s, %s (%s, %s)", i+1, wording.Title(d), wording.Heading(d), wording.Shortened(wording.Plain(d.Route), wording.MostNameColumns), d.Direction), 72, "", "   "))
		facts := fmt.Sprintf("%s long, drops %s, mean %s, %s over its steepest %s.", u.Length(d.LengthM), u.Height(d.DropM), wording.MeanWithBound(d), wording.Steepest(d.Steepest500Pct, d.Steepest500ErrPct), wording.Window(u, 500))
		if parts := wording.PartsOfHill(d, u); parts != "" {
			facts += " " + parts
		}
		if len(d.Flags) > 0 {
			facts += " Flags: " + strings.Join(d.Flags, ", ") + "."
		}
		b.WriteString(wording.Wrap(facts, 72, "   ", "   ") + "\n")
		for _, line := range answersByKind(e, classes, u) {
			b.WriteString(wording.Wrap(line, 72, "   - ", "     ") + "\n")
		}
		b.WriteString(wording.Wrap(wording.ReviewLine(e), 72, "   ", "   ") + "\n")
	}
	b.WriteString("\n")
	for _, n := range append(written(more), notes(es)...) {
		if n != wording.InventedBanner {
			b.WriteString(wording.Wrap(n, 72, "* ", "  ") + "\n")
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// answersByKind sums up the answers of the classes in at most four lines, the worst first.
func answersByKind(e *catalog.Entry, classes []string, u catalog.Units) []string {
	kinds := []string{"NOT HELD", "unknown", catalog.DryRoadOnly, "holds"}
	by := map[string][]string{}
	for _, c := range classes {
		a, h, why := wording.AnswerFor(e, c)
		kind, text := a.String(), wording.Plain(c)
		switch a {
		case wording.Held:
			text += fmt.Sprintf(" %sgear %s, %s, %s", wording.IfInQuestion(e), h.GearLabel(), wording.Plain(h.StageWords()), u.Speed(h.SpeedMPS))
			if h.IsDryRoadOnly() {
				kind = catalog.DryRoadOnly
			}
		case wording.Unknown:
			text += " (" + wording.Plain(why) + ")"
		}
		by[kind] = append(by[kind], text)
	}
	var out []string
	for _, kind := range kinds {
		if list := by[kind]; len(list) > 0 {
			out = append(out, kind+": "+strings.Join(list, "; "))
		}
	}
	return out
}
