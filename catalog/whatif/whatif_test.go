package whatif

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gradeline/catalog/holding"
	"gradeline/catalog/specimen"
	"gradeline/catalog/vehicle"
)

func defaults(t testing.TB) []vehicle.Class {
	t.Helper()
	classes, err := holding.DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	return classes
}

// drawn is a question of a person who pulls every slider.
func drawn(r *rand.Rand, classes []vehicle.Class) Question {
	c := &classes[r.IntN(len(classes))]
	q := Question{Class: c.ID, DowngradePct: 0.5 + 14*r.Float64(), LengthM: 300 + 30000*r.Float64()}
	maybe := func(least, most float64) *float64 {
		if r.IntN(2) == 0 {
			return nil
		}
		v := least + (most-least)*r.Float64()
		return &v
	}
	if m := maybe(c.MassMinKg, c.MassMaxKg); m != nil {
		q.MassKg = *m
	}
	q.RetarderSharePct, q.TempC, q.AltitudeM = maybe(5, 100), maybe(-40, 50), maybe(0, 4000)
	if r.IntN(4) == 0 {
		q.PostedMPS = 5 + 20*r.Float64()
	}
	return q
}

// programInPage builds the program for the browser and opens a page that runs it.
func programInPage(t *testing.T) *specimen.Browser {
	t.Helper()
	dir := t.TempDir()
	build := exec.Command("go", "build", "-trimpath", "-ldflags", "-s -w", "-o", filepath.Join(dir, "whatif.wasm"), "./wasm")
	build.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=js", "GOARCH=wasm")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Fatal(err)
	}
	script, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(root)), "lib", "wasm", "wasm_exec.js"))
	if err != nil {
		t.Fatal(err)
	}
	web := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch r.URL.Path {
		case "/":
			w.Header().Set("Content-Type", "text/html")
			fmt.Fprint(w, `<!DOCTYPE html><title>what if</title><link rel="icon" href="data:,"><script src="/wasm_exec.js"></script>`)
		case "/wasm_exec.js":
			w.Header().Set("Content-Type", "text/javascript")
			_, _ = w.Write(script)
		case "/whatif.wasm":
			w.Header().Set("Content-Type", "application/wasm")
			http.ServeFile(w, r, filepath.Join(dir, "whatif.wasm"))
		}
	}))
	t.Cleanup(web.Close)
	b := specimen.OpenBrowser(t, 800, 600)
	b.Visit(web.URL + "/")
	b.Eval(`(async()=>{const go=new Go();const r=await WebAssembly.instantiateStreaming(fetch("/whatif.wasm"),go.importObject);go.run(r.instance);return typeof gradelineWhatIf})()`, nil)
	if is := b.Text("typeof gradelineWhatIf"); is != "function" {
		t.Fatalf("the program does not begin: %s %s", is, b.Text("globalThis.gradelineFault"))
	}
	return b
}

// The program in the browser gives the native answer: the same words and choices, and
// figures within 1e-9, since mathematics differ in the last bit between the two.
func TestBrowserGivesTheNativeAnswer(t *testing.T) {
	const seed, cases = 20261129, 1000
	classes := defaults(t)
	b := programInPage(t)
	r := rand.New(rand.NewPCG(seed, 1))
	held, notHeld, refused := 0, 0, 0
	var spent time.Duration
	for done := 0; done < cases; done += 100 {
		var questions []string
		for range 100 {
			q, err := json.Marshal(drawn(r, classes))
			if err != nil {
				t.Fatal(err)
			}
			questions = append(questions, string(q))
		}
		list, err := json.Marshal(questions)
		if err != nil {
			t.Fatal(err)
		}
		var got struct {
			MS      float64
			Answers []string
		}
		b.Eval("(l=>{const at=performance.now();const answers=l.map(q=>gradelineWhatIf(q));return {MS:performance.now()-at,Answers:answers}})("+string(list)+")", &got)
		spent += time.Duration(got.MS * float64(time.Millisecond))
		for i, q := range questions {
			want := AskJSON([]byte(q), classes)
			if at := differs("", parsed(t, got.Answers[i]), parsed(t, string(want))); at != "" {
				t.Fatalf("seed %d, case %d, %s: %s", seed, done+i, q, at)
			}
			switch s := string(want); {
			case strings.HasPrefix(s, `{"error"`):
				refused++
			case strings.Contains(s, `"holds":true`):
				held++
			default:
				notHeld++
			}
		}
	}
	if held < cases/5 || notHeld < cases/5 || refused > cases/20 {
		t.Errorf("%d held, %d not held, %d refused: the cases say little", held, notHeld, refused)
	}
	t.Logf("%d held, %d not held, %d refused; %v a question in the browser", held, notHeld, refused, spent/cases)
}

func parsed(t *testing.T, text string) any {
	t.Helper()
	var v any
	if err := json.Unmarshal([]byte(text), &v); err != nil {
		t.Fatalf("%v: %.300s", err, text)
	}
	return v
}

// differs says where two JSON values differ by more than the last bits.
func differs(at string, a, b any) string {
	switch x := a.(type) {
	case map[string]any:
		y, ok := b.(map[string]any)
		if !ok || len(x) != len(y) {
			return at + ": other keys"
		}
		for k := range x {
			if d := differs(at+"/"+k, x[k], y[k]); d != "" {
				return d
			}
		}
	case []any:
		y, ok := b.([]any)
		if !ok || len(x) != len(y) {
			return at + ": another length"
		}
		for i := range x {
			if d := differs(fmt.Sprintf("%s/%d", at, i), x[i], y[i]); d != "" {
				return d
			}
		}
	case float64:
		if y, ok := b.(float64); !ok || math.Abs(x-y) > 1e-9*math.Max(1, math.Abs(y)) {
			return fmt.Sprintf("%s: %v, natively %v", at, a, b)
		}
	default:
		if a != b {
			return fmt.Sprintf("%s: %v, natively %v", at, a, b)
		}
	}
	return ""
}

func TestDiffersIsSeen(t *testing.T) {
	for _, c := range [][2]string{{`{"a":1}`, `{"a":1.00000001}`}, {`{"a":1}`, `{"b":1}`}, {`[1]`, `[1,2]`}, {`{"a":"x"}`, `{"a":"y"}`}, {`{"a":true}`, `{"a":false}`}, {`{"a":1}`, `{"a":null}`}} {
		if differs("", parsed(t, c[0]), parsed(t, c[1])) == "" {
			t.Errorf("%s and %s are taken for the same", c[0], c[1])
		}
	}
	if at := differs("", parsed(t, `{"a":[1e6,"x"]}`), parsed(t, `{"a":[1000000.0001,"x"]}`)); at != "" {
		t.Error(at)
	}
}

// Less of the retarder is never faster and never holds more; all of it is the class's own.
func TestShareOfTheRetarder(t *testing.T) {
	classes := defaults(t)
	whole := 100.0
	for i := range classes {
		q := Question{Class: classes[i].ID, DowngradePct: 6, LengthM: 6000}
		a, err := Ask(q, classes)
		if err != nil {
			t.Fatal(err)
		}
		q.RetarderSharePct = &whole
		if same, err := Ask(q, classes); err != nil || same.Hold.SpeedMPS != a.Hold.SpeedMPS {
			t.Errorf("%s with all of its retarder: %v, %v", q.Class, same, err)
		}
		before := a.Hold
		for _, share := range []float64{80, 50, 20} {
			q.RetarderSharePct = &share
			a, err := Ask(q, classes)
			if err != nil {
				t.Fatal(err)
			}
			if a.Hold.SpeedMPS > before.SpeedMPS || a.Hold.HeaviestMassKg > before.HeaviestMassKg {
				t.Errorf("%s with %v %% of its retarder: %v m/s, before %v", q.Class, share, a.Hold.SpeedMPS, before.SpeedMPS)
			}
			before = a.Hold
		}
	}
	half := classes[0].Truck.Retarders[0]
	for _, bad := range []float64{0, -1, 101, math.NaN(), math.Inf(1)} {
		if _, err := Ask(Question{Class: classes[0].ID, DowngradePct: 6, LengthM: 6000, RetarderSharePct: &bad}, classes); err == nil {
			t.Errorf("%v %% of a retarder is taken", bad)
		}
	}
	if len(half.Stages) > 0 && classes[0].Truck.Retarders[0].Stages[0][0] != half.Stages[0][0] {
		t.Error("the class itself was changed")
	}
}

// The notes are in the reader's units, like all other words.
func TestNotesAreInTheReadersUnits(t *testing.T) {
	a, err := Ask(Question{Class: "us-5axle", DowngradePct: 6, LengthM: 6000}, defaults(t))
	if err != nil {
		t.Fatal(err)
	}
	metric, us := strings.Join(a.Shown.Metric.Notes, " "), strings.Join(a.Shown.US.Notes, " ")
	if strings.Contains(metric, " lb") || strings.Contains(metric, " mph") || !strings.Contains(us, " lb") || strings.Contains(us, "km/h") {
		t.Errorf("metric: %s\nUS: %s", metric, us)
	}
}

func TestTypedQuestions(t *testing.T) {
	classes := defaults(t)
	typed := Typed{Class: "us-5axle", Grade: "8%", Length: "6mi", Mass: "79000lb", Retarder: "100%", Temperature: "35C", Altitude: "900m", Posted: "35mph"}
	q, err := typed.Question()
	if err != nil || q.DowngradePct != 8 || math.Abs(q.LengthM-9656.064) > 1e-6 || math.Abs(q.MassKg-35833.79723) > 1e-3 || *q.RetarderSharePct != 100 || *q.TempC != 35 || *q.AltitudeM != 900 || math.Abs(q.PostedMPS-15.6464) > 1e-9 {
		t.Errorf("%+v, %v", q, err)
	}
	if _, err := Ask(q, classes); err != nil {
		t.Error(err)
	}
	for what, bad := range map[string]Typed{"no unit": {Class: "us-5axle", Grade: "8", Length: "6mi"}, "no length": {Class: "us-5axle", Grade: "8%"}, "a wall": {Class: "us-5axle", Grade: "150%", Length: "6mi"}, "too much of a retarder": {Class: "us-5axle", Grade: "8%", Length: "6mi", Retarder: "120%"}} {
		if q, err := bad.Question(); err == nil {
			t.Errorf("%s is read as %+v", what, q)
		}
	}
	for _, bad := range []string{``, `{`, `{"class":"none"}`, `{"typed":{"class":"us-5axle"}}`, `{"class":"us-5axle","downgrade_pct":6,"length_m":-1}`, `{"class":"us-5axle","classes_toml":"x"}`} {
		if out := string(AskJSON([]byte(bad), classes)); !strings.HasPrefix(out, `{"error":"`) {
			t.Errorf("%s is answered %.200s", bad, out)
		}
	}
}

// No question ends the program or is answered with figures that are none.
func FuzzAskJSON(f *testing.F) {
	classes := defaults(f)
	for _, s := range []string{`{"class":"us-5axle","downgrade_pct":6,"length_m":5000}`, `{"typed":{"class":"eu-5axle","grade":"8%","length":"6mi","retarder":"50%"}}`, `{"class":"us-5axle","downgrade_pct":1e308,"length_m":1e308,"temp_c":-400,"altitude_m":1e9}`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		out := AskJSON([]byte(s), classes)
		var a struct {
			Error *string
			Hold  *json.RawMessage
		}
		if err := json.Unmarshal(out, &a); err != nil || (a.Error == nil) == (a.Hold == nil) {
			t.Errorf("%q is answered %.300s", s, out)
		}
	})
}
