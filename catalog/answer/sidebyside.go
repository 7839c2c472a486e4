package answer

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/debrief"
	"gradeline/catalog/plot"
	"gradeline/catalog/table"
	"gradeline/catalog/wording"
)

// SideBySide is several recorded drives down one hill, the first one first.
type SideBySide struct {
	Schema string      `json:"schema"`
	Drives []Debrief   `json:"drives"`
	Change DriveChange `json:"change"`
}

// DriveChange is the last drive less the first one. What either recording cannot show is null.
type DriveChange struct {
	MostMPS     *float64 `json:"most_mps"`     // highest speed on the hill
	OverPct     *float64 `json:"over_pct"`     // share of the recorded time over the advised speed, points
	CrestMPS    *float64 `json:"crest_mps"`    // speed where the gear is due
	BrakesOnS   *float64 `json:"brakes_on_s"`  // by the brake switch
	AtLeastJ    *float64 `json:"at_least_j"`   // service brakes, by the balance of energies
	InNeutralS  *float64 `json:"in_neutral_s"` // where gears are recorded
	ToChange    int      `json:"to_change"`    // number of things to change
	IsCoverLess bool     `json:"covers_less"`  // the last recording covers less of the hill
	IsOtherMass bool     `json:"other_mass"`   // another mass: speeds and brakes cannot be compared fairly
}

// NewSideBySide compares drives down one hill. Where every recording has a clock they are put in the
// order of their times, otherwise they stay as given.
func NewSideBySide(list []*Debrief) (*SideBySide, error) {
	if len(list) < 2 {
		return nil, &catalog.Fault{Kind: catalog.ErrNotFound, What: "one drive cannot be compared", Fix: "name two recordings or more"}
	}
	list = slices.Clone(list)
	if !slices.ContainsFunc(list, func(d *Debrief) bool { return !d.Debrief.IsClock }) {
		slices.SortStableFunc(list, func(a, b *Debrief) int { return a.Debrief.From.Compare(b.Debrief.From) })
	}
	a := &SideBySide{Schema: catalog.Schema}
	for i, d := range list {
		for _, other := range list[:i] {
			if d.Debrief.IsClock && other.Debrief.IsClock && d.Debrief.From.Equal(other.Debrief.From) && d.Debrief.To.Equal(other.Debrief.To) {
				return nil, &catalog.Fault{Kind: catalog.ErrImpossible, File: d.Recording.File, What: fmt.Sprintf("is the same drive as %s", other.Recording.File), Fix: "name each drive once"}
			}
		}
		a.Drives = append(a.Drives, *d)
	}
	a.Change = changeOf(&a.Drives[0], &a.Drives[len(a.Drives)-1])
	return a, nil
}

func changeOf(first, last *Debrief) (c DriveChange) {
	f, l := &first.Debrief, &last.Debrief
	less := func(a, b float64) *float64 { v := b - a; return &v }
	if f.OnHillS > 0 && l.OnHillS > 0 {
		c.MostMPS = less(f.MostMPS, l.MostMPS)
		if f.HasAdvice && l.HasAdvice {
			c.OverPct = less(100*f.OverS/f.OnHillS, 100*l.OverS/l.OnHillS)
		}
	}
	if f.Crest.SpeedMPS > 0 && l.Crest.SpeedMPS > 0 {
		c.CrestMPS = less(f.Crest.SpeedMPS, l.Crest.SpeedMPS)
	}
	if f.Applied != nil && l.Applied != nil {
		c.BrakesOnS = less(f.Applied.TotalS, l.Applied.TotalS)
	}
	c.AtLeastJ = less(f.Brakes.AtLeastJ, l.Brakes.AtLeastJ)
	if f.HasGear && l.HasGear {
		c.InNeutralS = less(f.NeutralS, l.NeutralS)
	}
	c.ToChange = len(toChangeOf(l)) - len(toChangeOf(f))
	c.IsCoverLess, c.IsOtherMass = l.CoveredPct < f.CoveredPct-2, math.Abs(l.MassKg-f.MassKg) > 0.05*f.MassKg
	return c
}

func toChangeOf(d *debrief.Debrief) []string { return debriefPage{&lines{}, d}.toChange() }

// Gaps name the missing parts of each drive.
func (a *SideBySide) Gaps() []string {
	var out []string
	for i := range a.Drives {
		for _, g := range a.Drives[i].Gaps() {
			out = append(out, a.Drives[i].Recording.File+": "+g)
		}
	}
	return out
}

// WriteText writes a row a drive, what changed from the first to the last, and what each must change.
func (a *SideBySide) WriteText(w io.Writer, u catalog.Units) error {
	e := a.Drives[0].entry
	t := table.Table{Title: fmt.Sprintf("%d drives: %s", len(a.Drives), wording.Title(&e.Descent)),
		Header: []string{"drive", "recording", "mass", "recorded", "before the crest", "highest speed", "over advised", "brakes", "out of gear", "to change"}}
	for i := range a.Drives {
		t.Rows = append(t.Rows, a.Drives[i].sideRow(i+1, u))
	}
	t.Notes = append(t.Notes, a.changeWords(u)...)
	for i := range a.Drives {
		if list := toChangeOf(&a.Drives[i].Debrief); len(list) > 0 {
			p := debriefPage{&lines{units: u}, &a.Drives[i].Debrief}
			items := p.toChange()
			for k := range items {
				items[k] = strings.TrimSuffix(items[k], ".")
			}
			t.Notes = append(t.Notes, fmt.Sprintf("Drive %d, to change: %s.", i+1, strings.Join(items, "; ")))
		}
	}
	t.Notes = append(t.Notes, "Whose drives these are is not in the catalogue, nor in this answer: the recordings' names are the office's.", catalog.Cautions()[0])
	if e.Provenance.Invented {
		t.Title = wording.InventedBanner + "\n" + t.Title
	}
	return table.WriteText(w, t)
}

// sideRow is the row of a drive.
func (a *Debrief) sideRow(number int, u catalog.Units) []any {
	d := &a.Debrief
	over, brakes, neutral := "no advice", "switch not recorded", "gears not recorded"
	if d.HasAdvice && d.OnHillS > 0 {
		over = fmt.Sprintf("%.0f %% of the time", math.Ceil(100*d.OverS/d.OnHillS))
	}
	if b := d.Applied; b != nil {
		brakes = fmt.Sprintf("%d times, %s", b.Count, clockTime(b.TotalS))
	}
	if d.HasGear {
		neutral = clockTime(d.NeutralS)
	}
	return []any{number, a.Recording.File, u.Mass(d.MassKg), fmt.Sprintf("%.0f %%", math.Floor(d.CoveredPct)), d.Crest.Verdict, u.Speed(d.MostMPS), over, brakes, neutral, len(toChangeOf(d))}
}

// changeWords say what changed from the first drive to the last.
func (a *SideBySide) changeWords(u catalog.Units) []string {
	c, out := &a.Change, []string{}
	by := func(v *float64, what string, amount func(float64) string) {
		if v == nil {
			return
		}
		way := "lower"
		if *v > 0 {
			way = "higher"
		}
		if text := amount(math.Abs(*v)); text != amount(0) {
			out = append(out, what+" "+text+" "+way)
		} else {
			out = append(out, what+" the same")
		}
	}
	by(c.MostMPS, "highest speed", u.Speed)
	by(c.CrestMPS, "speed where the gear is due", u.Speed)
	by(c.OverPct, "share over the advised speed", func(v float64) string { return wording.Counted(int(math.Round(v)), "point") })
	by(c.BrakesOnS, "time on the service brakes", clockTime)
	by(c.InNeutralS, "time out of gear", clockTime)
	words := []string{"From the first drive to the last: " + strings.Join(out, ", ") + fmt.Sprintf("; things to change %d, then %d.", len(toChangeOf(&a.Drives[0].Debrief)), len(toChangeOf(&a.Drives[len(a.Drives)-1].Debrief)))}
	if c.IsCoverLess {
		words = append(words, "The last recording covers less of the hill than the first: what looks better may not have been recorded.")
	}
	if c.IsOtherMass {
		words = append(words, "The masses differ by more than 5 %: a lighter truck is easier to hold, so this is no fair comparison.")
	}
	return words
}

// View draws the last drive over the earlier ones: the first, and those before the last.
func (a *SideBySide) View(view plot.ProfileView, u catalog.Units) plot.DriveView {
	last := len(a.Drives) - 1
	v := a.Drives[last].View(view, u)
	v.Name = fmt.Sprintf("Drive %d, %s", last+1, a.Drives[last].Recording.File)
	var left []string
	for i := range last {
		if i > 0 && last-i >= plot.MostOthers {
			left = append(left, fmt.Sprint(i+1))
			continue
		}
		t := &a.Drives[i].Debrief.Trace
		v.Others = append(v.Others, plot.DriveLine{Name: fmt.Sprintf("Drive %d, %s", i+1, a.Drives[i].Recording.File), DistanceM: t.DistanceM, SpeedMPS: t.SpeedMPS, AfterGap: t.AfterGap})
	}
	if len(left) > 0 {
		v.Caption = append([]string{"Not drawn, as too many to tell apart: drives " + strings.Join(left, ", ") + "."}, v.Caption...)
		if len(left) == 1 {
			v.Caption[0] = "Not drawn, as too many to tell apart: drive " + left[0] + "."
		}
	}
	v.Says = wording.Both{Metric: a.changeWords(catalog.Metric)[0], US: a.changeWords(catalog.US)[0]}
	return v
}
