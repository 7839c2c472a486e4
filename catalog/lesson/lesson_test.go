package lesson

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
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

// A driver reads it: sentences of at most 25 words, of at most 13 on average (common practice for
// plain language). Sources and cautions are for others.
func TestLessonIsPlainToRead(t *testing.T) {
	for _, class := range []string{"us-5axle", "ca-btrain-63t", "eu-5axle"} {
		d, err := Document(inputFor(t, class))
		if err != nil {
			t.Fatal(err)
		}
		var texts []string
		for _, b := range d.Blocks {
			switch b := b.(type) {
			case handout.Heading:
				if b.Text == "Sources of the figures" {
					texts = append(texts, "END")
				}
			case handout.Paragraph:
				texts = append(texts, b.Text)
			case handout.List:
				texts = append(texts, b.Items...)
			}
		}
		if i := slices.Index(texts, "END"); i > 0 {
			texts = texts[:i]
		}
		sentences, words := 0, 0
		for _, x := range texts {
			for _, one := range strings.FieldsFunc(strings.ReplaceAll(x+" ", ". ", "\n"), func(r rune) bool { return strings.ContainsRune("\n?;:", r) }) {
				n := len(strings.Fields(one))
				if n == 0 {
					continue
				}
				if sentences, words = sentences+1, words+n; n > 25 {
					t.Errorf("%s: %d words: %s", class, n, one)
				}
			}
		}
		if mean := float64(words) / float64(sentences); mean > 13 || sentences < 40 {
			t.Errorf("%s: %d sentences of %.1f words", class, sentences, mean)
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

// The places on record stand on the first page with their distance from the crest; without any,
// the page says so.
func TestLessonNamesThePlaces(t *testing.T) {
	in := inputFor(t, "us-5axle")
	text := func() string {
		d, err := Document(in)
		if err != nil {
			t.Fatal(err)
		}
		return htmlOf(t, d)
	}
	if !strings.Contains(text(), "No brake check area, place to stop or escape ramp is on record here.") {
		t.Error("nothing is said of places")
	}
	d := &in.Entry.Descent
	at, ramp := d.StartM, d.StartM+(d.EndM-d.StartM)/2
	in.Sites = []catalog.Site{{Kind: catalog.BrakeCheck, Name: "Top", Route: d.Route, StationM: &at}}
	if got := text(); !strings.Contains(got, "brake check area Top, at the crest") || !strings.Contains(got, "No escape ramp is on record.") {
		t.Error("the brake check area is missing, or that there is no ramp")
	}
	in.Sites = append(in.Sites, catalog.Site{Kind: catalog.EscapeRamp, Name: "Bed", Route: d.Route, StationM: &ramp})
	if got := text(); !strings.Contains(got, "escape ramp Bed, on the grade, "+in.Units.Length(d.LengthM/2)+" past the crest") || strings.Contains(got, "No escape ramp") {
		t.Error("the escape ramp is missing")
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
		cases := holding.AdjustmentCases(in.Class.Truck.ServiceBrakes, r.Stations[0].TempC, last.TempC)
		i := slices.IndexFunc(cases, func(k holding.AdjustmentCase) bool { return strings.HasPrefix(k.What, "as the class adjusts it") })
		if i < 0 {
			t.Fatalf("%+v", cases)
		}
		k := cases[i]
		if math.Abs(k.HotStrokeM-last.StrokeM) > 1e-9 || math.Abs(k.HotShare-last.LeftShare*k.ColdShare) > 1e-9 {
			t.Errorf("table %.4f m, %.3f; run %.4f m, %.3f", k.HotStrokeM, k.HotShare, last.StrokeM, last.LeftShare)
		}
	}
}
