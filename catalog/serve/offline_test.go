package serve

import (
	"compress/gzip"
	"fmt"
	"io"
	"maps"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// withProgram gives an office the program of the what-if, as make page builds it, and returns its
// compressed size.
func (o *office) withProgram() int64 {
	o.t.Helper()
	dir := o.t.TempDir()
	build := exec.Command("go", "build", "-trimpath", "-ldflags", "-s -w", "-o", filepath.Join(dir, "plain"), "../whatif/wasm")
	build.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=js", "GOARCH=wasm")
	if out, err := build.CombinedOutput(); err != nil {
		o.t.Fatalf("%v\n%s", err, out)
	}
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		o.t.Fatal(err)
	}
	start, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(root)), "lib", "wasm", "wasm_exec.js"))
	if err != nil {
		o.t.Fatal(err)
	}
	plain, err := os.ReadFile(filepath.Join(dir, "plain"))
	if err != nil {
		o.t.Fatal(err)
	}
	packed, err := os.Create(filepath.Join(dir, "whatif.wasm.gz"))
	if err != nil {
		o.t.Fatal(err)
	}
	z, err := gzip.NewWriterLevel(packed, gzip.BestCompression)
	if err == nil {
		_, err = z.Write(plain)
	}
	for _, step := range []func() error{z.Close, packed.Close, func() error { return os.WriteFile(filepath.Join(dir, "wasm_exec.js"), start, 0o600) }} {
		if err == nil {
			err = step()
		}
	}
	if err == nil {
		var files staticFiles
		files, err = newStaticFiles(os.DirFS(dir))
		maps.Copy(o.server.static, files)
	}
	if err != nil {
		o.t.Fatal(err)
	}
	info, err := os.Stat(packed.Name())
	if err != nil {
		o.t.Fatal(err)
	}
	return info.Size()
}

// The page answers by itself, and the saved report does so offline: both give the server's answer, on
// a descent's own grade line and on a plain grade.
func TestSavedReportTriesTrucksOffline(t *testing.T) {
	o := newOffice(t)
	size := o.withProgram()
	t.Logf("the program takes %d bytes compressed", size)
	if size > 3_000_000 {
		t.Errorf("the program takes %d bytes compressed", size)
	}
	id := o.idOf("Harrow Hill Road")
	ask := func(typed string) string {
		r, err := http.NewRequest(http.MethodPost, o.web.URL+"/whatif?descent="+id, strings.NewReader(typed))
		if err != nil {
			t.Fatal(err)
		}
		w, err := o.client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer w.Body.Close()
		body, err := io.ReadAll(w.Body)
		if err != nil || w.StatusCode != http.StatusOK {
			t.Fatalf("%s: %d %v %.300s", typed, w.StatusCode, err, body)
		}
		return string(body)
	}
	b := o.enter(1280, 900)
	b.Visit(o.web.URL + "/whatif?class=us-5axle&descent=" + id)
	wait(t, b, "document.getElementById('whatif').dataset.ready==='1'")
	b.Type("textbox", "Mass; empty for the class's upper end", "30t")
	own := ask(`{"typed":{"class":"us-5axle","mass":"30t","own_line":true}}`)
	wait(t, b, "document.getElementById('answer-words').textContent&&"+string(jsonOf(own))+".includes(document.getElementById('answer-words').textContent)")

	report := o.page("/files/report.html")
	path := filepath.Join(t.TempDir(), "report.html")
	if err := os.WriteFile(path, []byte(report), 0o600); err != nil {
		t.Fatal(err)
	}
	o.web.Close() // offline
	b.Events = nil
	b.Visit("file://" + path)
	b.Click("button", "Start the program in this file")
	wait(t, b, "!document.getElementById('try-form').hidden")
	hill := func(title string) {
		b.Eval(fmt.Sprintf("(s=>{s.value=[...s.options].find(o=>o.textContent.startsWith(%q)).value;s.dispatchEvent(new Event('input',{bubbles:true}))})(document.querySelector('#try select[name=hill]'))", title), nil)
	}
	hill("Harrow")
	b.Eval("(s=>{s.value='us-5axle';s.dispatchEvent(new Event('input',{bubbles:true}))})(document.querySelector('#try select[name=class]'))", nil)
	b.Type("textbox", "Mass", "30t")
	if words := b.Text("document.getElementById('try-words').textContent"); words == "" || !strings.Contains(own, string(jsonOf(words))) {
		t.Errorf("offline the report says %q, the server %.600s", words, own)
	}
	if found := violations(t, b); found != "" {
		t.Error(found)
	}
	hill("Cinder")
	if words := b.Text("document.getElementById('try-trouble').textContent"); !strings.HasPrefix(words, "unknown: the grade line is unreliable") {
		t.Errorf("an unreliable descent offline: %q", words)
	}
	hill("a plain grade")
	if words := b.Text("document.getElementById('try-words').textContent"); !strings.Contains(words, "holds: gear") {
		t.Errorf("a plain grade offline: %q", words)
	}
	for _, e := range b.Events {
		if to, isRequest := strings.CutPrefix(e, "request to "); isRequest && !strings.HasPrefix(to, "file://") && !strings.HasPrefix(to, "data:") && !strings.HasPrefix(to, "blob:") || strings.Contains(e, "Content Security") {
			t.Errorf("offline the browser says: %.300s", e)
		}
	}
	if *lookDir != "" {
		if err := os.WriteFile(filepath.Join(*lookDir, "report-try.png"), b.Picture(true), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// What the first page weighs without tiles and the program, as it is sent.
func TestFirstPageIsLight(t *testing.T) {
	path := filepath.Join(t.TempDir(), "many.gpkg")
	manyDescents(t, path, mostMapDescents+30) // as many as a map draws
	o := officeOver(t, path)
	total := int64(0)
	for _, address := range []string{"/", "/static/page.css", "/static/leaflet.css", "/static/leaflet.js", "/static/basemap.js", "/static/list.js", "/map?"} {
		r, err := http.NewRequest(http.MethodGet, o.web.URL+address, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Accept-Encoding", "gzip") // so that the client leaves it packed
		w, err := o.client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		n, err := io.Copy(io.Discard, w.Body)
		if err != nil {
			t.Fatal(err)
		}
		w.Body.Close()
		t.Logf("%-20s %7d bytes", address, n)
		total += n
	}
	if total == 0 || total > 300_000 {
		t.Errorf("the first page weighs %d bytes", total)
	}
}
