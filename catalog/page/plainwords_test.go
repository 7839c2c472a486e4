package page

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/specimen"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
)

// printed prints a sheet both ways and gives the PDF's text and the HTML.
func printed(t *testing.T, name string, s Sheet) (pdf, html string) {
	t.Helper()
	html = string(keep(t, name+".html", func(w io.Writer) error { return SheetHTML(w, s, Letter) }))
	return pdfText(t, keep(t, name+".pdf", func(w io.Writer) error { return SheetPDF(w, s, Letter) }), "(letter)"), html
}

// Not held by grip: the wheels are the reason, first; neither a small missing
// power nor cool service brakes read as a way down.
func TestSheetNotHeldByGrip(t *testing.T) {
	s := sampleSheet("bc-btrain", catalog.Metric)
	h := &s.Entry.Holds[1]
	h.LimitedBy, h.MissingPowerW, h.FrictionNeeded, h.HeaviestMassKg = catalog.LimitFriction, 40e3, 0.5501, 0
	h.ServiceBrakeTempC = ptr(85.0)
	p := inWords(t, s)
	if p.Head != "NOT HELD" || len(p.Says) < 3 || !strings.HasPrefix(p.Says[0], "The driven wheels cannot grip enough to hold this truck, even on a dry road") {
		t.Errorf("%s: %q", p.Head, p.Says)
	}
	pdf, html := printed(t, "sheet-grip", s)
	for _, text := range []string{pdf, html} {
		says(t, "the page", text, "friction needed 0.56", "no more than 0.40 may be used", "Do not take this truck down this hill", "not every lighter one grips better")
		saysNot(t, "the page", text, "Missing", "85 °C", "if they did the rest")
	}
}

// Service brakes within their working range are no way down either.
func TestSheetCoolServiceBrakesAreNoWayDown(t *testing.T) {
	s := sampleSheet("bc-btrain", catalog.Metric)
	s.Entry.Holds[1].ServiceBrakeTempC = ptr(85.0)
	pdf, _ := printed(t, "sheet-cool", s)
	says(t, "the page", pdf, "must stay cold for the emergency", "must not be used instead")
	saysNot(t, "the page", pdf, "85 °C")
	pdf, _ = printed(t, "sheet-hot", sampleSheet("bc-btrain", catalog.Metric))
	says(t, "the page", pdf, "312 °C (594 °F)", "must not be used instead")
}

// Each retarding device has a box and a setting of its own, and a gear its name; a full page names
// the devices as their boxes do.
func TestSheetNamesGearAndLevers(t *testing.T) {
	s := sampleSheet("us-5axle", catalog.US)
	h := &s.Entry.Holds[0]
	h.GearName = "5L"
	h.Levers = []catalog.Lever{{Retarder: "compression brake, 13 L", Kind: "engine", Stage: 2, Stages: 3}, {Retarder: "hydraulic retarder on the output shaft", Kind: "driveline", Stage: 4, Stages: 5}}
	pdf, html := printed(t, "sheet-levers", s)
	for _, text := range []string{pdf, html} {
		says(t, "the page", text, "5L", "Compression brake", "2 of 3", "Hydraulic retarder", "4 of 5",
			"Gear 5L in, compression brake at stage 2 of 3, hydraulic retarder at stage 4 of 5", "GEAR 5L IN", "Stay in gear 5L")
		saysNot(t, "the page", text, "Gear 6 in", "6 of 8")
	}
	h.Levers, h.GearName = nil, "" // a hold of an older catalogue
	p := inWords(t, s)
	if p.Boxes[0].Big != "6" || p.Boxes[1].Big != "3" {
		t.Errorf("%+v", p.Boxes)
	}
}

func TestSheetDryRoadOnly(t *testing.T) {
	wet := ""
	for _, x := range vehicle.Surfaces {
		if strings.Contains(x.Name, "wet") {
			wet = x.Name
		}
	}
	s := sampleSheet("us-5axle", catalog.US)
	s.Entry.Holds[0].SurfacesOut = []string{wet, "packed snow", "ice"}
	p := inWords(t, s)
	refused := inWords(t, sampleSheet("bc-btrain", catalog.US))
	if p.Head != "HOLDS ON THE RETARDER ALONE" || p.Narrowed != "DRY ROAD ONLY" || refused.headPt() != narrowedPt {
		t.Errorf("%s, %s; NOT HELD is set at %g pt, what narrows at %g pt", p.Head, p.Narrowed, refused.headPt(), float64(narrowedPt))
	}
	_, html := printed(t, "sheet-dry-only", s)
	says(t, "the page", html, `<p class="bar big">DRY ROAD ONLY</p>`)
	pdf, _ := printed(t, "sheet-wet-too", sampleSheet("us-5axle", catalog.US))
	saysNot(t, "the page", pdf, "DRY ROAD ONLY")
}

// The gear goes in a little before the crest: the two rows tell so.
func TestSheetSmallDistances(t *testing.T) {
	s := sampleSheet("us-5axle", catalog.US)
	s.Entry.Holds[0].GearByM = 1440
	p := inWords(t, s)
	var rows []string
	for _, x := range p.Places {
		rows = append(rows, x.First+" | "+x.Second+" | "+x.What)
	}
	list := strings.Join(rows, "\n")
	says(t, "the list", list, "200 ft before | 60 m before | GEAR 6 IN", "0 ft | 0 m | Crest")
	saysNot(t, "the list", list, "0.0 mi", "0.0 km", "−", "-")
	for d, want := range map[float64]string{-1000: "0.7 mi before", 400: "0.2 mi", -0.5: "0 ft", 100: "350 ft", -7: "50 ft before"} {
		if got := fromCrest(d, catalog.US); got != want {
			t.Errorf("%g m: %s, want %s", d, got, want)
		}
	}
}

// One window, one name.
func TestWindowHasOneName(t *testing.T) {
	if got := wording.Window(catalog.US, 500); got != "1,600 ft" {
		t.Error(got)
	}
	r := sampleReport()
	var b bytes.Buffer
	if err := ReportHTML(&b, r); err != nil {
		t.Fatal(err)
	}
	says(t, "the report", b.String(), "Steepest 1,600 ft", "over 1,600 ft")
	saysNot(t, "the report", b.String(), "over 0.3 mi")
}

// No mass reads as more than holds.
func TestReportMassesRoundDown(t *testing.T) {
	r := sampleReport()
	r.Units = catalog.Metric
	var b bytes.Buffer
	if err := ReportHTML(&b, r); err != nil {
		t.Fatal(err)
	}
	says(t, "the report", b.String(), ">36.2 t</td>") // 36,287 kg
	saysNot(t, "the report", b.String(), "36.3 t")
}

// The name of the panel of bars stands clear of them.
func TestReportPanelNameIsClearOfBars(t *testing.T) {
	r := sampleReport()
	for i := range r.Entries { // as steep from the crest on as anywhere, so that bars are high at the left
		e := &r.Entries[i]
		e.View = plot.ViewFromProfile(specimen.Profile(), &e.Entry, nil, 0)
		for k, at := range e.View.StationM {
			e.View.ElevationM[k] = 2000 - 0.067*at
		}
		e.View.GroundM = nil
	}
	path := filepath.Join(t.TempDir(), "report.html")
	if err := os.WriteFile(path, keep(t, "report-panel.html", func(w io.Writer) error { return ReportHTML(w, r) }), 0o600); err != nil {
		t.Fatal(err)
	}
	b := specimen.OpenBrowser(t, 1400, 1000)
	b.Visit("file://" + path)
	if got := b.Text(`(() => { let n = 0, hit = 0; for (const s of document.querySelectorAll("svg.profile")) {
		const name = [...s.querySelectorAll(".panel-name")].at(-1).getBBox();
		for (const r of s.querySelectorAll("rect.bar")) { const k = r.getBBox(); n++;
			if (k.x < name.x + name.width && k.x + k.width > name.x && k.y < name.y + name.height && k.y + k.height > name.y) hit++ } }
		return (n > 100) + " " + hit })()`); got != "true 0" {
		t.Errorf("bars, and those under the panel's name: %s", got)
	}
}

func inQuestion() Sheet {
	s := sampleSheet("us-5axle", catalog.US)
	s.Entry.Review = catalog.Review{State: catalog.Approved, By: "R. Vane", InQuestion: "the class's figures were changed"}
	return s
}

// A page whose review is in question says so first, and large.
func TestSheetInQuestion(t *testing.T) {
	s := inQuestion()
	pdf, html := printed(t, "sheet-question", s)
	if !strings.HasPrefix(pdf, "APPROVAL IN QUESTION") || strings.Index(pdf, "IN QUESTION: the class's figures were changed") > strings.Index(pdf, "INVENTED") {
		t.Errorf("the page begins %.200s", pdf)
	}
	says(t, "the page", html, `<p class="bar mid" role="note">IN QUESTION: the class&#39;s figures were changed. Ask the office before you use this page.</p>`)
	pdf, html = printed(t, "sheet-no-question", sampleSheet("us-5axle", catalog.US))
	saysNot(t, "the page", pdf+html, "IN QUESTION")
}

// A page by a newer, harder survey says so in the driver's words; what only the office can
// do about it stays off.
func TestSheetByANewerSurvey(t *testing.T) {
	s := inQuestion()
	s.IsWaiting = true
	s.Entry.Review.InQuestion = "survey of 2026-11-29 moved it beyond its bounds: mean 6.0 to 7.1 %; accept or refuse it"
	pdf, html := printed(t, "sheet-newer", s)
	says(t, "the page", html, wording.HarderSurvey, "IN QUESTION: survey of 2026-11-29 found this hill different: mean 6.0 to 7.1 %. Ask the office")
	says(t, "the page", pdf, "A NEWER SURVEY FOUND THIS HILL HARDER")
	saysNot(t, "the page", html+pdf, "accept or refuse", "beyond its bounds")
}

func TestReportInQuestion(t *testing.T) {
	var b bytes.Buffer
	if err := ReportHTML(&b, sampleReport()); err != nil {
		t.Fatal(err)
	}
	row := b.String()[strings.Index(b.String(), `<tr data-i="2"`):]
	says(t, "the row", row[:strings.Index(row, "</tr>")], "<br><strong>IN QUESTION</strong>")
	one := b.String()[strings.Index(b.String(), `id="d2"`):]
	says(t, "the section", one[:strings.Index(one, "<svg")], `<p class="warning" role="note">IN QUESTION<br>class figures changed</p>`)
	if n := strings.Count(b.String(), "class figures changed"); n != 2 { // section, review line
		t.Errorf("said %d times", n)
	}
}

// A hill that road load alone holds asks for no stage.
func TestSheetFreeRolling(t *testing.T) {
	s := sampleSheet("us-5axle", catalog.US)
	h := &s.Entry.Holds[0]
	h.Stage, h.Levers[0].Stage, h.LimitedBy = 0, 0, catalog.LimitFreeRolling
	p := inWords(t, s)
	if p.Boxes[1].Big != "off" || !strings.Contains(p.GearIn, "retarder off") || strings.Contains(fmt.Sprint(p), "stage 0") {
		t.Errorf("%v; %s", p.Boxes, p.GearIn)
	}
}
