package specimen

import (
	"bufio"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"
)

// Browser is Debian's Chromium without a window, driven over a pipe by its
// DevTools protocol.
type Browser struct {
	t       testing.TB
	to      *os.File
	session string
	next    int
	answers chan json.RawMessage
	Events  []string // messages of the console, the log and the network, in order
	loaded  bool
}

type message struct {
	ID     int             `json:"id,omitempty"`
	Method string          `json:"method,omitempty"`
	Params json.RawMessage `json:"params,omitempty"`
	Result json.RawMessage `json:"result,omitempty"`
	Error  json.RawMessage `json:"error,omitempty"`
}

// OpenBrowser starts the browser with a window of the size given.
func OpenBrowser(t testing.TB, width, height int) *Browser {
	t.Helper()
	inR, inW, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	outR, outW, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	profile, err := os.MkdirTemp("", "gradeline-browser-")
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
		"--disable-component-update", "--disable-sync", "--user-data-dir="+profile, fmt.Sprintf("--window-size=%d,%d", width, height), "--remote-debugging-pipe")
	cmd.ExtraFiles = []*os.File{inR, outW}
	if err := cmd.Start(); err != nil {
		t.Fatalf("chromium, from Debian's chromium: %v", err)
	}
	inR.Close()
	outW.Close()
	b := &Browser{t: t, to: inW, answers: make(chan json.RawMessage, 1000)}
	go func() {
		r := bufio.NewReaderSize(outR, 1<<20)
		for {
			m, err := r.ReadBytes(0)
			if err != nil {
				close(b.answers)
				return
			}
			b.answers <- m[:len(m)-1]
		}
	}()
	t.Cleanup(func() {
		inW.Close()
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		_ = os.RemoveAll(profile)
	})
	var target struct{ TargetID string }
	b.Call("Target.createTarget", map[string]any{"url": "about:blank"}, &target)
	var attached struct{ SessionID string }
	b.Call("Target.attachToTarget", map[string]any{"targetId": target.TargetID, "flatten": true}, &attached)
	b.session = attached.SessionID
	for _, domain := range []string{"Page", "Runtime", "Log", "Network"} {
		b.Call(domain+".enable", nil, nil)
	}
	return b
}

// Visit loads an address and waits until the page is loaded.
func (b *Browser) Visit(url string) {
	b.t.Helper()
	b.Loads(func() { b.Call("Page.navigate", map[string]any{"url": url}, nil) })
}

// Loads runs a function that makes the browser load a page, and waits until the page is loaded.
func (b *Browser) Loads(do func()) {
	b.t.Helper()
	b.loaded = false
	do()
	for end := time.Now().Add(30 * time.Second); !b.loaded; {
		if time.Now().After(end) {
			b.t.Fatal("the page did not load in 30 s")
		}
		b.Eval("0", nil)
	}
}

// Call sends one command and waits for its answer; it records the events in between.
func (b *Browser) Call(method string, params any, result any) {
	b.t.Helper()
	b.next++
	m := map[string]any{"id": b.next, "method": method}
	if params != nil {
		m["params"] = params
	}
	if b.session != "" {
		m["sessionId"] = b.session
	}
	raw, err := json.Marshal(m)
	if err != nil {
		b.t.Fatal(err)
	}
	if _, err := b.to.Write(append(raw, 0)); err != nil {
		b.t.Fatal(err)
	}
	late := time.After(60 * time.Second)
	for {
		select {
		case raw, ok := <-b.answers:
			if !ok {
				b.t.Fatal("the browser ended")
			}
			var got message
			if err := json.Unmarshal(raw, &got); err != nil {
				b.t.Fatal(err)
			}
			if got.ID != b.next {
				b.note(got)
				continue
			}
			if got.Error != nil {
				b.t.Fatalf("%s: %s", method, got.Error)
			}
			if result != nil {
				if err := json.Unmarshal(got.Result, result); err != nil {
					b.t.Fatal(err)
				}
			}
			return
		case <-late:
			b.t.Fatalf("%s: no answer in 60 s", method)
		}
	}
}

func (b *Browser) note(m message) {
	switch m.Method {
	case "Page.loadEventFired":
		b.loaded = true
	case "Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Log.entryAdded":
		b.Events = append(b.Events, m.Method+" "+string(m.Params))
	case "Network.requestWillBeSent":
		var p struct{ Request struct{ URL string } }
		_ = json.Unmarshal(m.Params, &p)
		if !strings.HasPrefix(p.Request.URL, "data:") && !strings.HasPrefix(p.Request.URL, "file:") {
			b.Events = append(b.Events, "request to "+p.Request.URL)
		}
	}
}

// Eval runs an expression on the page and reads its value into v.
func (b *Browser) Eval(expr string, v any) {
	b.t.Helper()
	var r struct {
		Result           struct{ Value json.RawMessage }
		ExceptionDetails json.RawMessage
	}
	b.Call("Runtime.evaluate", map[string]any{"expression": expr, "returnByValue": true, "awaitPromise": true}, &r)
	if r.ExceptionDetails != nil {
		b.t.Fatalf("%s: %s", expr, r.ExceptionDetails)
	}
	if v != nil {
		if err := json.Unmarshal(r.Result.Value, v); err != nil {
			b.t.Fatalf("%s gives %s: %v", expr, r.Result.Value, err)
		}
	}
}

// Text is Eval for an expression that returns a text.
func (b *Browser) Text(expr string) string {
	b.t.Helper()
	var s string
	b.Eval("String("+expr+")", &s)
	return s
}

// Move puts the pointer at a share of the box of the element that expr returns.
func (b *Browser) Move(expr string, shareX, shareY float64) {
	b.t.Helper()
	var box struct{ X, Y, Width, Height float64 }
	b.Eval("(e=>{e.scrollIntoView({block:'center'});return e.getBoundingClientRect().toJSON()})("+expr+")", &box)
	b.Call("Input.dispatchMouseEvent", map[string]any{"type": "mouseMoved", "x": box.X + shareX*box.Width, "y": box.Y + shareY*box.Height}, nil)
}

// Key presses one key.
func (b *Browser) Key(name string, code int) {
	b.t.Helper()
	for _, kind := range []string{"keyDown", "keyUp"} {
		press := map[string]any{"type": kind, "key": name, "code": name, "windowsVirtualKeyCode": code}
		if name == "Enter" && kind == "keyDown" {
			press["text"] = "\r" // without it no form is submitted
		}
		b.Call("Input.dispatchKeyEvent", press, nil)
	}
}

// Picture takes a picture of the window, or of the complete page.
func (b *Browser) Picture(whole bool) []byte {
	b.t.Helper()
	var r struct{ Data string }
	b.Call("Page.captureScreenshot", map[string]any{"format": "png", "captureBeyondViewport": whole}, &r)
	raw, err := base64.StdEncoding.DecodeString(r.Data)
	if err != nil {
		b.t.Fatal(err)
	}
	return raw
}

// Resize sets the size of the window.
func (b *Browser) Resize(width, height int) {
	b.t.Helper()
	b.Call("Emulation.setScrollbarsHidden", map[string]any{"hidden": true}, nil)
	b.Call("Emulation.setDeviceMetricsOverride", map[string]any{"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false}, nil)
}

// Find returns the element with a role and a name in the accessibility tree, as a screen reader
// finds it; false where there is none.
func (b *Browser) Find(role, name string) (backendNode int, found bool) {
	b.t.Helper()
	var doc struct{ Root struct{ BackendNodeID int } }
	b.Call("DOM.getDocument", map[string]any{"depth": 0}, &doc)
	var tree struct {
		Nodes []struct {
			Ignored          bool
			BackendDOMNodeID int
		}
	}
	b.Call("Accessibility.queryAXTree", map[string]any{"backendNodeId": doc.Root.BackendNodeID, "role": role, "accessibleName": name}, &tree)
	for _, n := range tree.Nodes {
		if !n.Ignored {
			return n.BackendDOMNodeID, true
		}
	}
	return 0, false
}

func (b *Browser) must(role, name string) int {
	b.t.Helper()
	node, found := b.Find(role, name)
	if !found {
		b.t.Fatalf("the page has no %s named %q: %.3000s", role, name, b.Text("document.body.innerText"))
	}
	return node
}

// Click clicks the middle of the element with a role and a name.
func (b *Browser) Click(role, name string) {
	b.t.Helper()
	node := map[string]any{"backendNodeId": b.must(role, name)}
	b.Call("DOM.scrollIntoViewIfNeeded", node, nil)
	var at struct{ Quads [][]float64 }
	b.Call("DOM.getContentQuads", node, &at)
	if len(at.Quads) == 0 {
		b.t.Fatalf("the %s named %q is not visible", role, name)
	}
	q := at.Quads[0]
	for _, kind := range []string{"mousePressed", "mouseReleased"} {
		b.Call("Input.dispatchMouseEvent", map[string]any{"type": kind, "x": (q[0] + q[4]) / 2, "y": (q[1] + q[5]) / 2, "button": "left", "clickCount": 1}, nil)
	}
}

// Type replaces the text of the field with a role and a name.
func (b *Browser) Type(role, name, text string) {
	b.t.Helper()
	b.Focus(role, name)
	b.Eval("document.activeElement.select&&document.activeElement.select()", nil)
	b.Call("Input.insertText", map[string]any{"text": text}, nil)
}

// Focus puts the keyboard on the element with a role and a name.
func (b *Browser) Focus(role, name string) {
	b.t.Helper()
	b.Call("DOM.focus", map[string]any{"backendNodeId": b.must(role, name)}, nil)
}
