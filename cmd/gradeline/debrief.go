package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/debrief"
	"gradeline/catalog/plot"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/routes/vector"
)

func (s *session) debriefCommand() *cli.Command {
	return &cli.Command{
		Name: "debrief", Usage: "a recorded drive down a descent, held against the advice: speeds, the crest rule, service brakes",
		ArgsUsage: "DESCENT RECORDING",
		Flags: []cli.Flag{catalogFlag(), classFlag(), classesFlag(),
			&cli.StringFlag{Name: "mass", Usage: "`MASS` of that drive with its unit; default the class's upper end, for which the advice is"},
			&cli.IntFlag{Name: "pass", Usage: "which run down the hill, `N` from 1; default the one that covers most of it"},
			&cli.StringFlag{Name: "plot", Usage: "draw driven against advised speed over the profile to a .svg or .png `FILE`"},
			jsonFlag(), unitsFlag(), forceFlag()},
		Action: s.debrief,
	}
}

type debriefAnswer struct {
	Schema    string           `json:"schema"`
	Recording recordingAnswer  `json:"recording"`
	Debrief   debrief.Debrief  `json:"debrief"`
	Skipped   []routes.Skipped `json:"skipped"` // points that could not be used
	Cautions  []string         `json:"cautions"`
}

type recordingAnswer struct {
	File   string `json:"file"`
	Name   string `json:"name"`
	Note   string `json:"note"`
	Points int    `json:"points"`
}

func (s *session) debrief(c *cli.Context) error {
	if err := argCount(c, 2, 2, "the id of one descent and a recording (GPX track with times, or CSV)"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	massKg, _, err := quantityFlag(c, "mass", catalog.MassKg)
	if err != nil {
		return err
	}
	if c.IsSet("pass") && c.Int("pass") < 1 {
		return usagef("--pass %d: give a number from 1 up", c.Int("pass"))
	}
	class, err := weightClass(c)
	if err != nil {
		return err
	}
	file := c.Args().Get(1)
	rec, err := s.readRecording(file)
	if err != nil {
		return err
	}
	e, stretch, err := oneHill(c)
	if err != nil {
		return err
	}
	in := debrief.Input{Descent: &e.Descent, Profile: stretch, Class: &class, MassKg: massKg, File: file, Drive: &rec, Pass: c.Int("pass")}
	answer, hold, why := wording.AnswerFor(&e, class.ID)
	if answer == wording.Held {
		in.Advice = hold
	}
	a := debriefAnswer{catalog.Schema, recordingAnswer{file, rec.Name, rec.Note, len(rec.Fixes)}, debrief.Debrief{}, rec.Skipped, catalog.Cautions()}
	if a.Skipped == nil {
		a.Skipped = []routes.Skipped{}
	}
	if a.Debrief, err = debrief.FromDrive(in); err != nil {
		return err
	}
	if file := c.String("plot"); file != "" {
		if err := notAnInput(c, file); err != nil {
			return err
		}
		v := driveView(&a, plot.ViewFromProfile(stretch, &e, hold, math.Inf(1)), &e, u)
		if err := s.drawTo(file, c.Bool("force"), func(w io.Writer) error { return plot.DriveSVG(w, v, u) },
			func(w io.Writer) error { return plot.DrivePNG(w, v, u) }); err != nil {
			return err
		}
	}
	if c.Bool("json") {
		err = s.printJSON(a)
	} else {
		p := debriefPage{s.out, u, &a.Debrief}
		p.print(&a, &e, answer, why)
		s.printCautions(nil)
	}
	if err != nil {
		return err
	}
	return s.sayGaps(a.gaps())
}

// readRecording reads a file, or standard input for "-".
func (s *session) readRecording(file string) (routes.Recording, error) {
	if file == "-" {
		return vector.ReadRecording(file, s.in)
	}
	f, err := os.Open(file)
	if err != nil {
		return routes.Recording{}, &catalog.Fault{File: file, What: "cannot be opened", Err: unwrapPath(err), Fix: "give a GPX track with times, or CSV with time, lon_deg, lat_deg"}
	}
	defer f.Close()
	return vector.ReadRecording(file, f)
}

// gaps are what of the drive is missing, each named.
func (a *debriefAnswer) gaps() []string {
	var out []string
	for _, k := range a.Skipped {
		out = append(out, fmt.Sprintf("%s: left out: %s", k.Where, k.Why))
	}
	p := debriefPage{d: &a.Debrief}
	for _, g := range a.Debrief.Gaps {
		out = append(out, fmt.Sprintf("no points for %s from %s", clockTime(g.TimeS), p.clock(g.At)))
	}
	for _, o := range a.Debrief.Off {
		out = append(out, fmt.Sprintf("%d points from %s to %s lie up to %.0f m from the road: left out", o.Points, p.clock(o.From), p.clock(o.To), math.Ceil(o.OffM)))
	}
	if a.Debrief.CoveredPct < 98 && len(a.Debrief.Gaps) == 0 {
		out = append(out, fmt.Sprintf("the recording covers %.0f %% of the hill", math.Floor(a.Debrief.CoveredPct)))
	}
	return out
}

// driveView is the debrief as a drawing.
func driveView(a *debriefAnswer, view plot.ProfileView, e *catalog.Entry, u catalog.Units) plot.DriveView {
	d := &a.Debrief
	both := func(of func(u catalog.Units) string) wording.Both {
		return wording.Both{Metric: of(catalog.Metric), US: of(catalog.US)}
	}
	v := plot.DriveView{Profile: view, LengthM: e.Descent.LengthM, DistanceM: d.Trace.DistanceM, SpeedMPS: d.Trace.SpeedMPS, AfterGap: d.Trace.AfterGap,
		AdviceMPS: d.AdvisedMPS, GearByM: d.Crest.GearByM, Gear: d.AdvisedGear,
		SpeedAdv: both(func(u catalog.Units) string { return fmt.Sprintf("gear %d, %s", d.AdvisedGear, u.Speed(d.AdvisedMPS)) }),
		Says:     both(func(u catalog.Units) string { p := debriefPage{nil, u, d}; return p.outWords() + p.overWords() }),
		Caption: []string{fmt.Sprintf("Recording: %s, %s; %s at %s.", recordingName(&a.Recording), debriefPage{nil, u, d}.when(), d.Class, u.Mass(d.MassKg)),
			wording.ReviewLine(e), wording.SourceLine(e.Provenance), catalog.Cautions()[0]}}
	for _, o := range d.Over {
		v.OverM = append(v.OverM, [2]float64{o.FromM, o.ToM})
	}
	for _, x := range d.Stops {
		v.Marks = append(v.Marks, plot.DriveMark{DistanceM: x.AtM, Label: both(func(catalog.Units) string { return "stop, " + clockTime(x.TimeS) })})
	}
	return v
}

func recordingName(r *recordingAnswer) string {
	if r.Name != "" && r.Name != r.File {
		return fmt.Sprintf("%s (%q)", r.File, oneLine(r.Name))
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
