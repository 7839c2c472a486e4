package lesson

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/handout"
	"gradeline/catalog/holding"
	"gradeline/catalog/plot"
	"gradeline/catalog/specimen"
	"gradeline/routes"
)

// inputFor is the lesson of the specimen's hill for a default class.
func inputFor(t *testing.T, class string) Input {
	t.Helper()
	list, err := holding.DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	e, p := specimen.WithParts(), specimen.Profile()
	for _, c := range list {
		if c.ID != class {
			continue
		}
		hill := holding.HillFromDescent(p, &e.Descent, nil)
		h, err := holding.Advise(hill, c, holding.Options{})
		if err != nil {
			t.Fatal(err)
		}
		runs, err := holding.BrakeRuns(hill, c, holding.Options{MassKg: h.MassKg}, h.Gear, h.SpeedMPS)
		if err != nil {
			t.Fatal(err)
		}
		e.Holds = []catalog.Hold{h}
		return Input{Entry: e, Class: c, Runs: runs, Units: c.Units, View: plot.ViewFromProfile(p, &e, &h, 700)}
	}
	t.Fatalf("no class %s", class)
	return Input{}
}

func htmlOf(t *testing.T, d handout.Document) string {
	t.Helper()
	var b bytes.Buffer
	if err := handout.HTML(&b, d); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Two to four pages for each default class, with the answers on the last, in words that
// come from this hill.
func TestLessonPages(t *testing.T) {
	for _, class := range []string{"us-5axle", "ca-btrain-63t", "eu-5axle"} {
		in := inputFor(t, class)
		d, err := Document(in)
		if err != nil {
			t.Fatal(err)
		}
		for _, paper := range []string{"A4", "Letter"} {
			if n, err := handout.PageCount(d, paper); err != nil || n < 2 || n > 4 {
				t.Errorf("%s on %s: %d pages, %v", class, paper, n, err)
			}
		}
		var one, two bytes.Buffer
		at := time.Date(2026, 1, 2, 0, 0, 0, 0, time.UTC)
		if err := errors.Join(handout.PDF(&one, d, "A4", at), handout.PDF(&two, d, "A4", at)); err != nil || !bytes.Equal(one.Bytes(), two.Bytes()) {
			t.Errorf("%s: the same lesson gave other bytes, or %v", class, err)
		}
		text := htmlOf(t, d)
		h := in.Entry.Holds[0]
		want := []string{"Trainee:", "The same truck, three ways", "Service brakes dragged", "Service brakes snubbed", "Answers", "common practice, no source", "from memory", "Steep parts: 9.3"}
		if h.Holds {
			want = append(want, fmt.Sprintf("at most %s.", in.Units.Speed(h.SpeedMPS)), "One gear too high")
		} else {
			want = append(want, "NOT HELD")
		}
		for _, w := range append(want, catalog.Cautions()[0][:40]) {
			if !strings.Contains(text, w) {
				t.Errorf("%s lacks %q", class, w)
			}
		}
		if isDisc := in.Class.Truck.ServiceBrakes.IsDisc(); isDisc == strings.Contains(text, "pushrod travel") || isDisc != strings.Contains(text, "Disc brakes have no pushrod stroke") {
			t.Errorf("%s: discs %v, and the lesson speaks of the other kind", class, isDisc)
		}
	}
}

// Every figure of the table is that of the runs.
func TestLessonFiguresAreThoseOfTheRuns(t *testing.T) {
	in := inputFor(t, "us-5axle")
	d, err := Document(in)
	if err != nil {
		t.Fatal(err)
	}
	text := htmlOf(t, d)
	for _, r := range in.Runs {
		if r.Way != holding.WayGearUp && !strings.Contains(text, "<td>"+in.Units.Temp(r.PeakC)+"</td>") {
			t.Errorf("%s: no %s", r.Way, in.Units.Temp(r.PeakC))
		}
		if math.IsInf(r.StopM, 1) != (r.LostM != nil) {
			t.Errorf("%s: lost %v, stop %v", r.Way, r.LostM, r.StopM)
		}
	}
}

// No lesson without a sound answer.
func TestLessonNeedsAnAnswer(t *testing.T) {
	in := inputFor(t, "us-5axle")
	in.Entry.Holds = nil
	if _, err := Document(in); !errors.Is(err, catalog.ErrClass) {
		t.Errorf("without a hold: %v", err)
	}
	in = inputFor(t, "us-5axle")
	in.Entry.Descent.Flags = []string{routes.FlagUnreliable}
	if _, err := Document(in); !errors.Is(err, catalog.ErrClass) && in.Entry.Holds[0].Holds {
		t.Errorf("over an unreliable profile: %v", err)
	}
}

// The table of adjustments and the dragged run tell of one brake: at the run's hottest,
// the brake as the class adjusts it has the run's stroke and force.
func TestAdjustmentTableAgreesWithTheRun(t *testing.T) {
	in := inputFor(t, "us-5axle")
	for _, r := range in.Runs {
		if r.Way != holding.WayDragged {
			continue
		}
		last := r.Stations[len(r.Stations)-1]
		k := holding.AdjustmentCases(in.Class.Truck.ServiceBrakes, r.Stations[0].TempC, last.TempC)[0]
		if math.Abs(k.HotStrokeM-last.StrokeM) > 1e-9 || math.Abs(k.HotShare-last.LeftShare*k.ColdShare) > 1e-9 {
			t.Errorf("table %.4f m, %.3f; run %.4f m, %.3f", k.HotStrokeM, k.HotShare, last.StrokeM, last.LeftShare)
		}
	}
}
