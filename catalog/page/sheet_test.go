package page

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/specimen"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/terrain"
)

func at(stationM float64) *float64 { return &stationM }

func sampleSheet(class string, u catalog.Units) Sheet {
	e := specimen.Entry(routes.Forward)
	_, h, _ := wording.AnswerFor(&e, class)
	return Sheet{
		Entry: e, Class: class, ClassLabel: "US five-axle tractor and semi-trailer", View: plot.ViewFromProfile(specimen.Profile(), &e, h, 700),
		Toward: "Alder Ferry", Units: u,
		Sites: []catalog.Site{
			{Kind: catalog.BrakeCheck, Name: "Harrow summit", StationM: at(1150), Side: "right"},
			{Kind: catalog.EscapeRamp, StationM: at(6900), Side: "right"},
			{Kind: "pullout", StationM: at(3500), Side: "right"},
			{Kind: "stop", Name: "at Mill Street", StationM: at(8100)},
		},
	}
}

// pdfText checks that a PDF has one page of the size and gives its text on one line.
func pdfText(t *testing.T, b []byte, size string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "a.pdf")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	info := run(t, "poppler-utils", "pdfinfo", path)
	if !strings.Contains(info, "Pages:           1\n") || !strings.Contains(info, size) {
		t.Errorf("not one page of %s:\n%s", size, info)
	}
	return strings.Join(strings.Fields(run(t, "poppler-utils", "pdftotext", "-layout", path, "-")), " ")
}

func TestSheetPDF(t *testing.T) {
	for _, c := range []struct {
		file, class string
		u           catalog.Units
		paper       Paper
		size        string
		want, not   []string
	}{
		{"sheet-held.pdf", "us-5axle", catalog.US, Letter, "(letter)", []string{
			"Harrow Hill Road", "toward Alder Ferry", "for 33,100 lb (15.0 t) to 80,000 lb (36.2 t)", "HOLDS ON THE RETARDER ALONE", "27 mph", "43 km/h", "1,930",
			"Gear 6 in, compression brake at stage 3 of 3: 350 ft (100 m) before the crest; after the brake check area Harrow summit", "4.0 mi (6.5 km) long, about 10 min on the retarder",
			"If speed rises past 27 mph (43 km/h)", "down to 22 mph (35 km/h)", "BRAKE CHECK AREA Harrow summit (right)", "escape ramp 3.4 mi (5.4 km) below the crest",
			"Packed snow", "NOT by this advice; the stage when switched on needs a friction of 0.27, only 0.12 may be used", "Wet road", "up to 31 mph (49 km/h) the retarder alone", "SLOW DOWN from here, from 55 mph", "Compression brake at stage 2 of 3, at most 30 mph", "With half the retarder lost: a lower gear, at most 15 mph", "Past the last one", "NOT REVIEWED", "not field-checked", "harrow.tif", "Bounds (95 %): mean downgrade ± 0.2 points", wording.InventedBanner, "planning aid", "keep 22–27 mph", "ratio 4.10", "Steepest: 8.1 % for 1,600 ft (500 m)", "84 % in use",
		}, []string{"NOT HELD"}},
		{"sheet-not-held.pdf", "bc-btrain", catalog.Metric, A4, "(A4)", []string{
			"NOT HELD", "Do not take this truck down this hill", "Heaviest mass that holds: 52.3 t (115,300 lb)", "61 kW (82 hp)", "312 °C (594 °F)",
		}, []string{"Gear 0", "If speed rises", "HOLDS ON"}},
		{"sheet-unknown.pdf", "none-such", catalog.Metric, A4, "(A4)", []string{"UNKNOWN", "no hold was computed for this class"}, []string{"Gear 0", "HOLDS ON"}},
	} {
		s := sampleSheet(c.class, c.u)
		b := keep(t, c.file, func(w io.Writer) error { return SheetPDF(w, s, c.paper) })
		text := pdfText(t, b, c.size)
		html := keep(t, strings.TrimSuffix(c.file, "pdf")+"html", func(w io.Writer) error { return SheetHTML(w, s, c.paper) })
		for _, want := range append(c.want, catalog.Cautions()...) {
			if !strings.Contains(text, want) {
				t.Errorf("%s lacks %q:\n%s", c.file, want, text)
			}
			if !bytes.Contains(html, []byte(strings.ReplaceAll(want, "'", "&#39;"))) {
				t.Errorf("%s: the HTML page lacks %q", c.file, want)
			}
		}
		for _, not := range c.not {
			if strings.Contains(text, not) || bytes.Contains(html, []byte(not)) {
				t.Errorf("%s says %q", c.file, not)
			}
		}
		if again := write(t, func(w io.Writer) error { return SheetPDF(w, s, c.paper) }); !bytes.Equal(b, again) {
			t.Errorf("%s: the same sheet gave other bytes", c.file)
		}
	}
}

// chromium starts Debian's Chromium without a window and returns what it prints.
func chromium(t *testing.T, args ...string) string {
	t.Helper()
	flags := []string{"--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
		"--disable-component-update", "--disable-sync", "--user-data-dir=" + t.TempDir()}
	return run(t, "chromium", "chromium", append(flags, args...)...)
}

// The HTML page prints on one page from a browser, too, with the profile where the PDF has it, and room
// for browsers that set lines wider. Nothing that a driver acts on is under 9 pt.
func TestSheetHTMLPrintsOnOnePage(t *testing.T) {
	full := fullSheet()
	for i, s := range []Sheet{sampleSheet("us-5axle", catalog.US), full, sampleSheet("bc-btrain", catalog.Metric)} {
		paper := []Paper{Letter, A4}[i%2]
		dir := t.TempDir()
		page, pdf := filepath.Join(dir, "a.html"), filepath.Join(dir, "a.pdf")
		if err := os.WriteFile(page, write(t, func(w io.Writer) error { return SheetHTML(w, s, paper) }), 0o600); err != nil {
			t.Fatal(err)
		}
		chromium(t, "--print-to-pdf="+pdf, "--no-pdf-header-footer", "file://"+page)
		b, err := os.ReadFile(pdf)
		if err != nil {
			t.Fatal(err)
		}
		keep(t, fmt.Sprintf("sheet-chromium-%d.pdf", i), func(w io.Writer) error { _, err := w.Write(b); return err })
		text := pdfText(t, b, "pts")
		if !strings.Contains(text, "planning aid") {
			t.Errorf("page %d as printed: %s", i, text)
		}
		d, _, err := s.layOut(paper)
		if err != nil {
			t.Fatal(err)
		}
		if has := strings.Contains(text, "Distance from the crest"); has == d.p.WithoutPicture {
			t.Errorf("page %d: a profile as printed from a browser: %v, in the PDF: %v", i, has, !d.p.WithoutPicture)
		}
		if free := freeMM(t, pdf); free < 5 {
			t.Errorf("page %d: %.1f mm are left at the foot of the page as printed from a browser", i, free)
		}
		for name, file := range map[string][]byte{"browser": b, "PDF": write(t, func(w io.Writer) error { return SheetPDF(w, s, paper) })} {
			if small := smallText(t, file); !strings.HasPrefix(small, "Review: ") {
				t.Errorf("page %d, %s: under 9 pt: %s", i, name, small)
			}
		}
	}
}

// freeMM is the room between the last line of a page and its margin.
func freeMM(t *testing.T, pdf string) float64 {
	t.Helper()
	words := run(t, "poppler-utils", "pdftotext", "-bbox", pdf, "-")
	last, tall := 0.0, 0.0
	for _, m := range regexp.MustCompile(`(?:yMax|<page width="[0-9.]+" height)="([0-9.]+)"`).FindAllStringSubmatch(words, -1) {
		v, err := strconv.ParseFloat(m[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		if tall == 0 {
			tall = v
		} else {
			last = math.Max(last, v)
		}
	}
	return (tall-last)*mmPerPt - 8
}

// smallText is the text of a PDF that is set smaller than 9 pt, to whole points.
func smallText(t *testing.T, pdf []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "small.pdf")
	if err := os.WriteFile(path, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	all := run(t, "poppler-utils", "pdftohtml", "-xml", "-i", "-stdout", "-zoom", "1", path)
	isSmall := map[string]bool{}
	for _, m := range regexp.MustCompile(`<fontspec id="(\d+)" size="(\d+)"`).FindAllStringSubmatch(all, -1) {
		isSmall[m[1]] = len(m[2]) == 1 && m[2] < "9"
	}
	out := ""
	for _, m := range regexp.MustCompile(`<text [^>]*font="(\d+)">(.*?)</text>`).FindAllStringSubmatch(all, -1) {
		if isSmall[m[1]] {
			out += m[2] + " "
		}
	}
	return out
}

// A full page stays one page, and one that can't is refused, not cut.
func TestSheetFits(t *testing.T) {
	s := fullSheet()
	text := pdfText(t, keep(t, "sheet-full.pdf", func(w io.Writer) error { return SheetPDF(w, s, Letter) }), "(letter)")
	for _, want := range []string{"more places: ask the office", "ESCAPE RAMP", "Foot", "IN QUESTION", "Easier: 1.4 %"} {
		if !strings.Contains(text, want) {
			t.Errorf("lacks %q", want)
		}
	}
	s.Entry.Holds[0].Cautions = []string{strings.Repeat("word ", 3000)}
	if err := SheetPDF(io.Discard, s, Letter); !errors.Is(err, terrain.ErrInput) {
		t.Errorf("a page of 3,000 words: %v", err)
	}
}

func TestSheetHostileNames(t *testing.T) {
	s := sampleSheet("us-5axle", catalog.US)
	s.Entry.Descent.Name, s.Toward, s.ClassLabel = specimen.HostileName, "<img src=x onerror=alert(1)>", "a\u202Eb 山 😀"
	html := string(write(t, func(w io.Writer) error { return SheetHTML(w, s, Letter) }))
	for _, not := range []string{"<script", "<img src=x", "\u202E", "\u0007"} {
		if strings.Contains(html, not) {
			t.Errorf("the page holds %q", not)
		}
	}
	if !strings.Contains(html, "&lt;script&gt;alert(1)&lt;/script&gt;") {
		t.Error("the name is not on the page as text")
	}
	text := pdfText(t, write(t, func(w io.Writer) error { return SheetPDF(w, s, A4) }), "(A4)")
	if !strings.Contains(text, "<script>alert(1)</script>") || !strings.Contains(text, "b ? ?") {
		t.Errorf("the PDF's name: %.200s", text)
	}
	// A hill whose name is question marks is known by its identifier.
	const lacks = "This page's font lacks letters of the name. It is descent "
	for name, want := range map[string]bool{"طريق الممر القديم": true, "Дорога через перевал": false, "Harrow Hill Road": false} {
		s.Entry.Descent.Name = name
		text := pdfText(t, write(t, func(w io.Writer) error { return SheetPDF(w, s, A4) }), "(A4)")
		if got := strings.Contains(text, lacks+s.Entry.Descent.ID); got != want {
			t.Errorf("%s: says which descent it is: %v: %.300s", name, got, text)
		}
	}
}

// fullSheet has more to say than fits at full size.
func fullSheet() Sheet {
	s := sampleSheet("us-5axle", catalog.US)
	s.Entry.Descent.Name = "Harrow Hill Road over the Long Saddle and down by Cinder Gap to the Old Ferry Crossing at Alder"
	s.Entry.Review = catalog.Review{State: catalog.Approved, By: "R. Vane, safety office", InQuestion: "the class's figures were changed after the approval"}
	s.Entry.Holds[0].Cautions = []string{strings.Repeat("A caution of some length about this hill. ", 4)}
	for i := range 30 {
		s.Sites = append(s.Sites, catalog.Site{Kind: "pullout", Name: fmt.Sprintf("number %d by the orchard wall", i), StationM: at(1600 + float64(i)*200)})
	}
	return s
}
