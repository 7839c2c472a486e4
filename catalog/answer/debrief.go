package answer

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/debrief"
	"gradeline/catalog/plot"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// Debrief is the analysis of a recorded drive down a descent.
type Debrief struct {
	Schema    string           `json:"schema"`
	Recording Recording        `json:"recording"`
	Debrief   debrief.Debrief  `json:"debrief"`
	Skipped   []routes.Skipped `json:"skipped"` // points that could not be used
	Cautions  []string         `json:"cautions"`

	entry *catalog.Entry
}

// Recording names the recording of a drive.
type Recording struct {
	File   string `json:"file"`
	Name   string `json:"name"`
	Note   string `json:"note"`
	Points int    `json:"points"`
}

// DebriefInput is a recorded drive and the descent that it went down.
type DebriefInput struct {
	Entry   *catalog.Entry
	Profile *routes.Profile // the grade line stored with the descent
	Class   *vehicle.Class
	MassKg  float64 // 0: the class's upper end
	File    string
	Drive   *routes.Recording
	Sites   []catalog.Site
	Pass    int // which run down the hill, from 1; 0: the one that covers most of it
}

// NewDebrief compares the drive with the advice of the entry for the class.
func NewDebrief(in DebriefInput) (*Debrief, error) {
	a := &Debrief{Schema: catalog.Schema, Recording: Recording{in.File, in.Drive.Name, in.Drive.Note, len(in.Drive.Fixes)},
		Skipped: notNil(in.Drive.Skipped), Cautions: catalog.Cautions(), entry: in.Entry}
	d := debrief.Input{Descent: &in.Entry.Descent, Profile: in.Profile, Class: in.Class, MassKg: in.MassKg, File: in.File, Drive: in.Drive, Sites: in.Sites, Pass: in.Pass}
	if known, hold, _ := wording.AnswerFor(in.Entry, in.Class.ID); known == wording.Held {
		d.Advice = hold
	}
	var err error
	a.Debrief, err = debrief.FromDrive(d)
	return a, err
}

// DriveAnswer is the debrief of one drive, or of several side by side.
type DriveAnswer interface {
	Answer
	View(view plot.ProfileView, u catalog.Units) plot.DriveView
	Gaps() []string
}

// NewDebriefs compares each of some drives, read from files, with the advice; in has what they share. The
// answer is that of the one drive, or the drives side by side; list has the debrief of each.
func NewDebriefs(in DebriefInput, files []string, drives []routes.Recording) (a DriveAnswer, list []*Debrief, err error) {
	list = make([]*Debrief, len(drives))
	for i := range drives {
		in.File, in.Drive = files[i], &drives[i]
		if list[i], err = NewDebrief(in); err != nil {
			return nil, nil, err
		}
	}
	if len(list) == 1 {
		return list[0], list, nil
	}
	several, err := NewSideBySide(list)
	if err != nil {
		return nil, nil, err
	}
	return several, list, nil
}

// Gaps names each missing part of the drive.
func (a *Debrief) Gaps() []string {
	var out []string
	for _, k := range a.Skipped {
		out = append(out, fmt.Sprintf("%s: left out: %s", k.Where, k.Why))
	}
	p := debriefPage{&lines{}, &a.Debrief}
	for _, g := range a.Debrief.Gaps {
		out = append(out, fmt.Sprintf("no points for %s from %s", clockTime(g.TimeS), p.clock(g.At)))
	}
	for _, o := range a.Debrief.Off {
		out = append(out, fmt.Sprintf("%d points from %s to %s are up to %.0f m from the road: left out", o.Points, p.clock(o.From), p.clock(o.To), math.Ceil(o.OffM)))
	}
	if a.Debrief.CoveredPct < 98 && len(a.Debrief.Gaps) == 0 {
		out = append(out, fmt.Sprintf("the recording covers %.0f %% of the hill", math.Floor(a.Debrief.CoveredPct)))
	}
	return out
}

// gearLabel names the advised gear as on its lever.
func (a *Debrief) gearLabel() string {
	return catalog.GearLabel(a.Debrief.AdvisedName, a.Debrief.AdvisedGear)
}

// View is the debrief as a drawing over the profile.
func (a *Debrief) View(view plot.ProfileView, u catalog.Units) plot.DriveView {
	d, e := &a.Debrief, a.entry
	both := func(of func(u catalog.Units) string) wording.Both {
		return wording.Both{Metric: of(catalog.Metric), US: of(catalog.US)}
	}
	v := plot.DriveView{Profile: view, LengthM: e.Descent.LengthM, DistanceM: d.Trace.DistanceM, SpeedMPS: d.Trace.SpeedMPS, AfterGap: d.Trace.AfterGap,
		AdviceMPS: d.AdvisedMPS, GearByM: d.Crest.GearByM, Gear: a.gearLabel(),
		SpeedAdv: both(func(u catalog.Units) string { return fmt.Sprintf("gear %s, %s", a.gearLabel(), u.Speed(d.AdvisedMPS)) }),
		Says: both(func(u catalog.Units) string {
			p := debriefPage{&lines{units: u}, d}
			return p.headline()
		}),
		Caption: []string{fmt.Sprintf("Recording: %s, %s; %s at %s.", recordingName(&a.Recording), debriefPage{&lines{units: u}, d}.when(), d.Class, u.Mass(d.MassKg)),
			wording.ReviewLine(e), wording.SourceLine(e.Provenance), catalog.Cautions()[0]}}
	for _, o := range d.Over {
		v.OverM = append(v.OverM, [2]float64{o.FromM, o.ToM})
	}
	for _, x := range d.Stops {
		v.Marks = append(v.Marks, plot.DriveMark{DistanceM: x.AtM, Label: both(func(catalog.Units) string { return "stop, " + clockTime(x.TimeS) })})
	}
	for _, x := range d.Neutral {
		v.Marks = append(v.Marks, plot.DriveMark{DistanceM: (x.FromM + x.ToM) / 2, Label: both(func(catalog.Units) string { return "OUT OF GEAR, " + clockTime(x.TimeS) })})
	}
	for _, x := range d.Brakes.Events {
		v.Marks = append(v.Marks, plot.DriveMark{DistanceM: (x.FromM + x.ToM) / 2, Label: both(func(catalog.Units) string { return "service brakes" })})
	}
	v.Bars = barsOf(d)
	return v
}

// barsOf are the stretches of a drive that its plot shows as bars.
func barsOf(d *debrief.Debrief) (out []plot.DriveBar) {
	add := func(name string, spansM [][2]float64) {
		if len(spansM) > 0 {
			out = append(out, plot.DriveBar{Name: name, SpansM: spansM})
		}
	}
	if d.Applied != nil {
		add("Service brakes on, by the recorded switch", d.Applied.SpansM)
	}
	add("In a higher gear than advised", d.HighGearM)
	var neutral, gaps [][2]float64
	for _, x := range d.Neutral {
		neutral = append(neutral, [2]float64{x.FromM, x.ToM})
	}
	for _, x := range d.Gaps {
		gaps = append(gaps, [2]float64{x.FromM, x.ToM})
	}
	add("Out of gear", neutral)
	add("Not recorded", gaps)
	return out
}

func recordingName(r *Recording) string {
	if r.Name != "" && r.Name != r.File {
		return fmt.Sprintf("%s (%q)", r.File, wording.OneLine(r.Name))
	}
	return r.File
}

// clockTime writes a time in minutes and seconds.
func clockTime(timeS float64) string {
	n := int(math.Round(timeS))
	var parts []string
	if h := n / 3600; h > 0 {
		parts = append(parts, fmt.Sprintf("%d h", h))
	}
	if m := n / 60 % 60; m > 0 {
		parts = append(parts, fmt.Sprintf("%d min", m))
	}
	if sec := n % 60; (sec > 0 && n < 3600) || len(parts) == 0 {
		parts = append(parts, fmt.Sprintf("%d s", sec))
	}
	return strings.Join(parts, " ")
}
