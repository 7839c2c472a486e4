package answer

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/debrief"
	"gradeline/catalog/plot"
	"gradeline/catalog/specimen"
	"gradeline/routes"
)

// oneDrive is a debrief with figures by hand.
func oneDrive(file string, from time.Time, change func(d *debrief.Debrief)) *Debrief {
	e := specimen.Entry(routes.Forward)
	a := &Debrief{Recording: Recording{File: file}, entry: &e}
	a.Debrief = debrief.Debrief{Class: "c", MassKg: 30000, From: from, To: from.Add(10 * time.Minute), IsClock: true, HasAdvice: true, AdvisedMPS: 10, CoveredPct: 100, OnHillS: 400,
		MostMPS: 20, OverS: 100, Crest: debrief.CrestRule{Verdict: debrief.CrestTooFast, SpeedMPS: 18},
		Trace: debrief.Trace{DistanceM: []float64{0, 500, 1000}, SpeedMPS: []float64{18, 20, 10}, SpeedErrMPS: []float64{1, 1, 1}, AfterGap: []bool{false, false, false}}}
	change(&a.Debrief)
	return a
}

// Drives are put in the order of their times, and the change is the last less the first: figures by
// hand.
func TestDrivesSideBySide(t *testing.T) {
	day := time.Date(2026, 5, 4, 8, 0, 0, 0, time.UTC)
	late := oneDrive("late.gpx", day.AddDate(0, 0, 7), func(d *debrief.Debrief) {
		d.MostMPS, d.OverS, d.Crest = 11, 0, debrief.CrestRule{Verdict: debrief.CrestKept, SpeedMPS: 9}
		d.Applied = &debrief.BrakeUse{Count: 2, TotalS: 8}
	})
	early := oneDrive("early.gpx", day, func(d *debrief.Debrief) { d.Applied = &debrief.BrakeUse{Count: 9, TotalS: 68} })
	a, err := NewSideBySide([]*Debrief{late, early})
	if err != nil || a.Drives[0].Recording.File != "early.gpx" {
		t.Fatal(a, err)
	}
	c := a.Change
	if *c.MostMPS != -9 || *c.OverPct != -25 || *c.CrestMPS != -9 || *c.BrakesOnS != -60 || c.InNeutralS != nil || c.ToChange >= 0 || c.IsOtherMass || c.IsCoverLess {
		t.Errorf("%+v", c)
	}
	var b bytes.Buffer
	if err := a.WriteText(&b, catalog.Metric); err != nil {
		t.Fatal(err)
	}
	words := strings.Join(strings.Fields(b.String()), " ")
	for _, want := range []string{"early.gpx", "late.gpx", "highest speed 32 km/h lower", "share over the advised speed 25 points lower", "service brakes 1 min lower", "9 times, 1 min 8 s", "gears not recorded"} {
		if !strings.Contains(words, want) {
			t.Errorf("%q is not in %s", want, words)
		}
	}
	v := a.View(plot.ProfileView{}, catalog.Metric)
	if len(v.Others) != 1 || v.Others[0].Name != "Drive 1, early.gpx" || v.Name != "Drive 2, late.gpx" {
		t.Errorf("%+v", v)
	}
}

// A plot that leaves drives out names them: the first and those before the last are drawn.
func TestDrivesThatAreNotDrawn(t *testing.T) {
	day := time.Date(2026, 5, 4, 8, 0, 0, 0, time.UTC)
	var list []*Debrief
	for k := range 7 {
		list = append(list, oneDrive("k.gpx", day.AddDate(0, 0, k), func(*debrief.Debrief) {}))
		if k < 4 {
			continue
		}
		a, err := NewSideBySide(list)
		if err != nil {
			t.Fatal(err)
		}
		v := a.View(plot.ProfileView{}, catalog.Metric)
		want := map[int]string{4: "Recording:", 5: "Not drawn, as too many to tell apart: drive 2.", 6: "Not drawn, as too many to tell apart: drives 2, 3."}[k]
		if len(v.Others) != plot.MostOthers || !strings.HasPrefix(v.Caption[0], want) {
			t.Errorf("%d drives: %d others, %q, want %q", k+1, len(v.Others), v.Caption[0], want)
		}
	}
}

// What would make a false improvement is said: another mass, a recording of less of the hill, the
// same drive twice.
func TestSideBySideIsFair(t *testing.T) {
	day := time.Date(2026, 5, 4, 8, 0, 0, 0, time.UTC)
	first := oneDrive("a.gpx", day, func(*debrief.Debrief) {})
	last := oneDrive("b.gpx", day.AddDate(0, 0, 1), func(d *debrief.Debrief) { d.MassKg, d.CoveredPct, d.HasAdvice = 20000, 60, false })
	a, err := NewSideBySide([]*Debrief{first, last})
	if err != nil || !a.Change.IsOtherMass || !a.Change.IsCoverLess || a.Change.OverPct != nil {
		t.Errorf("%+v, %v", a.Change, err)
	}
	if _, err := NewSideBySide([]*Debrief{first, oneDrive("copy.gpx", day, func(*debrief.Debrief) {})}); !errors.Is(err, catalog.ErrImpossible) {
		t.Errorf("the same drive twice: %v", err)
	}
	if _, err := NewSideBySide([]*Debrief{first}); err == nil {
		t.Error("one drive was compared")
	}
}
