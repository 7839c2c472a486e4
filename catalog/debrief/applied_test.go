package debrief

import (
	"slices"
	"testing"

	"gradeline/routes"
	"gradeline/routes/recorded"
)

// Where the switch was on and where the gear was over the advised one, of points 10 m apart from 50 m
// before the crest, on a hill of 200 m: what is outside it, standing or across a gap does not count.
func TestWhereBrakesAndHighGearsWere(t *testing.T) {
	v := &driven{gapS: 10, sampleS: 1}
	on := true
	for i := range 30 {
		f := &routes.Fix{Gear: 6}
		at, timeS := 10*float64(i)-50, float64(i)
		if i >= 20 {
			timeS += 30 // a gap from 140 to 150 m
		}
		if i >= 8 && i < 11 || i == 27 { // 30 to 60 m, and beyond the foot
			f.ServiceBrake = &on
		}
		if i < 7 || i >= 18 && i < 23 { // up to 20 m, 130 to 180 m with the gap in it
			f.Gear = 8
		}
		v.pass, v.speedMPS = append(v.pass, recorded.Place{Fix: f, DistanceM: at, TimeS: timeS}), append(v.speedMPS, 10)
	}
	if u := brakeUse(v, 200); u == nil || u.Count != 1 || !slices.Equal(u.SpansM, [][2]float64{{30, 60}}) {
		t.Errorf("service brakes: %+v", u)
	}
	if got := highGear(v, 6, 200); !slices.Equal(got, [][2]float64{{0, 20}, {130, 140}, {150, 180}}) {
		t.Errorf("in a high gear: %v", got)
	}
	for _, advised := range []int{0, 8} { // no advice; the gear itself
		if got := highGear(v, advised, 200); len(got) > 0 {
			t.Errorf("advised %d: %v", advised, got)
		}
	}
}

// A high gear is a fault only where the truck was over the advised speed or braked in it, for longer
// than the recorded places can be wrong; what is both counts once.
func TestHighGearThatDidNotHold(t *testing.T) {
	over := func(spans ...[2]float64) (out []OverStretch) {
		for _, s := range spans {
			out = append(out, OverStretch{FromM: s[0], ToM: s[1]})
		}
		return out
	}
	high := [][2]float64{{100, 600}, {900, 1000}}
	for _, k := range []struct {
		name  string
		d     Debrief
		wantM float64
	}{
		{"held in it", Debrief{HighGearM: high}, 0},
		{"over elsewhere", Debrief{HighGearM: high, Over: over([2]float64{600, 900})}, 0},
		{"over and braked", Debrief{HighGearM: high, Over: over([2]float64{0, 300}), Applied: &BrakeUse{SpansM: [][2]float64{{200, 400}}}}, 300},
		{"braked in both", Debrief{HighGearM: high, Applied: &BrakeUse{SpansM: [][2]float64{{450, 950}}}}, 200},
		{"just long enough", Debrief{HighGearM: high, Over: over([2]float64{100, 201})}, 101},
		{"too short", Debrief{HighGearM: high, Over: over([2]float64{100, 199})}, 0},
		{"a point each 10 s", Debrief{HighGearM: high, SampleS: 10, AdvisedMPS: 10, Over: over([2]float64{100, 290})}, 0},
		{"the same for longer", Debrief{HighGearM: high, SampleS: 10, AdvisedMPS: 10, Over: over([2]float64{100, 350})}, 150},
	} {
		if got := highGearUnheldM(&k.d); got != k.wantM {
			t.Errorf("%s: %v m, want %v", k.name, got, k.wantM)
		}
	}
}
