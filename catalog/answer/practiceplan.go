package answer

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/handout"
	"gradeline/catalog/ranking"
	"gradeline/catalog/table"
	"gradeline/catalog/wording"
)

// mastered is the skill that a trainee must show on the grade below before the next one, by the
// kind of part that makes the next one harder. Common practice, no source.
var mastered = []struct{ kind, words string }{
	{ranking.PartSteep, "Says from the page, before the crest, which gear and stage the next hill needs, and why one gear higher is too high."},
	{ranking.PartTime, "Keeps the band of speed down the complete hill without being reminded."},
	{ranking.PartUse, "Says how much of the retarder is in reserve, and what to do at the top of the band."},
	{ranking.PartCurve, "Slows for a curve by stage and gear before it, not in it."},
	{ranking.PartBench, "Does not shift up on a bench, and says why."},
	{ranking.PartTraffic, "Keeps the distance to slower traffic on the retarder."},
	{ranking.PartPlaces, "Has found a place to stop on the map, and has visited it with the instructor."},
}

// toMaster lists what is shown before a step of the ladder; r is the step, below the one
// before it, nil for the first.
func toMaster(below, r *ranking.Rung) []string {
	if below == nil {
		return []string{"Does the brake check alone, by the list.", "Reads the driver's page aloud: gear, stage, band, and where the gear must be in."}
	}
	out := []string{fmt.Sprintf("%s twice: the gear in before the crest, the speed in the band, the service brakes cold at the foot.", wording.Shortened(below.Name, wording.MostNameColumns))}
	kinds := ranking.HarderKinds(below, r)
	for _, m := range mastered {
		if slices.Contains(kinds, m.kind) {
			out = append(out, m.words)
		}
	}
	return out
}

// days writes the plan by days.
func (l *lines) days(a *Practice) {
	number := map[string]int{}
	for i := range a.Ladder {
		number[a.Ladder[i].Descent] = i + 1
	}
	if len(a.Days) > 0 {
		l.printf("\n")
	}
	for i := range a.Days {
		l.setIn(0, "%s", dayWords(&a.Days[i], number))
	}
}

// dayWords is one day of the plan; number gives each grade's step.
func dayWords(d *ranking.PracticeDay, number map[string]int) string {
	var steps []string
	for _, id := range d.Rungs {
		steps = append(steps, fmt.Sprint(number[id]))
	}
	words := fmt.Sprintf("Day %d: step %s.", d.Day, strings.Join(steps, ", "))
	if len(steps) > 1 {
		words = fmt.Sprintf("Day %d: steps %s.", d.Day, strings.Join(steps, ", "))
	}
	if d.Repeat != "" {
		words = strings.Replace(words, ": ", fmt.Sprintf(": step %d once more, then ", number[d.Repeat]), 1)
	}
	return words
}

// Write writes the plan to hand out, in the form that the file's name ends in: HTML, PDF
// or XLSX.
func (a *Practice) Write(w io.Writer, file, paper string, u catalog.Units) error {
	switch lower := strings.ToLower(file); {
	case strings.HasSuffix(lower, ".xlsx"):
		return table.WriteXLSX(w, []table.Table{a.Table(u)})
	case strings.HasSuffix(lower, ".pdf"):
		var newest time.Time
		for i := range a.entries {
			if at := a.entries[i].Provenance.At; at.After(newest) {
				newest = at
			}
		}
		return handout.PDF(w, a.Document(u), paper, newest)
	}
	return handout.HTML(w, a.Document(u))
}

// Document is the plan to hand out: the ladder, the days, and a sheet for each step.
func (a *Practice) Document(u catalog.Units) handout.Document {
	d := handout.Document{Title: "Practice grades for " + a.className, Footer: "For practice with an instructor. " + catalog.Cautions()[0]}
	if len(a.entries) > 0 {
		d.Creator = a.entries[0].Provenance.Tool
	}
	if wording.AnyInvented(a.entries) {
		d.Banner = wording.InventedBanner
	}
	say := func(b ...handout.Block) { d.Blocks = append(d.Blocks, b...) }
	say(handout.Paragraph{Text: "Easiest first. The driver's page of each hill says gear, stage, band and places: take it along. Posted signs, local rules, the maker's limits and the instructor come first."})
	if len(a.Ladder) == 0 {
		say(handout.Paragraph{Strong: true, Text: "None: no descent is held with the requested margin."})
	}
	rows, number := [][]string{}, map[string]int{}
	for i := range a.Ladder {
		r := &a.Ladder[i]
		number[r.Descent] = i + 1
		rows = append(rows, []string{fmt.Sprintf("%d. %s", i+1, wording.Shortened(r.Name, wording.MostNameColumns)), fmt.Sprintf("%s at %.1f %%", u.Length(r.LengthM), r.MeanDowngradePct),
			fmt.Sprintf("%s, %s, %s", r.GearName, wording.Plain(r.StageWords()), u.Speed(r.SpeedMPS)), fmt.Sprintf("%.0f %%", math.Floor(r.MarginPct)), fmt.Sprintf("%.1f", r.DifficultyScore)})
	}
	say(handout.Table{Head: []string{"Step", "Length and mean", "Gear and at most", "In reserve", "Difficulty"}, Rows: rows, Share: 0.4})
	for i := range a.Days {
		say(handout.Paragraph{Text: dayWords(&a.Days[i], number)})
	}
	for i := range a.Ladder {
		var below *ranking.Rung
		if i > 0 {
			below = &a.Ladder[i-1]
		}
		say(stepSheet(below, &a.Ladder[i], i+1, u)...)
	}
	if len(a.Skipped) > 0 {
		left := []string{}
		for _, k := range a.Skipped {
			left = append(left, k.Where+": "+k.Why)
		}
		say(handout.Heading{Text: "Left out", OnNewPage: true}, handout.List{Items: left})
	}
	cautions := slices.Clone(a.Cautions)
	say(handout.Heading{Text: "Before anybody drives by this"}, handout.List{Items: cautions})
	return d
}

// stepSheet is the sheet of one step, on a separate page.
func stepSheet(below, r *ranking.Rung, number int, u catalog.Units) []handout.Block {
	out := []handout.Block{handout.Heading{Text: fmt.Sprintf("Step %d: %s", number, wording.OneLine(r.Name)), OnNewPage: true}}
	strong := func(format string, a ...any) {
		out = append(out, handout.Paragraph{Strong: true, Text: fmt.Sprintf(format, a...)})
	}
	say := func(format string, a ...any) { out = append(out, handout.Paragraph{Text: fmt.Sprintf(format, a...)}) }
	out = append(out, handout.Blanks{Labels: []string{"Trainee", "Instructor", "Date"}})
	if slices.Contains(r.SurfacesOut, catalog.SurfaceWet) {
		strong("%s. On any other road the retarder may lock the driven wheels.", catalog.DryRoadOnly)
	}
	strong("Gear %s, %s, at most %s. %.0f %% of the retarder in reserve.", r.GearName, wording.Plain(r.StageWords()), u.Speed(r.SpeedMPS), math.Floor(r.MarginPct))
	by := "by the crest"
	if r.GearByM < -1 {
		by = u.LengthUp(-r.GearByM) + " before the crest"
	}
	say("The gear is in %s. Whoever misses it stops before the crest and begins again.", by)
	if r.PageGearName != "" {
		strong("SLOWER THAN THE DRIVER'S PAGE, which says gear %s and %s: for practice take the lower gear.", r.PageGearName, u.Speed(r.PageSpeedMPS))
	}
	say("%s long, mean downgrade %.1f %%, %.1f %% over its steepest %s; %.0f minutes on the retarder.", u.Length(r.LengthM), r.MeanDowngradePct, r.Steepest500Pct, wording.Window(u, 500), r.OnRetarderS/60)
	for _, f := range wording.FlagWords(r.Flags) {
		strong("%s", f)
	}
	var why []string
	for k := range r.Parts {
		why = append(why, fmt.Sprintf("%.1f for %s", r.Parts[k].PointsScore, r.Parts[k].WordsIn(u)))
	}
	say("Difficulty %.1f, points of this project's own: %s.", r.DifficultyScore, strings.Join(why, "; "))
	if r.HarderBy != "" {
		say("Harder than step %d: %s.", number-1, r.HarderBy)
	}
	out = append(out, handout.Heading{Text: "Shown before this step"}, handout.List{Items: toMaster(below, r), Ticks: true})
	out = append(out, handout.Heading{Text: "Places on record"})
	var places []string
	for _, list := range [][]ranking.TurnPlace{r.Places, r.Ramps} {
		for k := range list {
			places = append(places, list[k].Words(u))
		}
	}
	if len(r.Places) == 0 {
		strong("NO PLACE TO STOP OR TURN ON RECORD: find one on a map and visit it before a trainee drives here.")
	}
	if len(places) > 0 {
		out = append(out, handout.List{Items: places})
	}
	return append(out, handout.Blanks{Labels: []string{"What went well", "What to change", "Next step agreed"}})
}

// Table is the ladder for a spreadsheet, one row for each step.
func (a *Practice) Table(u catalog.Units) table.Table {
	far := wording.LengthUnit(u)
	t := table.Table{Title: "Practice grades", Notes: a.Cautions, Header: []string{"step", "day", "descent", "name", "length (" + far.Name + ")", "mean downgrade (%)", "steepest " + wording.Window(u, 500) + " (%)",
		"gear", "retarder", "at most (" + u.SpeedName() + ")", "in reserve (%)", "minutes on the retarder", "difficulty", "why", "harder than the step before", "shown before this step", "dry road only", "slower than the driver's page", "flags", "places", "escape ramps"}}
	day := map[string]int{}
	for i := range a.Days {
		for _, id := range a.Days[i].Rungs {
			day[id] = a.Days[i].Day
		}
	}
	for i := range a.Ladder {
		r := &a.Ladder[i]
		var below *ranking.Rung
		if i > 0 {
			below = &a.Ladder[i-1]
		}
		var on any = ""
		if n := day[r.Descent]; n > 0 {
			on = n
		}
		var why []string
		for k := range r.Parts {
			why = append(why, fmt.Sprintf("%.1f for %s", r.Parts[k].PointsScore, r.Parts[k].WordsIn(u)))
		}
		t.Rows = append(t.Rows, []any{i + 1, on, r.Descent, r.Name, table.Num{V: r.LengthM / far.Factor, Decimals: 1}, table.Num{V: r.MeanDowngradePct, Decimals: 1}, table.Num{V: r.Steepest500Pct, Decimals: 1},
			r.GearName, r.StageWords(), u.WholeSpeed(r.SpeedMPS), int(math.Floor(r.MarginPct)), int(math.Round(r.OnRetarderS / 60)), table.Num{V: r.DifficultyScore, Decimals: 1}, strings.Join(why, "; "), r.HarderBy,
			strings.Join(toMaster(below, r), " "), slices.Contains(r.SurfacesOut, catalog.SurfaceWet), r.PageGearName != "", strings.Join(r.Flags, ", "), placeWords(r.Places, u), placeWords(r.Ramps, u)})
	}
	return t
}

// placeWords names places; where there are none, it says so in capitals.
func placeWords(places []ranking.TurnPlace, u catalog.Units) string {
	if len(places) == 0 {
		return "NONE ON RECORD"
	}
	var out []string
	for k := range places {
		out = append(out, places[k].Words(u))
	}
	return strings.Join(out, "; ")
}
