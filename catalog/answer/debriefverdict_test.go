package answer

import (
	"bytes"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/debrief"
)

// The verdict comes first, names what was right only where it is proved, and never
// acquits a drive with something to change.
func TestVerdictOfADebrief(t *testing.T) {
	base := debrief.Debrief{HasAdvice: true, AdvisedMPS: 10, AdvisedGear: 5, OnHillS: 600, CoveredPct: 100, HasGear: true, HasRPM: true, HasBrakeSignal: true, IsSpeedOwn: true,
		Crest: debrief.CrestRule{Verdict: debrief.CrestKept}, Applied: &debrief.BrakeUse{KnownPct: 100},
		Brakes: debrief.BrakeBalance{StopJ: 5e6},
		Places: []debrief.PassedPlace{{Kind: catalog.BrakeCheck, Name: "Top", DistanceM: -40, StopS: 120}}}
	for _, k := range []struct {
		name         string
		of           func(*debrief.Debrief)
		want, lacks  []string
		wantHeadline string
	}{
		{"all right", func(*debrief.Debrief) {}, []string{"Stopped at the brake check area Top for 2 min", "Gear and speed were right", "Nowhere certainly over the advised 36 km/h.", "service brakes stayed off", "To change: Nothing that this recording proves.", "Open: Nothing of these."}, nil, "Nowhere over"},
		{"no stop", func(d *debrief.Debrief) { d.Places[0].StopS = 0 }, []string{"To change: Stop at the brake check area Top."}, []string{"Stopped at"}, "To change: Stop at"},
		{"unseen", func(d *debrief.Debrief) { d.Places[0].StopS, d.Places[0].IsUnseen = 0, true }, []string{"To change: Nothing"}, []string{"brake check"}, "Nowhere over"},
		{"snubs", func(d *debrief.Debrief) {
			d.Applied = &debrief.BrakeUse{Count: 27, TotalS: 81, LongestS: 4, FromM: 500, ToM: 3000, KnownPct: 100}
		}, []string{"on 27 times, 1 min 21 s in all, the longest 4 s, 0.50 km to 3.00 km below the crest"}, []string{"Dragged", "stayed off"}, "To change: Keep the service brakes"},
		{"dragged", func(d *debrief.Debrief) {
			d.Applied = &debrief.BrakeUse{Count: 3, TotalS: 90, LongestS: 80, Drags: 1, DragS: 80, KnownPct: 100}
		}, []string{"Do not drag the service brakes: on for 1 min 20 s in one go."}, []string{"stayed off"}, "To change: Do not drag"},
		{"a high gear", func(d *debrief.Debrief) { d.HighGearUnheldM = 1240 }, []string{"To change: Use gear 5 or a lower one: in a higher one it was over the advised speed or on the service brakes for 1.2 km."}, nil, "To change: Use gear 5"},
		{"half recorded", func(d *debrief.Debrief) { d.CoveredPct = 74.6; d.Applied = nil; d.HasBrakeSignal = false }, []string{"Nowhere certainly over the advised 36 km/h, on the 74 % recorded.", "record the brake switch", "26 % of the hill"}, []string{"stayed off"}, "Nowhere over"},
		{"out of gear", func(d *debrief.Debrief) {
			d.Neutral, d.NeutralS = []debrief.Coast{{TimeS: 40}}, 40
			d.Crest.Verdict = debrief.CrestNeutral
		}, []string{"To change: OUT OF GEAR for 40 s"}, []string{"Nowhere certainly", "right before the crest"}, "To change: OUT OF GEAR"},
		{"too heavy", func(d *debrief.Debrief) { d.IsBeyond = true }, []string{"This mass is not covered"}, []string{"Nowhere certainly"}, "To change: This mass"},
		{"a switch that contradicts", func(d *debrief.Debrief) { d.Brakes.Conflicts = []debrief.BrakeEvent{{}} }, nil, []string{"stayed off"}, ""},
	} {
		d := base
		d.Places = append([]debrief.PassedPlace{}, base.Places...)
		k.of(&d)
		var out bytes.Buffer
		p := debriefPage{&lines{w: &out, units: catalog.Metric}, &d}
		p.verdict()
		got := strings.Join(strings.Fields(out.String()), " ")
		for _, w := range k.want {
			if !strings.Contains(got, w) {
				t.Errorf("%s lacks %q: %s", k.name, w, got)
			}
		}
		for _, w := range k.lacks {
			if strings.Contains(got, w) {
				t.Errorf("%s says %q: %s", k.name, w, got)
			}
		}
		if h := p.headline(); !strings.HasPrefix(h, k.wantHeadline) {
			t.Errorf("%s: headline %q, want %q", k.name, h, k.wantHeadline)
		}
	}
}
