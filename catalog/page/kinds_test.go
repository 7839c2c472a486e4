package page

import (
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/holding"
)

// allOf is what a driver reads of a page but for its small print.
func allOf(p *sheetPage) string {
	all := []string{p.Class, p.Head, p.GearIn}
	all = append(append(append(all, p.Says...), p.Rise...), p.Cautions...)
	for _, f := range p.Facts {
		all = append(all, f.Label+": "+f.Text)
	}
	for _, x := range p.Places {
		all = append(all, x.What)
	}
	return strings.Join(all, "\n")
}

// A truck without a retarder is never told of one, held or not.
func TestPageOfATruckWithoutARetarder(t *testing.T) {
	s := sampleSheet("us-5axle", catalog.US)
	h := &s.Entry.Holds[0]
	h.Levers, h.Stage, h.Stretches = []catalog.Lever{catalog.EngineDragLever()}, 0, nil
	p, err := s.page()
	if err != nil {
		t.Fatal(err)
	}
	all := allOf(&p)
	for _, want := range []string{"HOLDS ON ENGINE DRAG ALONE: NO RETARDER", "Stay in gear 6, foot off the fuel.", "engine drag alone brings the truck back"} {
		if !strings.Contains(all, want) {
			t.Errorf("the held page lacks %q:\n%s", want, all)
		}
	}
	if strings.Contains(all, "retarder on.") || strings.Contains(all, "retarder on;") || strings.Contains(all, "on the retarder") || strings.Contains(all, "retarder answers") || strings.Contains(all, "the retarder alone") {
		t.Errorf("the held page speaks of a retarder:\n%s", all)
	}
	s = sampleSheet("bc-btrain", catalog.Metric)
	for i := range s.Entry.Holds {
		s.Entry.Holds[i].Cautions, s.Entry.Holds[i].CautionsUS, s.Entry.Holds[i].CautionsMetric = []string{holding.NoRetarder + "engine drag alone is counted."}, nil, nil
	}
	if p, err = s.page(); err != nil || !strings.Contains(allOf(&p), "no gear holds it by engine drag alone, and it has no retarder") {
		t.Errorf("%v:\n%s", err, allOf(&p))
	}
}

// An electric truck that its battery does not take down the hill is told so, and no few kilowatts that
// are missing at walking pace; no charge on the page reads as a way down.
func TestPageOfAFullBattery(t *testing.T) {
	s := sampleSheet("bc-btrain", catalog.Metric)
	for i := range s.Entry.Holds {
		s.Entry.Holds[i].Charge = &catalog.Charge{AtCrestPct: 80, MostAtCrestPct: 77}
	}
	p, err := s.page()
	if err != nil {
		t.Fatal(err)
	}
	all := allOf(&p)
	if !strings.Contains(all, "Battery: takes less than this hill puts in") || strings.Contains(all, "Missing: ") || strings.Contains(all, "77 %") {
		t.Error(all)
	}
	for i := range s.Entry.Holds {
		s.Entry.Holds[i].Charge.IsCounted = true
	}
	if p, err = s.page(); err != nil || !strings.Contains(allOf(&p), "Missing: ") || strings.Contains(allOf(&p), "Battery: ") {
		t.Errorf("%v:\n%s", err, allOf(&p))
	}
}

// A page for one mass alone names it once; office words and commands are not the driver's.
func TestPageForOneMass(t *testing.T) {
	s := sampleSheet("us-5axle", catalog.US)
	h := &s.Entry.Holds[0]
	h.MassLightKg = h.MassKg - 10
	for i := range 12 {
		h.Stretches = append(h.Stretches, catalog.HoldStretch{FromM: h.GearByM + 300*float64(i+1), ToM: h.GearByM + 300*float64(i+2), Gear: h.Gear, SpeedMPS: h.SpeedMPS + float64(i%2), Levers: h.Levers})
	}
	p, err := s.page()
	if err != nil || !strings.HasSuffix(p.Class, ", at 80,000 lb (36.2 t) only") && !strings.Contains(p.Class, " to ") {
		t.Errorf("%v: %s", err, p.Class)
	}
	if all := allOf(&p); strings.Contains(all, "gradeline ") {
		t.Errorf("a command on the driver's page:\n%s", all)
	}
}
