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
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/specimen"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/terrain"
)

func sampleReport() Report {
	r := Report{Title: "Harrow county, autumn survey", Units: catalog.US, Classes: []ReportClass{{"us-5axle", "US five-axle"}, {"bc-btrain", "B-train"}},
		Skipped: []routes.Skipped{{Where: "roads.geojson, feature 9", Why: "a line of one point"}}}
	p := specimen.Profile()
	for i, e := range specimen.Entries() {
		_, h, _ := wording.AnswerFor(&e, "us-5axle")
		r.Entries = append(r.Entries, ReportEntry{Entry: e, View: plot.ViewFromProfile(p, &e, h, 600)})
		route := plot.MapRoute{ID: e.Descent.Route, Name: wording.Title(&e.Descent)}
		for k := 0; k < specimen.Stations; k += 10 {
			route.Line = append(route.Line, catalog.Vertex{LonDeg: p.Points[k][0], LatDeg: p.Points[k][1] + []float64{0, 0.02, -0.02}[i]})
		}
		r.Routes = append(r.Routes, route)
	}
	h := &plot.Hillshade{WestDeg: -110.02, EastDeg: -109.86, SouthDeg: 43.96, NorthDeg: 44.06, Cols: 400, Rows: 250}
	for row := range h.Rows {
		for col := range h.Cols {
			x, y := float64(col)/40, float64(row)/40
			z := 1700 + 250*math.Sin(x)*math.Cos(0.8*y) + 80*math.Sin(3.1*x+y) + 40*math.Cos(5*y-2*x)
			if col > 370 && row > 200 {
				z = math.NaN()
			}
			h.ElevationM = append(h.ElevationM, z)
		}
	}
	r.Hillshade = h
	return r
}

func TestReportIsSelfContained(t *testing.T) {
	b := keep(t, "report.html", func(w io.Writer) error { return ReportHTML(w, sampleReport()) })
	for _, c := range []struct{ what, pattern string }{
		{"an address", `(?i)(src|href)\s*=\s*"?(https?:|//)`}, {"a script from elsewhere", `(?i)<script[^>]+src`},
		{"a style from elsewhere", `(?i)<link|@import|url\(\s*["']?(https?:|//)`}, {"a direction mark", "\u202E"}, {"a control character", "\u0007"},
		{"a script of a name's", `<script>alert`},
	} {
		if at := regexp.MustCompile(c.pattern).FindIndex(b); at != nil {
			t.Errorf("the page holds %s: %.80s", c.what, b[at[0]:])
		}
	}
	for _, want := range append(catalog.Cautions(), wording.InventedBanner, "NOT HELD", "unknown", "not field-checked", "harrow.tif", "a line of one point", "&lt;script&gt;alert(1)") {
		if !bytes.Contains(b, []byte(strings.ReplaceAll(want, "'", "&#39;"))) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if again := write(t, func(w io.Writer) error { return ReportHTML(w, sampleReport()) }); !bytes.Equal(b, again) {
		t.Error("the same report gave other bytes")
	}
	empty := write(t, func(w io.Writer) error { return ReportHTML(w, Report{}) })
	if !bytes.Contains(empty, []byte("That is not an all-clear")) {
		t.Error("an empty report doesn't say that it is")
	}
}

func TestReportInBrowser(t *testing.T) {
	path := filepath.Join(t.TempDir(), "report.html")
	if err := os.WriteFile(path, write(t, func(w io.Writer) error { return ReportHTML(w, sampleReport()) }), 0o600); err != nil {
		t.Fatal(err)
	}
	b := specimen.OpenBrowser(t, 1400, 1000)
	b.Visit("file://" + path)
	want := func(what, expr, want string) {
		t.Helper()
		if got := b.Text(expr); got != want {
			t.Errorf("%s: %q, want %q", what, got, want)
		}
	}
	picture := func(name string, whole bool) {
		shot := b.Picture(whole)
		keep(t, name, func(w io.Writer) error { _, err := w.Write(shot); return err })
	}
	want("descents shown at first", "document.querySelector('#count').textContent", "3 of 3 descents shown")
	want("a hostile name stays text", "document.querySelector('#t2 bdi').textContent", strings.Join(strings.Fields(wording.Plain(specimen.HostileName)), " "))

	// The cursor over a profile: map, slider, sentence and table row follow.
	b.Move("document.querySelector('#d0 .profile')", 0.5, 0.5)
	picture("report-cursor.png", false)
	want("the sentence beside the map", "document.querySelector('#readout').textContent === '1. ' + document.querySelector('#d0 output').textContent && /below the crest, [\\d,]+ ft, downgrade \\d/.test(document.querySelector('#readout').textContent)", "true")
	want("one row of the table", "document.querySelectorAll('tr.here').length", "1")
	want("the dot is on the map", "+document.querySelector('#map-cursor').getAttribute('cx') > 0", "true")
	want("row and sentence agree", "(r=>{const d=parseFloat(document.querySelector('#d0 output').textContent);return d>=r.cells[0].textContent-0.02&&d<=+r.cells[1].textContent+0.02})(document.querySelector('tr.here'))", "true")
	// By key on the slider.
	before := b.Text("document.querySelector('#d0 input').value")
	b.Eval("document.querySelector('#d0 input').focus()", nil)
	b.Key("ArrowRight", 39)
	if after := b.Text("document.querySelector('#d0 input').value"); after == before {
		t.Error("an arrow key does not move the cursor")
	}
	want("the slider tells its value in words", "document.querySelector('#d0 input').getAttribute('aria-valuetext') === document.querySelector('#d0 output').textContent", "true")
	// From the map.
	b.Move("document.querySelector('#map .descent[data-i=\"1\"] .line')", 0.5, 0.5)
	b.Eval("(g=>{const p=document.querySelector('#map .descent[data-i=\"1\"] .touch');const q=p.getPointAtLength(p.getTotalLength()/2).matrixTransform(p.getScreenCTM());g.x=q.x;g.y=q.y})(window.spot={})", nil)
	var spot struct{ X, Y float64 }
	b.Eval("window.spot", &spot)
	b.Call("Input.dispatchMouseEvent", map[string]any{"type": "mouseMoved", "x": spot.X, "y": spot.Y}, nil)
	want("the map moves the profile's cursor", "document.querySelector('#readout').textContent.startsWith('2. ') && document.querySelector('#d1 .cursor').style.transform !== ''", "true")
	b.Key("Escape", 27)
	want("Escape puts it away", "document.querySelector('#readout').textContent", "")

	// At first the map and the list speak of the heaviest class, after that of the one chosen.
	want("the class shown first", "document.querySelector('#f-class').selectedOptions[0].textContent + document.querySelector('#map-class').textContent", "B-train: B-train")
	want("the map says what it can do", "[...document.querySelectorAll('#map .line')].map(x=>x.getAttribute('class')).join()", "line not,line not,line not")
	b.Eval("(e=>{e.value='';e.dispatchEvent(new Event('input',{bubbles:true}))})(document.querySelector('#f-class'))", nil)
	// With all classes one column says what they come to; a class has its own.
	want("all classes in one column", "[...document.querySelectorAll('#descents thead th')].filter(x=>!x.hidden&&('all' in x.dataset||'c' in x.dataset)).map(x=>x.textContent).join()", "All classes")
	want("what they come to", "[...document.querySelectorAll('#descents td[data-all]')].map(x=>/^(NOT HELD by \\d+ of|unknown|held by all) ?/.test(x.textContent)).join()", "true,true,true")
	// Filters.
	b.Eval("(e=>{e.value='c0';e.dispatchEvent(new Event('input',{bubbles:true}))})(document.querySelector('#f-class'))", nil)
	want("columns of one class", "[...document.querySelectorAll('#descents thead th[data-c]')].filter(x=>!x.hidden).map(x=>x.textContent).join()", "US five-axle")
	want("the column of all classes is put away", "[...document.querySelectorAll('#descents [data-all]')].every(x=>x.hidden)", "true")
	want("the map says what that class can do", "[...document.querySelectorAll('#map .line')].map(x=>x.getAttribute('class')).join()", "line held,line unknown,line unknown")
	b.Eval("document.querySelector('input[value=unknown]').click()", nil)
	want("unknown filtered out", "document.querySelector('#count').textContent", "1 of 3 descents shown")
	b.Eval("document.querySelector('input[value=unknown]').click();(e=>{e.value='5';e.dispatchEvent(new Event('input',{bubbles:true}))})(document.querySelector('#f-mean'))", nil)
	want("steep ones only", "document.querySelector('#count').textContent", "2 of 3 descents shown")
	b.Eval("(e=>{e.value='';e.dispatchEvent(new Event('input',{bubbles:true}))})(document.querySelector('#f-mean'))", nil)
	// Sorting, from the keyboard.
	b.Eval("document.querySelectorAll('#descents thead button')[2].focus()", nil)
	b.Call("Input.dispatchKeyEvent", map[string]any{"type": "keyDown", "key": "Enter", "code": "Enter", "windowsVirtualKeyCode": 13, "text": "\r"}, nil)
	want("sorted by length", "[...document.querySelectorAll('#descents tbody tr')].map(r=>r.dataset.i).join() + document.querySelectorAll('#descents thead th')[2].getAttribute('aria-sort')", "1,0,2ascending")
	// The same from the list that a phone has instead of headers.
	sort := func(to string) {
		b.Eval("(e=>{e.value='"+to+"';e.dispatchEvent(new Event('change',{bubbles:true}))})(document.querySelector('#f-sort'))", nil)
	}
	want("the list says what it sorts by", "document.querySelector('#f-sort').selectedOptions[0].textContent", "Length, mi: smallest first")
	sort("0 up")
	want("back to the report's order", "[...document.querySelectorAll('#descents tbody tr')].map(r=>r.dataset.i).join() + document.querySelectorAll('#descents thead th')[0].getAttribute('aria-sort')", "0,1,2ascending")
	sort("2 down")
	want("longest first", "[...document.querySelectorAll('#descents tbody tr')].map(r=>r.dataset.i).join()", "0,2,1")
	want("hidden columns are not to choose", "[...document.querySelector('#f-sort').options].filter(o=>document.querySelectorAll('#descents thead th')[parseInt(o.value)].hidden).length", "0")
	want("a large window has headers instead", "getComputedStyle(document.querySelector('.sort')).display", "none")
	b.Resize(360, 800)
	want("a phone has the list", "getComputedStyle(document.querySelector('.sort')).display + getComputedStyle(document.querySelector('#descents thead')).display", "blocknone")
	b.Resize(1400, 1000)
	picture("report.png", true)
	if len(b.Events) != 0 {
		t.Errorf("the console or the network is not silent:\n%s", strings.Join(b.Events, "\n"))
	}
	// Nobody's alert has run, and everything that can take the keyboard has a name.
	want("controls without a name", `[...document.querySelectorAll('input,select,button,a')].filter(e=>!(e.labels&&e.labels.length)&&!e.textContent.trim()&&!e.getAttribute('aria-label')).length`, "0")
	want("pictures without a name", `[...document.querySelectorAll('svg,img')].filter(e=>!e.getAttribute('aria-label')&&!e.getAttribute('alt')&&e.getAttribute('aria-hidden')!=='true').length`, "0")
	want("ids twice", `(i=>i.length-new Set(i).size)([...document.querySelectorAll('[id]')].map(e=>e.id))`, "0")
	want("too wide for the window", "document.documentElement.scrollWidth <= document.documentElement.clientWidth", "true")
}

// In a window of 1,280 px, scroll bar included, every column of the list stands beside
// the map, for all classes together and for each, with the longest words that are usual.
func TestReportListFitsASmallWindow(t *testing.T) {
	r := sampleReport()
	for i := range r.Entries {
		e := &r.Entries[i].Entry
		e.Review.State = catalog.FieldChecked
		e.Descent.Flags = []string{routes.FlagAgainstOneWay, routes.FlagInterpolated}
	}
	path := filepath.Join(t.TempDir(), "report.html")
	if err := os.WriteFile(path, write(t, func(w io.Writer) error { return ReportHTML(w, r) }), 0o600); err != nil {
		t.Fatal(err)
	}
	b := specimen.OpenBrowser(t, 1280, 900)
	b.Visit("file://" + path)
	const tooWide = `(() => { const box = document.querySelector('#list .scroll'), pick = document.querySelector('#f-class'), out = [];
		for (const o of pick.options) { pick.value = o.value; pick.dispatchEvent(new Event('input', {bubbles: true}));
			if (box.scrollWidth > box.clientWidth) out.push((o.value || 'all') + ' ' + box.scrollWidth + ' of ' + box.clientWidth); }
		return out.join(); })()`
	if got := b.Text(tooWide); got != "" {
		t.Errorf("wider than its place: %s", got)
	}
	const columns = `[...document.querySelectorAll('#descents thead th')].map(x => x.textContent).filter(x => x === 'Review' || x === 'Flags').join()`
	if got := b.Text(columns); got != "Review,Flags" {
		t.Errorf("columns: %q", got)
	}
}

// axe gives axe-core's script (testdata/axe/README.md), which checks a page
// against the machine-checkable part of WCAG: contrast, names, roles.
func axe(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", "axe", "axe.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// The report and the driver's page pass an accessibility check that nobody
// here wrote, and the report fits a narrow window.
func TestPagesAreAccessible(t *testing.T) {
	script := axe(t)
	dir := t.TempDir()
	b := specimen.OpenBrowser(t, 420, 800)
	for name, render := range map[string]func(io.Writer) error{
		"report.html": func(w io.Writer) error { return ReportHTML(w, sampleReport()) },
		"sheet.html":  func(w io.Writer) error { return SheetHTML(w, sampleSheet("us-5axle", catalog.US), Letter) },
		"out.html":    func(w io.Writer) error { return SheetHTML(w, sampleSheet("bc-btrain", catalog.US), A4) },
	} {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, write(t, render), 0o600); err != nil {
			t.Fatal(err)
		}
		b.Visit("file://" + path)
		b.Eval("document.querySelectorAll('details').forEach((d,i)=>{d.open=i===0})", nil)
		b.Eval(script, nil)
		var found struct {
			Checks     int
			Violations []struct {
				ID, Help string
				Nodes    []struct{ HTML, FailureSummary string }
			}
		}
		b.Eval("axe.run(document,{resultTypes:['violations']}).then(r=>({checks:r.passes.length,violations:r.violations}))", &found)
		for _, v := range found.Violations {
			t.Errorf("%s: %s: %s, %d times; first %.200s: %s", name, v.ID, v.Help, len(v.Nodes), v.Nodes[0].HTML, v.Nodes[0].FailureSummary)
		}
		if found.Checks < 10 {
			t.Errorf("%s: only %d checks ran", name, found.Checks)
		}
		if b.Text("document.documentElement.scrollWidth <= document.documentElement.clientWidth") != "true" {
			t.Errorf("%s is wider than a narrow window: %s", name, b.Text("document.documentElement.scrollWidth"))
		}
		if name == "report.html" {
			shot := b.Picture(true)
			keep(t, "report-narrow.png", func(w io.Writer) error { _, err := w.Write(shot); return err })
		}
	}
}

func TestReportRefuses(t *testing.T) {
	for name, spoil := range map[string]func(h *plot.Hillshade){
		"short":   func(h *plot.Hillshade) { h.ElevationM = h.ElevationM[1:] },
		"huge":    func(h *plot.Hillshade) { h.Cols, h.Rows = 1<<30, 1<<30 },
		"NaN box": func(h *plot.Hillshade) { h.WestDeg = math.NaN() },
		"flat":    func(h *plot.Hillshade) { h.Cols = 0 },
	} {
		r := sampleReport()
		spoil(r.Hillshade)
		if err := ReportHTML(io.Discard, r); !errors.Is(err, terrain.ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Printed with every class shown, as a reader without scripts prints it, a hill takes at
// most two pages.
func TestReportPrintsAHillOnTwoPages(t *testing.T) {
	r := sampleReport()
	r.Classes = nil
	for i := range r.Entries {
		e := &r.Entries[i].Entry
		base := specimen.Entry(routes.Forward).Holds
		e.Holds = nil
		for k := range 9 {
			h := base[k%2]
			h.Class = fmt.Sprint("class-", k)
			h.Words.US = strings.Repeat("Before the crest be in gear 6 and at 27 mph; the retarder holds that. ", 4)
			e.Holds = append(e.Holds, h)
		}
		r.Entries[i].Sites = sampleSheet("us-5axle", catalog.US).Sites
	}
	page := write(t, func(w io.Writer) error { return ReportHTML(w, r) })
	page = regexp.MustCompile(`(?s)<script>.*?</script>`).ReplaceAll(page, nil)
	dir := t.TempDir()
	html, pdf := filepath.Join(dir, "report.html"), filepath.Join(dir, "report.pdf")
	if err := os.WriteFile(html, page, 0o600); err != nil {
		t.Fatal(err)
	}
	chromium(t, "--no-pdf-header-footer", "--print-to-pdf="+pdf, "file://"+html)
	b, err := os.ReadFile(pdf)
	if err != nil {
		t.Fatal(err)
	}
	keep(t, "report-printed.pdf", func(w io.Writer) error { _, err := w.Write(b); return err })
	info := run(t, "poppler-utils", "pdfinfo", pdf)
	var pages int
	if _, after, ok := strings.Cut(info, "Pages:"); ok {
		fmt.Sscan(after, &pages)
	}
	if most := 2 + 2*len(r.Entries); pages == 0 || pages > most {
		t.Errorf("%d pages for %d hills", pages, len(r.Entries))
	}
}

// On a phone each row of the report's tables is a card: every figure carries the head of its column,
// and the picture's text keeps its size, in a frame that scrolls.
func TestReportCellsNameTheirColumns(t *testing.T) {
	r := sampleReport()
	r.Units = catalog.Metric
	var b bytes.Buffer
	if err := ReportHTML(&b, r); err != nil {
		t.Fatal(err)
	}
	says(t, "the report", b.String(), `data-h="Length, km"`, `data-h="Drop, m"`, `data-h="Mean, %"`, `data-h="± 95 %"`, `data-h="Steepest 500 m, %"`,
		`data-h="Speed at most"`, `data-h="Holds up to"`, `<div class="wide"`, "Drag the profile sideways")
	saysNot(t, "the report", b.String(), `data-h=""`)
}
