package page

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

// browser is Debian's Chromium without a window, driven over a pipe by its
// DevTools protocol.
type browser struct {
	t       *testing.T
	to      *os.File
	session string
	next    int
	answers chan json.RawMessage
	events  []string // what the console, the log and the network said, in order
	loaded  bool
}

type message struct {
	ID     int             `json:"id,omitempty"`
	Method string          `json:"method,omitempty"`
	Params json.RawMessage `json:"params,omitempty"`
	Result json.RawMessage `json:"result,omitempty"`
	Error  json.RawMessage `json:"error,omitempty"`
}

// open starts the browser with a window of the size given.
func open(t *testing.T, width, height int) *browser {
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
	b := &browser{t: t, to: inW, answers: make(chan json.RawMessage, 1000)}
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
	b.call("Target.createTarget", map[string]any{"url": "about:blank"}, &target)
	var attached struct{ SessionID string }
	b.call("Target.attachToTarget", map[string]any{"targetId": target.TargetID, "flatten": true}, &attached)
	b.session = attached.SessionID
	for _, domain := range []string{"Page", "Runtime", "Log", "Network"} {
		b.call(domain+".enable", nil, nil)
	}
	return b
}

// visit loads a file.
func (b *browser) visit(path string) {
	b.t.Helper()
	b.loaded = false
	b.call("Page.navigate", map[string]any{"url": "file://" + path}, nil)
	for end := time.Now().Add(30 * time.Second); !b.loaded; {
		if time.Now().After(end) {
			b.t.Fatal("the page did not load in 30 s")
		}
		b.eval("0", nil)
	}
}

// call sends one command and waits for its answer, noting what happens between.
func (b *browser) call(method string, params any, result any) {
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

func (b *browser) note(m message) {
	switch m.Method {
	case "Page.loadEventFired":
		b.loaded = true
	case "Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Log.entryAdded":
		b.events = append(b.events, m.Method+" "+string(m.Params))
	case "Network.requestWillBeSent":
		var p struct{ Request struct{ URL string } }
		_ = json.Unmarshal(m.Params, &p)
		if !strings.HasPrefix(p.Request.URL, "data:") && !strings.HasPrefix(p.Request.URL, "file:") {
			b.events = append(b.events, "request to "+p.Request.URL)
		}
	}
}

// eval runs an expression on the page and reads its value into v.
func (b *browser) eval(expr string, v any) {
	b.t.Helper()
	var r struct {
		Result           struct{ Value json.RawMessage }
		ExceptionDetails json.RawMessage
	}
	b.call("Runtime.evaluate", map[string]any{"expression": expr, "returnByValue": true, "awaitPromise": true}, &r)
	if r.ExceptionDetails != nil {
		b.t.Fatalf("%s: %s", expr, r.ExceptionDetails)
	}
	if v != nil {
		if err := json.Unmarshal(r.Result.Value, v); err != nil {
			b.t.Fatalf("%s gives %s: %v", expr, r.Result.Value, err)
		}
	}
}

// text is eval for an expression that gives a text.
func (b *browser) text(expr string) string {
	b.t.Helper()
	var s string
	b.eval("String("+expr+")", &s)
	return s
}

// move puts the pointer at a share of the box of the element that expr gives.
func (b *browser) move(expr string, shareX, shareY float64) {
	b.t.Helper()
	var box struct{ X, Y, Width, Height float64 }
	b.eval("(e=>{e.scrollIntoView({block:'center'});return e.getBoundingClientRect().toJSON()})("+expr+")", &box)
	b.call("Input.dispatchMouseEvent", map[string]any{"type": "mouseMoved", "x": box.X + shareX*box.Width, "y": box.Y + shareY*box.Height}, nil)
}

// key presses one key.
func (b *browser) key(name string, code int) {
	b.t.Helper()
	for _, kind := range []string{"keyDown", "keyUp"} {
		b.call("Input.dispatchKeyEvent", map[string]any{"type": kind, "key": name, "code": name, "windowsVirtualKeyCode": code}, nil)
	}
}

// picture takes what the window shows, or the whole page.
func (b *browser) picture(whole bool) []byte {
	b.t.Helper()
	var r struct{ Data string }
	b.call("Page.captureScreenshot", map[string]any{"format": "png", "captureBeyondViewport": whole}, &r)
	raw, err := base64.StdEncoding.DecodeString(r.Data)
	if err != nil {
		b.t.Fatal(err)
	}
	return raw
}
