package page

import (
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/holding"
)

// A page of two levers with much to say keeps its profile: its list names each retarder as its box
// does, and says the speed in one unit where the box has it in both.
func TestFullPageKeepsItsProfile(t *testing.T) {
	s := sampleSheet("us-5axle", catalog.US)
	h := &s.Entry.Holds[0]
	const long = "hydrodynamic retarder on the output shaft"
	h.Levers = []catalog.Lever{{Retarder: "compression brake", Stage: 2, Stages: 2}, {Retarder: long, Stage: 3, Stages: 4}}
	h.Stretches, s.Sites = nil, nil
	for i := range 3 {
		h.Stretches = append(h.Stretches, catalog.HoldStretch{FromM: h.GearByM + 700*float64(i+1), ToM: h.GearByM + 700*float64(i+2), Gear: h.Gear, SpeedMPS: h.SpeedMPS,
			Levers: []catalog.Lever{{Retarder: "compression brake", Stage: 2, Stages: 2}, {Retarder: long, Stage: 2 + i%2, Stages: 4}}})
	}
	h.Cautions = append(h.Cautions, "A caution of some length about this hill.")
	p, err := s.page()
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(p.GearIn, long) {
		t.Errorf("the line under the boxes lacks the whole name: %s", p.GearIn)
	}
	speed := s.Units.Speed(h.SpeedMPS)
	found := 0
	for _, x := range p.Places {
		if strings.Contains(x.What, "on the output shaft") {
			t.Errorf("a place has the long name: %s", x.What)
		}
		if strings.HasSuffix(x.What, "hydrodynamic retarder at stage 2 of 4, at most "+speed) {
			found++
		}
	}
	if found == 0 {
		t.Errorf("no change of stage with its speed in one unit: %+v", p.Places)
	}
	d, fits, err := s.measure(&p, Letter, 0)
	if err != nil || !fits || p.WithoutPicture {
		t.Fatalf("fits %v, without profile %v: %v", fits, p.WithoutPicture, err)
	}
	if d.mag >= 1 || !strings.Contains(p.PlacesHead(), "as on the profile") {
		t.Errorf("scale %g: %s", d.mag, p.PlacesHead())
	}
	p.WithoutPicture = true
	if strings.Contains(p.PlacesHead(), "profile") {
		t.Errorf("a page without a profile speaks of it: %s", p.PlacesHead())
	}
}

// Two retarders whose short names are one keep their long ones.
func TestShortNamesOfRetardersTellThemApart(t *testing.T) {
	h := &catalog.Hold{Levers: []catalog.Lever{{Retarder: "retarder on the gearbox"}, {Retarder: "retarder on the trailer"}}}
	const words = "retarder on the gearbox at stage 1, retarder on the trailer at stage 2"
	if got := shortLevers(h).Replace(words); got != words {
		t.Error(got)
	}
	h.Levers[1].Retarder = "eddy-current brake, trailer"
	if got := shortLevers(h).Replace("Retarder on the gearbox, eddy-current brake, trailer"); got != "Retarder, eddy-current brake" {
		t.Error(got)
	}
	if got := shortLevers(nil).Replace(words); got != words {
		t.Error(got)
	}
}

// How a tanker's curve speeds were found stands in the small print, the surge with the cautions.
func TestTankersCautionIsSplit(t *testing.T) {
	s := sampleSheet("us-5axle", catalog.US)
	const surge, basis = "Part-full tank: the liquid surges. Set one stage at a time, early.", holding.SurgeBasis + " 50 % of the full tank's rollover threshold (from memory)."
	s.Entry.Holds[0].Cautions = []string{surge + " " + basis}
	p, err := s.page()
	if err != nil {
		t.Fatal(err)
	}
	if all := strings.Join(p.Cautions, "\n"); !strings.Contains(all, surge) || strings.Contains(all, basis) || !strings.Contains(p.Foot[0], basis) {
		t.Errorf("cautions: %s\nfoot: %s", all, p.Foot[0])
	}
}

// The battery's charge is a condition of advice that holds, and no way down where nothing holds.
func TestNotHeldPageHasNoConditions(t *testing.T) {
	battery := []string{"Only with the battery at 79 % or less at the crest: the hill puts in up to 63 kWh.", "Before the crest check that the display offers full recuperation: a battery that is cold takes less."}
	for class, isHeld := range map[string]bool{"us-5axle": true, "bc-btrain": false} {
		s := sampleSheet(class, catalog.Metric)
		for i := range s.Entry.Holds {
			s.Entry.Holds[i].Cautions, s.Entry.Holds[i].CautionsUS, s.Entry.Holds[i].CautionsMetric = battery, nil, nil
		}
		p, err := s.page()
		if err != nil {
			t.Fatal(err)
		}
		all := strings.Join(p.Cautions, "\n")
		for _, c := range battery {
			if strings.Contains(all, c) != isHeld {
				t.Errorf("%s: held %v: %s", class, isHeld, all)
			}
		}
	}
}
