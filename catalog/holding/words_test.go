package holding

import (
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

func TestWordsAreTwoPlainSentences(t *testing.T) {
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range classes {
		for _, pct := range []float64{0.2, 3, 6, 9, 13} {
			h := advise(t, PlainHill(pct, 3*catalog.MileM), c, Options{})
			for _, w := range []string{h.Words.US, h.Words.Metric} {
				if n := strings.Count(w, ". ") + 1; n != 2 || !strings.HasSuffix(w, ".") || strings.Contains(w, "NaN") || strings.Contains(w, "Inf") {
					t.Errorf("%s %g %%: %d sentences: %s", c.ID, pct, n, w)
				}
			}
			if !strings.Contains(h.Words.US, "mi") && h.Holds || strings.Contains(h.Words.US, "km/h") || strings.Contains(h.Words.Metric, "mph") {
				t.Errorf("%s %g %%: units mixed: %s | %s", c.ID, pct, h.Words.US, h.Words.Metric)
			}
		}
	}
}

// classes check: three standard grades for each class, and what looks odd.
func TestCheckTriesTheStandardGrades(t *testing.T) {
	c := mustClass(t, "us-5axle")
	c.Truck.GearRatios, c.Truck.GearNames = []float64{12, 3}, nil
	c.Defaults = []vehicle.Default{{Class: c.ID, Figure: "truck.drag_area_m2", Value: "5 m²", Source: "x", Status: "default"}}
	found, err := Check([]vehicle.Class{c}, catalog.US)
	if err != nil {
		t.Fatal(err)
	}
	holds, remarks := 0, ""
	for _, f := range found {
		if f.Hold != nil {
			holds++
		} else {
			remarks += f.Remark + "\n"
		}
	}
	if holds != len(StandardGrades) || !strings.Contains(remarks, "between gears 1 and 2") || !strings.Contains(remarks, "drag_area_m2") {
		t.Errorf("%d holds, remarks:\n%s", holds, remarks)
	}
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	found, err = Check(classes, catalog.US)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range found {
		if f.Remark != "" {
			t.Errorf("a default class looks odd: %s: %s", f.Class, f.Remark)
		}
	}
}

// Same question, same bits.
func TestAdviceIsDeterministic(t *testing.T) {
	h, c := longHill(), mustClass(t, "eu-5axle")
	a, b := advise(t, h, c, Options{}), advise(t, h, c, Options{})
	if a.SpeedMPS != b.SpeedMPS || a.HeaviestMassKg != b.HeaviestMassKg || a.OneGearUp != b.OneGearUp || a.HeatCase != b.HeatCase || a.Heat[3] != b.Heat[3] {
		t.Error("two answers differ")
	}
}
