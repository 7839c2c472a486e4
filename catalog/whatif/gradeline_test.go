package whatif

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/specimen"
	"gradeline/routes"
)

// drawnRoad is an invented road with a hill of a drawn shape on it, and the descent on that hill.
func drawnRoad(r *rand.Rand) (*routes.Profile, catalog.Entry) {
	p := &routes.Profile{StepM: 10, CellM: []float64{1, 10, 30, 90}[r.IntN(4)], Reliable: true, Bound: specimen.Profile().Bound}
	p.Bound.EaseShare = 0
	if r.IntN(2) == 0 {
		p.Bound.SpanM, p.Bound.SpanPct = []float64{100, 500, 2000}, []float64{0.4 + r.Float64(), 0.2 + 0.3*r.Float64(), 0.1}
	}
	n := 80 + r.IntN(900)
	height, grade := 1800.0, 5.0
	for i := range n {
		if i%(20+r.IntN(40)) == 0 {
			grade = 1 + 6*r.Float64()
		}
		p.ElevationM = append(p.ElevationM, height)
		p.GroundM = append(p.GroundM, height)
		radius := math.Inf(1)
		if r.IntN(30) == 0 {
			radius = 60 + 900*r.Float64()
		}
		state := routes.Measured
		if r.IntN(40) == 0 {
			state = routes.InVoid
		}
		p.RadiusM, p.State, p.EaseM = append(p.RadiusM, radius), append(p.State, state), append(p.EaseM, 0.2*r.Float64())
		height -= grade / 100 * p.StepM
	}
	p.LengthM = float64(n-1) * p.StepM
	d := routes.Descent{Route: "Drawn Road", StartM: 4 + 50*r.Float64(), StartErrM: 20, MeanDowngradeErrPct: 0.1 + 0.3*r.Float64()}
	d.EndM = p.LengthM - 60*r.Float64()
	if r.IntN(2) == 0 { // drawn from the other end
		for i, j := 0, n-1; i < j; i, j = i+1, j-1 {
			p.ElevationM[i], p.ElevationM[j] = p.ElevationM[j], p.ElevationM[i]
		}
		d.Direction, d.StartM, d.EndM = routes.Backward, p.LengthM-d.StartM, p.LengthM-d.EndM
	}
	d.LengthM = math.Abs(d.EndM - d.StartM)
	d.DropM = p.ElevationAtM(d.StartM) - p.ElevationAtM(d.EndM)
	d.MeanDowngradePct = 100 * d.DropM / d.LengthM
	e := catalog.Entry{Descent: d}
	if r.IntN(3) == 0 {
		e.Holds = []catalog.Hold{{Class: "us-5axle", Limits: []catalog.SpeedCeiling{{Reason: catalog.LimitPosted, SpeedMPS: 8 + 12*r.Float64()}}}}
	}
	return p, e
}

// A grade line goes through JSON without loss: the hill is the survey's, figure by figure.
func TestGradeLineKeepsTheHill(t *testing.T) {
	r := rand.New(rand.NewPCG(20261130, 1))
	for range 40 {
		p, e := drawnRoad(r)
		b, err := json.Marshal(NewGradeLine(p, &e))
		if err != nil {
			t.Fatal(err)
		}
		g, err := ParseGradeLine(b)
		if err != nil {
			t.Fatal(err)
		}
		got, err := g.Hill("us-5axle")
		if err != nil {
			t.Fatal(err)
		}
		want := holding.HillFromDescent(p, &e.Descent, nil)
		if v := g.PostedMPS["us-5axle"]; v > 0 {
			want = holding.WithPosted(want, v)
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("the hill of %.300s is not the survey's", b)
		}
	}
}

// What would make the answer surer than the catalogue is unknown, never a speed.
func TestGradeLineIsUnknown(t *testing.T) {
	classes := defaults(t)
	for what, change := range map[string]func(*routes.Profile, *catalog.Entry) *routes.Profile{
		"no grade line": func(*routes.Profile, *catalog.Entry) *routes.Profile { return nil },
		"is unreliable": func(p *routes.Profile, e *catalog.Entry) *routes.Profile {
			e.Descent.Flags = []string{routes.FlagUnreliable}
			return p
		},
		"continues in Ford": func(p *routes.Profile, e *catalog.Entry) *routes.Profile {
			e.Descent.GoesOn = []routes.GoesOn{{Route: "Ford"}}
			return p
		},
		"has a gap": func(p *routes.Profile, _ *catalog.Entry) *routes.Profile { p.ElevationM[40] = math.NaN(); return p },
	} {
		p, e := drawnRoad(rand.New(rand.NewPCG(7, 7)))
		line := NewGradeLine(change(p, &e), &e)
		out := string(NewAsker(classes, line).AskJSON([]byte(`{"typed":{"class":"us-5axle","own_line":true}}`)))
		if !strings.HasPrefix(out, `{"error":"unknown: `) || !strings.Contains(out, what) {
			t.Errorf("%s: %.300s", what, out)
		}
	}
	if out := string(AskJSON([]byte(`{"class":"us-5axle","own_line":true}`), classes)); !strings.Contains(out, "no grade line of a descent is loaded") {
		t.Errorf("without a line: %.300s", out)
	}
	for _, bad := range []string{``, `{}`, `{"elevation_m":[1,2],"state":[0],"step_m":1}`, `{"elevation_m":[1,null],"step_m":0}`, `{"elevation_m":[3,2,1],"step_m":10,"start_m":0,"end_m":5000}`, `{"elevation_m":[3,2,1],"step_m":1e300,"end_m":1e300}`} {
		line, err := ParseGradeLine([]byte(bad))
		if err == nil {
			_, err = NewAsker(classes, line).Ask(Question{Class: "us-5axle", OwnLine: true})
		}
		if err == nil {
			t.Errorf("%s is answered", bad)
		}
	}
}

// On a descent's own grade line the program in the browser gives what the survey gives: the same
// choices and words, and figures within 1e-9.
func TestBrowserGivesTheSurveysAnswer(t *testing.T) {
	const seed, roads, each = 20261129, 50, 20
	classes := defaults(t)
	b := programInPage(t)
	r := rand.New(rand.NewPCG(seed, 2))
	held, notHeld, refused := 0, 0, 0
	var longest, spent time.Duration
	for road := range roads {
		p, e := drawnRoad(r)
		line, err := json.Marshal(NewGradeLine(p, &e))
		if err != nil {
			t.Fatal(err)
		}
		var questions []Question
		var texts []string
		for range each {
			q := drawn(r, classes)
			q.OwnLine, q.DowngradePct, q.LengthM, q.PostedMPS, q.AltitudeM = true, 0, 0, 0, nil
			text, err := json.Marshal(q)
			if err != nil {
				t.Fatal(err)
			}
			questions, texts = append(questions, q), append(texts, string(text))
		}
		list, err := json.Marshal(texts)
		if err != nil {
			t.Fatal(err)
		}
		var got struct {
			Fault   string
			MS      []float64
			Answers []string
		}
		b.Eval("((h,l)=>{const Fault=gradelineHill(h),MS=[];const Answers=l.map(q=>{const at=performance.now();const a=gradelineWhatIf(q);MS.push(performance.now()-at);return a});return {Fault,MS,Answers}})("+string(jsonText(t, string(line)))+","+string(list)+")", &got)
		if got.Fault != "" {
			t.Fatal(got.Fault)
		}
		for i, q := range questions {
			took := time.Duration(got.MS[i] * float64(time.Millisecond))
			longest, spent = max(longest, took), spent+took
			// Natively, as a survey advises: on the profile itself.
			class, err := classFor(&q, classes)
			if err != nil {
				t.Fatal(err)
			}
			hill := holding.HillFromDescent(p, &e.Descent, nil)
			if len(e.Holds) > 0 {
				hill = holding.WithPosted(hill, e.Holds[0].Limits[0].SpeedMPS)
			}
			h, err := holding.Advise(hill, *class, holding.Options{MassKg: q.MassKg, Weather: holding.UsualWeather(), TempC: q.TempC})
			if err != nil {
				refused++
				if !strings.HasPrefix(got.Answers[i], `{"error"`) {
					t.Fatalf("seed %d, road %d, %s: answered, natively %v", seed, road, texts[i], err)
				}
				continue
			}
			want := Answer{catalog.Schema, e.Descent.MeanDowngradePct, e.Descent.LengthM, h, catalog.Cautions(), shownOf(&h, class.Name)}
			if at := differs("", parsed(t, got.Answers[i]), parsed(t, string(jsonText(t, want)))); at != "" {
				t.Fatalf("seed %d, road %d, %s: %s", seed, road, texts[i], at)
			}
			if h.Holds {
				held++
			} else {
				notHeld++
			}
		}
	}
	if cases := roads * each; held < cases/5 || notHeld < cases/5 || refused > cases/20 {
		t.Errorf("%d held, %d not held, %d refused: the cases say little", held, notHeld, refused)
	}
	t.Logf("%d held, %d not held, %d refused; in the browser %v a question, the longest %v", held, notHeld, refused, spent/(roads*each), longest)
}

func jsonText(t *testing.T, v any) []byte {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// The program in the page knows the built-in classes only: with others the server answers.
func TestOwnClassesAreNotBuiltIn(t *testing.T) {
	classes, err := holding.DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	if !AreBuiltIn(classes) || !AreBuiltIn(classes[:2]) {
		t.Error("the built-in classes are taken for others")
	}
	classes[0].Truck.Retarders = slices.Clone(classes[0].Truck.Retarders)
	classes[0].Truck.Retarders[0].Stages = nil
	if AreBuiltIn(classes) {
		t.Error("a class with another retarder is taken for the built-in one")
	}
}
