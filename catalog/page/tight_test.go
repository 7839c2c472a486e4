package page

import (
	"strings"
	"testing"

	"gradeline/catalog"
)

// A page of a truck with two levers, a bench, three changes of stage and a brake check area on Letter
// paper: pages like it had no profile. It keeps the profile, and everything that the driver does.
func TestTightPageKeepsItsProfile(t *testing.T) {
	s := sampleSheet("us-5axle", catalog.Metric)
	h := &s.Entry.Holds[0]
	h.Levers = []catalog.Lever{{Retarder: "compression brake", Stage: 2, Stages: 2}, {Retarder: "hydrodynamic retarder", Stage: 3, Stages: 4}}
	h.Stretches = nil
	for i := range 3 {
		h.Stretches = append(h.Stretches, catalog.HoldStretch{FromM: h.GearByM + 700*float64(i+1), ToM: h.GearByM + 700*float64(i+2), Gear: h.Gear, SpeedMPS: h.SpeedMPS + float64(1+i%2),
			Levers: []catalog.Lever{{Retarder: "compression brake", Stage: 2, Stages: 2}, {Retarder: "hydrodynamic retarder", Stage: 2 + i%2, Stages: 4}}})
	}
	h.Cautions = append(h.Cautions, "The grade is known to within 0.7 to 1.6 points. The advice assumes the steeper end.", "A retarder that heats the coolant cuts itself back when that is hot.")
	p, err := s.page()
	if err != nil {
		t.Fatal(err)
	}
	whole := p
	roomMM := 0.0
	for ; roomMM < 60 && !p.isTight; roomMM += 2 { // an ever shorter paper
		p = whole
		if _, fits, err := s.measure(&p, Letter, roomMM); err != nil || !fits || p.WithoutPicture {
			t.Fatalf("%.0f mm: fits %v, without profile %v: %v", roomMM, fits, p.WithoutPicture, err)
		}
	}
	if !p.isTight || len(p.Cautions) != 1 {
		t.Fatalf("no paper makes it tight: %d cautions", len(p.Cautions))
	}
	for _, c := range whole.Cautions {
		if !strings.Contains(p.Cautions[0], c) {
			t.Errorf("the cautions lack %q", c)
		}
	}
	if len(p.Rise) != len(whole.Rise) || len(p.Places) != len(withoutExtras(whole.Places)) {
		t.Errorf("%d and %d lines for a rising speed, %d and %d places", len(p.Rise), len(whole.Rise), len(p.Places), len(withoutExtras(whole.Places)))
	}
	for i, x := range withoutExtras(whole.Places) {
		if short, _, _ := strings.Cut(x.What, " ("); !strings.HasPrefix(p.Places[i].What, short) {
			t.Errorf("%q became %q", x.What, p.Places[i].What)
		}
	}
	says := ""
	for _, f := range p.Facts {
		says += f.Label + " " + f.Text + "\n"
	}
	for _, f := range whole.Facts {
		if f.Label != factPosted && !strings.Contains(says, f.Label+" ") || f.Label == factPosted && !strings.Contains(says, f.Text) {
			t.Errorf("the facts lack %s: %s", f.Label, f.Text)
		}
	}
	// On the shortest paper the profile goes and the page is as it was.
	p = whole
	if _, _, err := s.measure(&p, Letter, 90); err != nil || !p.WithoutPicture || p.isTight || len(p.Cautions) != len(whole.Cautions) || len(p.Facts) != len(whole.Facts) {
		t.Errorf("%v: without profile %v, tight %v, %d cautions", err, p.WithoutPicture, p.isTight, len(p.Cautions))
	}
}
