package page

import (
	"io"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/specimen"
	"gradeline/catalog/wording"
)

// The driver's page and the report say what one mean hides, where it lies on the road.
func TestPageListsThePartsOfTheHill(t *testing.T) {
	s := sampleSheet("us-5axle", catalog.Metric)
	s.Entry = specimen.WithParts()
	text := pdfText(t, keep(t, "sheet-parts.pdf", func(w io.Writer) error { return SheetPDF(w, s, A4) }), "(A4)")
	for _, want := range []string{
		"3.5 km 2.2 mi Steep part: 9.3 ± 1.2 % for 0.4 km (0.2 mi)", "Steepest: 8.1 ± 1.1 % for 500 m (1,600 ft)",
		"Easier: 1.4 % for 0.5 km, with 6.2 % before it and 7.1 % after it. The hill continues.",
		"the hill may begin 190 m (650 ft) earlier", "the hill may continue 240 m (800 ft) further",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	e := specimen.WithParts()
	r := Report{Units: catalog.Metric, Entries: []ReportEntry{{Entry: e, View: plot.ViewFromProfile(specimen.Profile(), &e, nil, 700)}}}
	html := string(write(t, func(w io.Writer) error { return ReportHTML(w, r) }))
	if want := "Steep parts: 9.3 ± 1.2 % for 0.4 km, from 3.5 km below the crest on."; !strings.Contains(html, want) {
		t.Errorf("the report lacks %q", want)
	}
}

// One line says what to check before the hill, by kind of brake.
func TestPageSaysWhatToCheckByKindOfBrake(t *testing.T) {
	for _, c := range []struct {
		kind      wording.BrakeKind
		want, not string
	}{{wording.DrumBrakes, "pushrod strokes within their limit", "no disc hot"}, {wording.DiscBrakes, "no disc hot", "pushrod"}, {wording.AnyBrakes, "strokes and pads", "no disc hot"}} {
		s := sampleSheet("us-5axle", catalog.Metric)
		s.Brakes = c.kind
		text := pdfText(t, write(t, func(w io.Writer) error { return SheetPDF(w, s, A4) }), "(A4)")
		if !strings.Contains(text, c.want) || strings.Contains(text, c.not) {
			t.Errorf("brakes %d: %s", c.kind, text)
		}
	}
}
