package serve

import (
	"encoding/json"
	"flag"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/catalog/specimen"
)

// lookDir, given as -pictures DIR, keeps pictures of every page, to be looked at.
var lookDir = flag.String("pictures", "", "folder that keeps pictures of the pages")

// enter opens the office's page in a browser, by the printed address.
func (o *office) enter(width, height int) *specimen.Browser {
	o.t.Helper()
	b := specimen.OpenBrowser(o.t, width, height)
	b.Visit(o.web.URL + "/?token=sesame")
	return b
}

// pages are the addresses of every page.
func (o *office) pages() map[string]string {
	id, other := url.PathEscape(o.idOf("Harrow Hill Road")), url.PathEscape(o.idOf(specimen.HostileName))
	return map[string]string{
		"whatif": "/whatif", "whatif-hill": "/whatif?class=us-5axle&descent=" + id, "list": "/?class=us-5axle", "none": "/?steeper=30%25", "refusal": "/?class=nobody", "queue": "/review",
		"enter": "/enter?back=%2Freview", "descent": "/descent/" + id, "class": "/descent/" + id + "?class=us-5axle", "hostile": "/descent/" + other,
	}
}

// violations runs axe-core (testdata/axe of package page) over the page that is open.
func violations(t *testing.T, b *specimen.Browser) string {
	t.Helper()
	script, err := os.ReadFile(filepath.Join("..", "page", "testdata", "axe", "axe.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	b.Eval(string(script)+";0", nil)
	var found struct {
		Checks     int
		Violations json.RawMessage
	}
	b.Eval("axe.run(document,{resultTypes:['violations']}).then(r=>({checks:r.passes.length,violations:r.violations.map(v=>({id:v.id,help:v.help,nodes:v.nodes.map(n=>n.html.slice(0,200)+' '+n.failureSummary)}))}))", &found)
	if found.Checks < 10 {
		t.Errorf("axe made only %d checks", found.Checks)
	}
	if string(found.Violations) == "[]" {
		return ""
	}
	return string(found.Violations)
}

func TestPagesInBrowser(t *testing.T) {
	o := newOffice(t)
	b := o.enter(1280, 900)
	for _, width := range []int{360, 1280, 1920, 2560} {
		b.Resize(width, 900)
		for name, address := range o.pages() {
			b.Visit(o.web.URL + address)
			if width < 1920 {
				if found := violations(t, b); found != "" {
					t.Errorf("%s at %d px: %s", name, width, found)
				}
			}
			var wide int
			b.Eval("document.documentElement.scrollWidth", &wide)
			if wide > width {
				t.Errorf("%s is %d px wide in a window of %d", name, wide, width)
			}
			// Nothing of a list is out of sight to the right, least of all IN QUESTION.
			if cut := b.Text("[...document.querySelectorAll('.scroll:has(table)')].filter(e=>e.scrollWidth>e.clientWidth).map(e=>e.ariaLabel+' '+e.scrollWidth+' in '+e.clientWidth).join('; ')"); cut != "" && width >= 1280 {
				t.Errorf("%s at %d px: cut off: %s", name, width, cut)
			}
			if *lookDir != "" {
				if err := os.WriteFile(filepath.Join(*lookDir, fmt.Sprintf("%s-%d.png", name, width)), b.Picture(true), 0o600); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	for _, e := range b.Events {
		if to, isRequest := strings.CutPrefix(e, "request to "); isRequest && strings.HasPrefix(to, o.web.URL) || strings.Contains(e, "404 (Not Found)") {
			continue
		}
		t.Errorf("the browser says: %.500s", e)
	}
}

// A visitor narrows the list, opens a descent and reads its profile by keyboard alone.
func TestByKeyboard(t *testing.T) {
	o := newOffice(t)
	b := o.enter(1280, 900)
	b.Type("searchbox", "Name has", "harrow")
	b.Loads(func() { b.Key("Enter", 13) })
	if at := b.Text("location.search"); !strings.Contains(at, "text=harrow") || strings.Contains(at, "token") {
		t.Errorf("the address bar says %s", at)
	}
	b.Focus("link", "Harrow Hill Road")
	b.Loads(func() { b.Key("Enter", 13) })
	b.Focus("slider", "Along the hill")
	b.Key("ArrowRight", 39)
	b.Key("ArrowRight", 39)
	read := b.Text("document.getElementById('read').textContent")
	if !strings.Contains(read, "from the crest") || !strings.Contains(read, "downgrade") || !strings.Contains(read, "measured ground") {
		t.Errorf("the profile reads %q", read)
	}
	if said := b.Text("document.getElementById('along').getAttribute('aria-valuetext')"); said != read {
		t.Errorf("a screen reader hears %q", said)
	}
}

// The units go round the forms without scripts.
func TestUnitsWithoutScripts(t *testing.T) {
	o := newOffice(t)
	b := o.enter(1280, 900)
	b.Call("Emulation.setScriptExecutionDisabled", map[string]any{"value": true}, nil)
	b.Visit(o.web.URL + "/descent/" + url.PathEscape(o.idOf("Harrow Hill Road")))
	if _, found := b.Find("slider", "Along the hill"); found {
		t.Error("a slider that does nothing is shown")
	}
	if _, found := b.Find("heading", "What each truck can do on its retarder alone"); !found {
		t.Error("the page without scripts has no advice")
	}
}

// A reviewer records a look by keyboard; another whose page is older is told so and finds
// what they typed.
func TestReviewInBrowser(t *testing.T) {
	o := newOffice(t)
	id := o.idOf("Harrow Hill Road")
	b := o.enter(1280, 900)
	b.Click("link", "Review")
	wait(t, b, "document.querySelector('h1')&&document.querySelector('h1').textContent.includes('need a review')")
	b.Focus("link", "Harrow Hill Road")
	b.Loads(func() { b.Key("Enter", 13) })
	b.Focus("combobox", "State")
	for range 2 {
		b.Key("ArrowDown", 40)
	}
	b.Type("textbox", "Your name", "Bo")
	b.Type("textbox", "Note", "driven <i>twice</i>")
	// Meanwhile somebody else is faster.
	if status, _ := o.send(id, o.version(id), url.Values{"state": {"field-checked"}, "by": {"Ada"}, "note": {"first"}}); status != 200 {
		t.Fatal(status)
	}
	b.Loads(func() { b.Click("button", "Record the review") })
	if said := b.Text("document.querySelector('#review [role=alert]').textContent"); !strings.Contains(said, "Somebody else changed this descent") {
		t.Errorf("the second is told %q", said)
	}
	if typed := b.Text("document.querySelector('textarea').value"); typed != "driven <i>twice</i>" {
		t.Errorf("the note is now %q", typed)
	}
	if found := violations(t, b); found != "" {
		t.Error(found)
	}
	b.Focus("button", "Record the review")
	b.Loads(func() { b.Key("Enter", 13) })
	if now := b.Text("document.querySelector('#review p').textContent"); !strings.Contains(now, "by Bo") {
		t.Errorf("after sending again the review is %q", now)
	}
}

// In the colours that a reader forces, answers and marks are still told apart.
func TestForcedColours(t *testing.T) {
	o := newOffice(t)
	b := o.enter(1280, 900)
	b.Call("Emulation.setEmulatedMedia", map[string]any{"features": []map[string]string{{"name": "forced-colors", "value": "active"}}}, nil)
	b.Visit(o.web.URL + "/?class=us-5axle")
	styles := b.Text("[...document.querySelectorAll('#results td.answer')].map(e=>e.textContent.split(':')[0]+' '+getComputedStyle(e).borderLeftStyle).join('; ')")
	if !strings.Contains(styles, "unknown dotted") || !strings.Contains(styles, "holds solid") {
		t.Errorf("the answers are drawn as %s", styles)
	}
}
