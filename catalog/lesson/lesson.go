// Package lesson writes a lesson for drivers about one hill and one truck: what happens
// to the service brakes on the retarder, dragged and snubbed, with questions and answers
// from the hill's own figures.
//
// The input is a catalogue's entry with its hold, the runs of package holding, and the profile to
// draw. The result is a handout.Document of two to four pages. The figures carry the statuses of
// their constants; nothing here is advice to drag brakes.
package lesson

import (
	"bytes"
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/handout"
	"gradeline/catalog/holding"
	"gradeline/catalog/plot"
	"gradeline/catalog/ranking"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
)

// Input is the input of a lesson.
type Input struct {
	Entry catalog.Entry
	Class vehicle.Class
	View  plot.ProfileView
	Runs  []holding.BrakeRun
	Units catalog.Units
	Sites []catalog.Site // on record along the road; those of the other direction are left out
}

// lesson is an input with its answer.
type lesson struct {
	Input
	answer wording.Answer
	hold   *catalog.Hold
	doc    handout.Document
}

// Document writes the lesson.
func Document(in Input) (handout.Document, error) {
	a, h, why := wording.AnswerFor(&in.Entry, in.Class.ID)
	if h == nil || a == wording.Unknown {
		return handout.Document{}, &catalog.Fault{Kind: catalog.ErrClass, Feature: in.Entry.Descent.ID, What: "no lesson without an answer: " + why, Fix: "survey the route again with this class"}
	}
	if err := wording.CheckNames(&in.Entry.Descent); err != nil {
		return handout.Document{}, err
	}
	l := &lesson{Input: in, answer: a, hold: h}
	d := &in.Entry.Descent
	l.doc = handout.Document{Title: "Lesson: " + wording.Title(d) + ", " + wording.Heading(d), Creator: in.Entry.Provenance.Tool,
		Footer: "For the class room. " + catalog.Cautions()[0]}
	if in.Entry.Provenance.Invented {
		l.doc.Banner = wording.InventedBanner
	}
	if err := l.hill(); err != nil {
		return l.doc, err
	}
	l.checklist()
	if err := l.ways(); err != nil {
		return l.doc, err
	}
	l.adjustment()
	l.gearUp()
	q := l.questions()
	l.add(handout.Heading{Text: "Questions"}, handout.List{Items: asked(q), Numbered: true})
	l.answers(q)
	return l.doc, nil
}

func (l *lesson) add(b ...handout.Block) { l.doc.Blocks = append(l.doc.Blocks, b...) }

func (l *lesson) say(format string, a ...any) {
	l.add(handout.Paragraph{Text: fmt.Sprintf(format, a...)})
}

// hill is the first page: a picture of the hill and the advice of the driver's page.
func (l *lesson) hill() error {
	d, u := &l.Entry.Descent, l.Units
	l.add(handout.Blanks{Labels: []string{"Trainee", "Instructor", "Date"}})
	l.add(handout.Paragraph{Strong: true, Text: wording.WithoutMass(wording.Plain(l.Class.Name)) + ", " + u.MassDown(l.hold.MassKg)})
	l.add(handout.Heading{Text: "The hill"})
	fig, err := plot.SheetProfile(l.View, u, plot.SheetLow)
	if err != nil {
		return err
	}
	if err := l.picture(fig, l.View.Alt(u)); err != nil {
		return err
	}
	l.say("%s long. It drops %s. The mean downgrade is %s, and %s over its steepest %s. %s", u.Length(d.LengthM), u.Height(d.DropM), wording.MeanWithBound(d),
		wording.Steepest(d.Steepest500Pct, d.Steepest500ErrPct), wording.Window(u, 500), wording.PartsOfHill(d, u))
	for _, t := range append(wording.FlagWords(d.Flags), wording.QuestionWords(&l.Entry), wording.ReviewLine(&l.Entry)) {
		if t != "" {
			l.say("%s", t)
		}
	}
	l.add(handout.Heading{Text: "What the driver sets"})
	if l.answer == wording.NotHeld {
		l.places()
		l.add(handout.Paragraph{Strong: true, Text: "NOT HELD. No gear holds this truck on this hill with the retarder alone. It does not go down this hill. This lesson shows why."})
		return nil
	}
	h := l.hold
	if h.IsDryRoadOnly() {
		l.add(handout.Paragraph{Strong: true, Text: catalog.DryRoadOnly + ". On any other road the retarder may lock the driven wheels."})
	}
	l.add(handout.Paragraph{Strong: true, Text: fmt.Sprintf("Gear %s. %s. At most %s.", h.GearLabel(), sentence(h.StageWords()), u.Speed(h.SpeedMPS))})
	l.say("The gear is in %s. The engine and its retarder hold the truck. The service brakes stay cold for the emergency. The retarder uses %.0f %% of its power at the worst place.", l.gearBy(), math.Ceil(h.RetarderUsePct))
	l.places()
	return nil
}

// places lists where to check the brakes, to stop and to be caught, as far as they are on record.
func (l *lesson) places() {
	stops, ramps := ranking.PlacesNear(&l.Entry.Descent, l.Sites)
	var words []string
	for _, list := range [][]ranking.TurnPlace{stops, ramps} {
		for i := range list {
			words = append(words, list[i].Words(l.Units))
		}
	}
	if len(words) == 0 {
		l.say("No brake check area, place to stop or escape ramp is on record here. The instructor finds them before the class drives.")
		return
	}
	none := ""
	if len(ramps) == 0 {
		none = " No escape ramp is on record."
	}
	l.say("On record: %s.%s", strings.Join(words, "; "), none)
}

// gearBy says where the gear must be in.
func (l *lesson) gearBy() string {
	if at := l.Entry.Descent.TravelFromStationM(l.hold.GearByM); at < -1 {
		return l.Units.LengthUp(-at) + " before the crest"
	}
	return "by the crest"
}

func (l *lesson) picture(fig plot.Figure, alt string) error {
	var svg, png bytes.Buffer
	if err := fig.SVG(&svg); err != nil {
		return err
	}
	if err := fig.PNG(&png); err != nil {
		return err
	}
	l.add(handout.Picture{SVG: svg.Bytes(), PNG: png.Bytes(), HeightShare: fig.Aspect(), Alt: alt})
	return nil
}

// run is the run of that name, or nil.
func (l *lesson) run(way string) *holding.BrakeRun {
	for i := range l.Runs {
		if l.Runs[i].Way == way {
			return &l.Runs[i]
		}
	}
	return nil
}

// ways compares the same truck three ways.
func (l *lesson) ways() error {
	u := l.Units
	l.add(handout.Heading{Text: "The same truck, three ways", OnNewPage: true})
	l.say("Each way starts at the crest at %s. On the retarder the service brakes do nothing. Dragged, they hold the speed alone, all the way. Snubbed, they take %s off, let go, and do it again. In the last two the retarder is off and only the engine's own drag helps.",
		u.Speed(l.Runs[0].SpeedMPS), u.Speed(5*catalog.MilePerHourMPS))
	v := plot.LessonView{Title: "Service brakes along the hill", FadeC: l.Class.Truck.ServiceBrakes.FadeFromC(), SmokeC: holding.SmokeFromC, Invented: l.Entry.Provenance.Invented,
		Caption: []string{"Distance from the crest. A line that ends early ends where the brakes can no longer hold the speed."}}
	if !l.Class.Truck.ServiceBrakes.IsDisc() {
		v.StrokeLimitM = vehicle.RatedStrokeM(l.Class.Truck.ServiceBrakes.Chamber)
	}
	for _, r := range l.Runs {
		if r.Way == holding.WayGearUp {
			continue
		}
		w := plot.WayLine{Name: sentence(r.Way)}
		for _, s := range r.Stations {
			w.DistanceM, w.TempC = append(w.DistanceM, s.DistanceM), append(w.TempC, s.TempC)
			w.StrokeM, w.LeftShare = append(w.StrokeM, s.StrokeM), append(w.LeftShare, s.LeftShare)
		}
		v.Ways = append(v.Ways, w)
	}
	fig, err := plot.LessonFigure(v, u)
	if err != nil {
		return err
	}
	if err := l.picture(fig, "Temperature, pushrod stroke and braking force left along the hill for each way; the table below gives the figures."); err != nil {
		return err
	}
	l.add(l.waysTable())
	l.say("Fade, smell and smoke: common practice, no source. The stop is from the speed of the run, with %.1f s to see, act and fill the brakes, on a dry road.", 3.0)
	return nil
}

// waysTable gives the figures of each way, at the foot or where it ends.
func (l *lesson) waysTable() handout.Table {
	t := handout.Table{Head: []string{"At the foot"}, Share: 0.34}
	rows := make([][]string, 9)
	for i, name := range []string{"Hottest", "Drum has grown by", "Pushrod stroke", "Force left", "Stop takes", "Out of the working range from", "Fade from", "Smell and smoke from", "Can't hold any more from"} {
		rows[i] = []string{name}
	}
	for i := range l.Runs {
		r := &l.Runs[i]
		if r.Way == holding.WayGearUp {
			continue
		}
		last := r.Stations[len(r.Stations)-1]
		t.Head = append(t.Head, sentence(r.Way))
		for k, text := range []string{l.Units.Temp(r.PeakC), l.stroke(last.GrowthM, "no drum"), l.strokeOfLimit(last.StrokeM), fmt.Sprintf("%.0f %%", math.Floor(100*last.LeftShare)), l.stop(r),
			l.from(r.WorkingM), l.from(r.FadeM), l.from(r.SmokeM), l.from(r.LostM)} {
			rows[k] = append(rows[k], text)
		}
	}
	t.Rows = rows
	return t
}

// stroke writes a small length, or none for disc brakes.
func (l *lesson) stroke(m float64, none string) string {
	switch {
	case l.Class.Truck.ServiceBrakes.IsDisc():
		return none
	case l.Units == catalog.US:
		return fmt.Sprintf("%.2f in", m/catalog.InchM)
	}
	return fmt.Sprintf("%.1f mm", m*1000)
}

func (l *lesson) strokeOfLimit(m float64) string {
	b := l.Class.Truck.ServiceBrakes
	if b.IsDisc() {
		return "no stroke"
	}
	return l.stroke(m, "") + ", ends at " + l.stroke(vehicle.RatedStrokeM(b.Chamber), "")
}

func (l *lesson) stop(r *holding.BrakeRun) string {
	if math.IsInf(r.StopM, 1) {
		return "DOES NOT STOP"
	}
	unit := wording.HeightUnit(l.Units)
	return fmt.Sprintf("%s %s", wording.Thousands(math.Ceil(r.StopM/unit.Factor)), unit.Name)
}

// from says from which place of the hill a condition holds.
func (l *lesson) from(m *float64) string {
	if m == nil {
		return "never"
	}
	return l.Units.Length(*m)
}

// adjustment describes the effect of a badly adjusted brake.
func (l *lesson) adjustment() {
	l.add(handout.Heading{Text: "One badly adjusted brake"})
	b := l.Class.Truck.ServiceBrakes
	drag := l.run(holding.WayDragged)
	hotC := math.Min(drag.PeakC, b.FadeFromC())
	cases := holding.AdjustmentCases(b, drag.Stations[0].TempC, hotC)
	if len(cases) == 0 {
		l.say("Disc brakes have no pushrod stroke that grows with heat. What goes wrong is a pad worn through, or a caliper that sticks: that wheel runs hot while the others idle. Pads fade from about %s (from memory).", l.Units.Temp(b.FadeFromC()))
		return
	}
	t := handout.Table{Head: []string{"Brake adjusted", "Stroke cold", "Force cold", "Stroke at " + l.Units.Temp(hotC), "Force then"}, Share: 0.32}
	for _, k := range cases {
		t.Rows = append(t.Rows, []string{sentence(k.What), l.stroke(k.StrokeM, ""), fmt.Sprintf("%.0f %%", math.Floor(100*k.ColdShare+1e-6)), l.stroke(k.HotStrokeM, ""), fmt.Sprintf("%.0f %%", math.Floor(100*k.HotShare+1e-6))})
	}
	l.add(t)
	l.say("A hot drum grows away from its shoes. The pushrod must travel further. Past the end of its stroke it gives nothing. The other brakes then do its share of the work and get hotter. Force against stroke: common practice, no source.")
}

// gearUp describes the effect of one gear too high.
func (l *lesson) gearUp() {
	up := l.run(holding.WayGearUp)
	if l.answer != wording.Held || up == nil {
		return
	}
	l.add(handout.Heading{Text: "One gear too high"})
	t := sentence(l.hold.OneGearUpIn(l.Units)) + ". "
	if up.LostM != nil {
		t += fmt.Sprintf("Whoever holds the speed with the service brakes instead can no longer do so from %s on.", l.Units.Length(*up.LostM))
	} else {
		last := up.Stations[len(up.Stations)-1]
		t += fmt.Sprintf("Whoever holds the speed with the service brakes instead brings them to %s, with %.0f %% of their force left at the foot.", l.Units.Temp(up.PeakC), math.Floor(100*last.LeftShare))
	}
	l.say("%s", t)
}

// checklist is the sheet for the brake check area.
func (l *lesson) checklist() {
	kind := wording.DrumBrakes
	if l.Class.Truck.ServiceBrakes.IsDisc() {
		kind = wording.DiscBrakes
	}
	l.add(handout.Heading{Text: "At the brake check area"}, handout.Paragraph{Text: wording.BrakeCheckDefers})
	for _, g := range wording.BrakeCheck(kind) {
		l.add(handout.Paragraph{Text: g.Title, Strong: true}, handout.List{Items: g.Items, Ticks: true})
	}
}

// answers is the last page.
func (l *lesson) answers(q []question) {
	items := make([]string, len(q))
	for i := range q {
		items[i] = q[i].answer
	}
	l.add(handout.Heading{Text: "Answers", OnNewPage: true}, handout.List{Items: items, Numbered: true}, handout.Heading{Text: "Sources of the figures"})
	var out []string
	for _, s := range l.hold.Statuses {
		if f := strings.ToLower(s.Figure); strings.Contains(f, "heat") || strings.Contains(f, "stroke") || strings.Contains(f, "friction") {
			out = append(out, s.Figure+": "+s.Status+" ("+s.Source+")")
		}
	}
	out = append(out, "least deceleration of cold brakes 14 ft/s² (49 CFR 393.52), 2.5 s to see and act, 0.5 s lag of air brakes, a snub of 5 mph in 3 s: from memory",
		"where smell and smoke begin, 700 °F: common practice, no source")
	l.add(handout.List{Items: out})
	for _, c := range catalog.Cautions() {
		l.add(handout.Paragraph{Text: c, Strong: true})
	}
	l.say("%s", wording.SourceLine(l.Entry.Provenance))
}

// sentence begins a text with a capital letter.
func sentence(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[0])) + string(r[1:])
}
