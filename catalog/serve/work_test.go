package serve

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io/fs"
	"maps"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/catalog/survey"
	"gradeline/data"
)

// workshop is an office that may survey the embedded, invented example.
func workshop(t *testing.T) *office {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "example")
	demo, err := fs.Sub(data.Files, "demo")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(dir, demo); err != nil {
		t.Fatal(err)
	}
	roads := filepath.Join(dir, "roads")
	if err := os.MkdirAll(roads, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(filepath.Join(dir, "routes.geojson"), filepath.Join(roads, "routes.geojson")); err != nil {
		t.Fatal(err)
	}
	// Neither what a link leads out to nor other files are offered.
	secret := filepath.Join(dir, "secret.geojson")
	for path, text := range map[string]string{secret: "{}", filepath.Join(roads, "notes.txt"): "x"} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink(secret, filepath.Join(roads, "link.geojson")); err != nil {
		t.Fatal(err)
	}
	o := newOffice(t)
	o.server.worker, err = newWorker(&Work{Folders: []string{roads}, Setup: survey.Setup{Options: survey.Options{Classes: o.server.opt.Classes[:1], Units: catalog.Metric},
		Terrain: []string{filepath.Join(dir, "terrain.tif")}, Catalog: o.path, Tool: "test"}})
	if err != nil {
		t.Fatal(err)
	}
	o.server.list.now.Store(nil) // pages kept from before there was work
	return o
}

func TestSurveyFromThePage(t *testing.T) {
	o := workshop(t)
	body := o.page("/surveys")
	if !strings.Contains(body, "1: roads/routes.geojson") || strings.Contains(body, "link.geojson") || strings.Contains(body, "notes.txt") || strings.Contains(body, filepath.Dir(o.path)) {
		t.Errorf("the page offers %.3000s", body)
	}
	for what, form := range map[string]url.Values{"no name": {"file": {"0"}}, "no file": {"by": {"Ada"}}, "another number": {"by": {"Ada"}, "file": {"1"}}, "a path": {"by": {"Ada"}, "file": {"../secret.geojson"}}, "below": {"by": {"Ada"}, "file": {"-1"}}} {
		if status, _ := o.asked(o.client, http.MethodPost, "/surveys", form, nil); status != http.StatusBadRequest {
			t.Errorf("%s: %d", what, status)
		}
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, o.web.URL+"/surveys/events", nil)
	if err != nil {
		t.Fatal(err)
	}
	w, err := o.client.Do(r)
	if err != nil || w.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatal(err, w.Header)
	}
	defer w.Body.Close()
	if status, _ := o.asked(o.client, http.MethodPost, "/surveys", url.Values{"by": {"Ada"}, "file": {"0"}}, nil); status != http.StatusOK {
		t.Fatalf("begun: %d", status)
	}
	if status, _ := o.asked(o.client, http.MethodPost, "/surveys", url.Values{"by": {"Bo"}, "file": {"0"}}, nil); status != http.StatusServiceUnavailable {
		t.Errorf("a second at the same time: %d", status)
	}
	// An event is the state of its moment: a survey of a few milliseconds has none while it runs.
	var last workState
	for lines := bufio.NewScanner(w.Body); lines.Scan(); {
		text, isData := strings.CutPrefix(lines.Text(), "data: ")
		if !isData {
			continue
		}
		if err := json.Unmarshal([]byte(text), &last); err != nil {
			t.Fatal(err)
		}
		if last.By != "" && !last.IsRunning {
			break
		}
	}
	if !strings.HasPrefix(last.Words, "done") || last.Routes != 3 || last.By != "Ada" {
		t.Errorf("the last event is %+v", last)
	}
	found := false
	for end := time.Now().Add(20 * time.Second); !found && time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
		found = strings.Contains(o.page("/?text=veltrane"), "Veltrane Pass Road")
	}
	if !found {
		t.Error("the list lacks what was surveyed")
	}
}

// A survey that is stopped keeps its finished routes, and the page says so.
func TestSurveyIsEnded(t *testing.T) {
	o := workshop(t)
	if err := o.server.worker.begin([]int{0}, "Ada"); err != nil {
		t.Fatal(err)
	}
	o.asked(o.client, http.MethodPost, "/surveys/end", url.Values{}, nil)
	o.server.worker.done.Wait()
	if s, _ := o.server.worker.now(); s.IsRunning || !strings.HasPrefix(s.Words, "stopped") && !strings.HasPrefix(s.Words, "done") {
		t.Errorf("after its end: %+v", s)
	}
	if err := o.server.worker.begin([]int{0}, "Ada"); err != nil {
		t.Errorf("again: %v", err)
	}
	o.server.worker.close()
	if err := o.server.worker.begin([]int{0}, "Ada"); err == nil {
		t.Error("a survey begins after the server's end")
	}
}

func TestFailuresNameNoFolder(t *testing.T) {
	words := failedWords(context.Background(), &catalog.Fault{File: "/home/office/x.tif", Feature: "x", What: "cannot be opened"})
	if strings.Contains(words, "/home") || !strings.Contains(words, "cannot be opened") {
		t.Error(words)
	}
}

func TestServerWithoutWork(t *testing.T) {
	o := newOffice(t)
	for _, address := range []string{"/surveys", "/surveys/events"} {
		if status, _ := o.asked(o.client, http.MethodGet, address, nil, nil); status != http.StatusNotFound {
			t.Errorf("%s: %d", address, status)
		}
	}
	if strings.Contains(o.page("/"), `href="/surveys"`) {
		t.Error("the page leads to surveys that nobody may start")
	}
}

// A survey is begun in the browser, and the page follows it to its end.
func TestSurveyInBrowser(t *testing.T) {
	o := workshop(t)
	b := o.enter(1280, 900)
	b.Click("link", "Survey")
	wait(t, b, "location.pathname==='/surveys'&&document.readyState==='complete'")
	if found := violations(t, b); found != "" {
		t.Error(found)
	}
	b.Click("checkbox", "1: roads/routes.geojson")
	b.Type("textbox", "Your name", "Ada")
	b.Loads(func() { b.Click("button", "Survey") })
	// The page is loaded again at the end: all is asked at once, so that no reading falls between.
	wait(t, b, "document.readyState==='complete'&&/: done(,|$)/.test((document.getElementById('work-state')||{}).textContent||'')&&"+
		"['routes.geojson by Ada','3 routes done'].every(w=>document.getElementById('work-state').textContent.includes(w))")
}

// What is worked out in the page is what the server answers.
func TestWhatIfInBrowser(t *testing.T) {
	o := newOffice(t)
	b := o.enter(1280, 900)
	b.Visit(o.web.URL + "/whatif?class=us-5axle&grade=8%25&length=6mi")
	before := b.Text("document.getElementById('answer-words').textContent")
	b.Type("textbox", "Downgrade", "3%")
	wait(t, b, "document.getElementById('answer-words').textContent!=="+string(jsonOf(before)))
	after := b.Text("document.getElementById('answer-words').textContent")
	b.Visit(o.web.URL + "/whatif?class=us-5axle&grade=3%25&length=6mi")
	if without := b.Text("document.getElementById('answer-words').textContent"); without != after || !strings.Contains(after, "holds: gear") {
		t.Errorf("moved, the page says %q; asked anew, %q", after, without)
	}
	b.Type("textbox", "Downgrade", "steep")
	wait(t, b, "document.getElementById('trouble').textContent.includes('steep')&&document.getElementById('answer').hidden")
}

// On a descent's own grade line the page answers as well; what the catalogue does not know stays
// unknown, and what is in question says so.
func TestWhatIfOnAGradeLineInBrowser(t *testing.T) {
	o := newOffice(t)
	b := o.enter(1280, 900)
	b.Visit(o.web.URL + "/descent/" + url.PathEscape(o.idOf("Harrow Hill Road")) + "?class=us-5axle")
	b.Loads(func() { b.Click("link", "What if: another mass, retarder, air or truck on this grade line") })
	before := b.Text("document.getElementById('answer-words').textContent")
	if !strings.Contains(before, "holds: gear") || b.Text("document.querySelector('#stored li:not([hidden])').textContent") == "" {
		t.Errorf("on its own grade line: %q", before)
	}
	if found := violations(t, b); found != "" {
		t.Error(found)
	}
	b.Type("textbox", "Share of the retarder that works; empty for all", "40%")
	wait(t, b, "document.getElementById('answer-words').textContent!=="+string(jsonOf(before)))
	if less := b.Text("document.getElementById('answer-words').textContent"); !strings.Contains(less, "NOT HELD") && !strings.Contains(less, "holds: gear") {
		t.Errorf("with less of the retarder: %q", less)
	}
	for road, want := range map[string]string{"Cinder Gap": "unknown: the grade line is unreliable", specimen.HostileName: "IN QUESTION, "} {
		if body := o.page("/whatif?class=us-5axle&descent=" + url.QueryEscape(o.idOf(road))); !strings.Contains(body, want) {
			t.Errorf("%s: %.3000s", road, body)
		}
	}
	if status, _ := o.asked(o.client, http.MethodGet, "/whatif?descent=nothing", nil, nil); status != http.StatusNotFound {
		t.Errorf("a descent that is none: %d", status)
	}
}

// A server that ends during a survey keeps the finished roads; after its restart the same files are
// surveyed from there on.
func TestSurveyIsTakenUpAfterARestart(t *testing.T) {
	o := workshop(t)
	first := o.server.worker
	// Many roads, so that some are left when the server ends.
	var roads struct {
		Type     string           `json:"type"`
		Features []map[string]any `json:"features"`
	}
	raw, err := os.ReadFile(first.files[0])
	if err == nil {
		err = json.Unmarshal(raw, &roads)
	}
	if err != nil {
		t.Fatal(err)
	}
	own := roads.Features
	for i := range 12 {
		for _, f := range own {
			properties := maps.Clone(f["properties"].(map[string]any))
			properties["route"] = fmt.Sprintf("%v, copy %d", properties["route"], i)
			roads.Features = append(roads.Features, map[string]any{"type": "Feature", "properties": properties, "geometry": f["geometry"]})
		}
	}
	if err := os.WriteFile(first.files[0], jsonOf(roads), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := first.begin([]int{0}, "Ada"); err != nil {
		t.Fatal(err)
	}
	for s, changed := first.now(); s.IsRunning && s.Routes < 2; s, changed = first.now() {
		<-changed
	}
	first.close()
	if s, _ := first.now(); !strings.HasPrefix(s.Words, "stopped") {
		t.Fatalf("at the server's end: %+v", s)
	}
	work := first.work
	second, err := newWorker(&work)
	if err != nil {
		t.Fatal(err)
	}
	defer second.close()
	if err := second.begin([]int{0}, "Ada"); err != nil {
		t.Fatal(err)
	}
	var said []string
	for s, changed := second.now(); s.IsRunning; s, changed = second.now() {
		said = append(said, s.Words)
		<-changed
	}
	last, _ := second.now()
	if all := strings.Join(said, "|"); !strings.Contains(all, "continues the survey of") || !strings.HasPrefix(last.Words, "done") || last.Routes != 39 {
		t.Errorf("after the restart: %s, at the end %+v", all, last)
	}
}
