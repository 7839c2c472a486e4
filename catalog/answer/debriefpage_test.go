package answer

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/debrief"
)

// A drive within the advice never reads as over it: 13.9 mph print as 13 in the
// advice, and 13.95 mph driven are no 14. Out of gear, masses and clocks in words.
func TestDebriefWords(t *testing.T) {
	const mph = 0.44704
	var out bytes.Buffer
	d := debrief.Debrief{HasAdvice: true, AdvisedMPS: 13.98 * mph, MostMPS: 13.95 * mph, SpeedErrMPS: 0.5 * mph, AdvisedGear: 5, OnHillS: 600, MassIsTaken: true, MassKg: 36287}
	p := debriefPage{&lines{w: &out, units: catalog.US}, &d}
	says := func(what, got string, want ...string) {
		t.Helper()
		for _, w := range want {
			if !strings.Contains(strings.Join(strings.Fields(got), " "), w) {
				t.Errorf("%s lacks %q: %s", what, w, got)
			}
		}
	}
	if got := p.overWords(); strings.Contains(got, "14 mph") {
		t.Error(got)
	}
	d.MostMPS = 14.2 * mph
	says("within the error", p.overWords(), "Nowhere certainly over the advised 13 mph", "14.2 mph", "14.0 unrounded")
	d.Neutral, d.NeutralS = []debrief.Coast{{FromM: 100, ToM: 500, TimeS: 40}}, 40
	says("coasting", p.outWords(), "OUT OF GEAR for 40 s of 10 min")
	d.Crest.Verdict = debrief.CrestNeutral
	says("the crest", p.crestWords(), "NOT KEPT", "OUT OF GEAR")
	d.Crest.Verdict = debrief.CrestNotCovered
	says("the mass", p.crestWords(), "THE ADVICE DOES NOT COVER THIS MASS")
	d.Brakes.Statuses, d.Brakes.StopJ = []catalog.FigureStatus{{}, {}}, 5e6
	p.brakes()
	says("service brakes", out.String(), "proves no use of them", "is for the lightest truck of the class", "assumed is", "not known", "After another hill")
	d.Begin = time.Unix(0, 0).UTC()
	says("no clock", p.clock(d.Begin.Add(75*time.Second)), "1 min 15 s after its start")
	d.IsClock = true
	says("a clock", p.clock(d.Begin.Add(75*time.Second)), "00:01:15 UTC")
}
