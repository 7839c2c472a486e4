package signs

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
)

// A run-down faster than 90 mph is laid out for 90 and both figures are given: by
// L = V²/(30(R + G)), 90 mph into pea gravel at +10 % is 771 ft (computed).
func TestARunDownFasterThanRampsAreLaidOutForGivesBothLengths(t *testing.T) {
	c := rampStationAt(SpeedAt{StationM: 100, FreeMPS: 120 * mph, FadedMPS: 60 * mph})
	if !c.Late || math.Abs(c.EntryMPS-90*mph) > 1e-9 {
		t.Fatalf("%+v", c)
	}
	n := 0
	for _, l := range c.Lengths {
		if l.Material != "pea gravel" || l.GradePct != 10 {
			continue
		}
		n++
		if math.Abs(catalog.FtFromM(l.LaidOutLengthM)-8100/(30*0.35)) > 1e-6 || math.Abs(catalog.FtFromM(l.LengthM)-14400/(30*0.35)) > 1e-6 || l.Kind != RampAscending {
			t.Errorf("%+v", l)
		}
	}
	if n != 1 {
		t.Errorf("%d rows for pea gravel at 10 %%", n)
	}
	_, rows := RampStationTable([]RampStation{c}, catalog.US)
	if last := rows[len(rows)-1]; rows[0][2] != "90 mph (runs down at 120 mph)" || last[7] != "780 ft (1,380 ft)" {
		t.Errorf("%q, %q", rows[0], last)
	}
	slow := rampStationAt(SpeedAt{FreeMPS: 80.4 * mph, FadedMPS: 60 * mph})
	if _, rows := RampStationTable([]RampStation{slow}, catalog.US); slow.Late || rows[0][2] != "81 mph" || strings.Contains(rows[0][7], "(") {
		t.Errorf("%+v, %q", slow, rows[0])
	}
}

// A falling bed whose resistance the grade outweighs stops nothing: no length is given.
func TestADescendingRampThatStopsNothingHasNoLength(t *testing.T) {
	kinds := map[string]bool{}
	for _, l := range rampStationAt(SpeedAt{FreeMPS: 30, FadedMPS: 30}).Lengths {
		kinds[l.Kind] = true
		if l.Material == "loose crushed aggregate" && l.GradePct < 0 {
			t.Errorf("%+v", l)
		}
	}
	if len(kinds) != 3 {
		t.Errorf("kinds %v", kinds)
	}
}

// No text for readers of feet names a metre or a kilometre.
func TestRampsInFeetSayNothingInMetres(t *testing.T) {
	in := passDescent()
	ri := RunawayInput{Descent: in.Descent, Profile: in.Profile, FromMPS: 25 * mph}
	run, err := Runaway(ri)
	if err != nil {
		t.Fatal(err)
	}
	found := append(RampCandidates(ri, run, 0), RampsOnRecord(ri, run, in.Sites)...)
	_, rows := RampStationTable(found, catalog.US)
	rating, err := RateRamp(Ramp{Name: "Ramp 1", StationM: 7600, Beds: []RampBed{{"pea gravel", 150, 8}}}, SpeedNear(run, 7600).FreeMPS)
	if err != nil {
		t.Fatal(err)
	}
	_, rated := RatingTable([]Rating{rating}, catalog.US)
	for _, row := range append(rows, rated...) {
		for _, cell := range strings.Fields(strings.NewReplacer("(", " ", ")", " ", ",", "", ";", " ").Replace(strings.Join(row, " "))) {
			if cell == "m" || cell == "km" || cell == "km/h" {
				t.Errorf("metric in %q", row)
			}
		}
	}
	if rated[0][8] != catalog.US.Speed(rating.HighestEntryMPS) {
		t.Errorf("%q", rated[0])
	}
}

func TestRampsOnRecordAreThoseOfTheDescent(t *testing.T) {
	in := passDescent()
	ri := RunawayInput{Descent: in.Descent, Profile: in.Profile, FromMPS: 25 * mph}
	run, err := Runaway(ri)
	if err != nil {
		t.Fatal(err)
	}
	sites := append(in.Sites, siteAt(catalog.EscapeRamp, "Above the crest", 500, routes.Forward), siteAt(catalog.EscapeRamp, "Other way", 5000, routes.Backward))
	got := RampsOnRecord(ri, run, sites)
	if len(got) != 1 || got[0].StationM != 7600 || !got[0].IsRecord || got[0].Why != "stands: Ramp 1" || math.Abs(got[0].FreeMPS-SpeedNear(run, 7600).FreeMPS) > 1e-9 {
		t.Errorf("%+v", got)
	}
}
