package debrief

import (
	"testing"

	"gradeline/catalog"
)

// steadyDrive is 300 s at one speed down an even grade, recorded every second.
func steadyDrive(t *testing.T, downgradePct, speedMPS float64, gear int) Input {
	t.Helper()
	const approachM = 300
	at := func(ts float64) (float64, float64) { return speedMPS * ts, speedMPS }
	endM := 300 * speedMPS
	in := Input{Descent: eastbound(approachM, endM), Class: debriefClass(t), Drive: drive(300, 1, at, true),
		Profile: straightRoad(endM+20, func(s float64) float64 { return 900 - downgradePct/100*s })}
	for i := range in.Drive.Fixes {
		in.Drive.Fixes[i].Gear = gear
	}
	return in
}

// Gear 6 of us-5axle is governed at 11.87 m/s (2,100 rpm through its ratios). A
// recorder that says 0.3 % more is a recorder's error; the retarder worked.
func TestASpeedJustOverTheGovernedOneIsNoBraking(t *testing.T) {
	for _, speedMPS := range []float64{11.8, 11.9, 12.2} {
		d, err := FromDrive(steadyDrive(t, 6, speedMPS, 6))
		if err != nil {
			t.Fatal(err)
		}
		if d.Brakes.AtLeastJ != 0 {
			t.Errorf("%.1f m/s in gear 6: service brakes took at least %.3g J", speedMPS, d.Brakes.AtLeastJ)
		}
	}
}

// The gear is told only below the crest: whether it was in before, nobody knows.
func TestAGearToldTooLateIsNotAGearTooLate(t *testing.T) {
	in := steadyDrive(t, 6, 10, 6)
	in.Advice = &catalog.Hold{Class: in.Class.ID, Holds: true, Gear: 6, SpeedMPS: 11, GearByM: 200}
	for i := range in.Drive.Fixes {
		if in.Drive.Fixes[i].At.Sub(in.Drive.Fixes[0].At).Seconds() < 70 {
			in.Drive.Fixes[i].Gear = 0
		}
	}
	d, err := FromDrive(in)
	if err != nil {
		t.Fatal(err)
	}
	if d.Crest.Verdict != CrestSpeedKept {
		t.Errorf("verdict %q, gear known %v", d.Crest.Verdict, d.Crest.GearIsKnown)
	}
}

// A right approach seen every 30 s only is neither too fast nor kept.
func TestASparseRecordingDoesNotJudgeTheCrest(t *testing.T) {
	at := func(ts float64) (float64, float64) { // 20 m/s, then 11 m/s from 135 m before the place on
		if ts < 40 {
			return 20 * ts, 20
		}
		return 800 + 11*(ts-40), 11
	}
	for _, stepS := range []float64{10, 30, 60} {
		in := Input{Descent: eastbound(1000, 4000), Class: debriefClass(t), Drive: drive(300, stepS, at, false),
			Profile: straightRoad(4200, func(s float64) float64 { return 900 - 0.05*s }),
			Advice:  &catalog.Hold{Class: "us-5axle", Holds: true, Gear: 6, SpeedMPS: 11.5, GearByM: 935}}
		d, err := FromDrive(in)
		if err != nil {
			t.Fatal(err)
		}
		if d.Crest.Verdict == CrestTooFast {
			t.Errorf("a point every %.0f s: %q at %.1f ± %.1f m/s", stepS, d.Crest.Verdict, d.Crest.SpeedMPS, d.Crest.SpeedErrMPS)
		}
	}
}

// The profile ends while the truck rolls on: that is no stop.
func TestTheEndOfTheKnownRoadIsNoStop(t *testing.T) {
	in := steadyDrive(t, 5, 11, 6)
	for _, hasSpeed := range []bool{true, false} {
		at := func(ts float64) (float64, float64) { return 11 * ts, 11 }
		in.Drive = drive(400, 0.1, at, hasSpeed)
		d, err := FromDrive(in)
		if err != nil {
			t.Fatal(err)
		}
		if len(d.Stops) > 0 || len(d.Brakes.Events) > 0 {
			t.Errorf("own speeds %v: stops %v, brake events %v", hasSpeed, d.Stops, d.Brakes.Events)
		}
	}
}

// 13 % for 5 minutes in gear 6 at 10 m/s is more than the retarder holds: the balance
// of the whole run, by hand, m·g·h less 1.x-fold resistances and retarder, leaves the
// service brakes far more than nothing, however coarse the terrain of each window is.
func TestLongDraggingIsSeenOverCoarseTerrain(t *testing.T) {
	fine := steadyDrive(t, 13, 10, 6)
	fine.MassKg = fine.Class.MassMaxKg
	want, err := FromDrive(fine)
	if err != nil {
		t.Fatal(err)
	}
	coarse := steadyDrive(t, 13, 10, 6)
	coarse.MassKg = fine.MassKg
	coarse.Profile.Bound.SpanPct = []float64{2, 0.5}
	got, err := FromDrive(coarse)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("at least %.1f MJ by a bound of 0.2 points over 100 m, %.1f MJ by 2", want.Brakes.AtLeastJ/1e6, got.Brakes.AtLeastJ/1e6)
	// 0.5 points at 1,000 m go down as 1/L: 5 m of height, 1.8 MJ at 36.3 t.
	m := fine.Class.MassMaxKg
	if most := 9.81 * m * 5; want.Brakes.AtLeastJ-got.Brakes.AtLeastJ > 1.1*most || got.Brakes.AtLeastJ <= 0 {
		t.Errorf("lost %.1f MJ to a height error of %.1f MJ", (want.Brakes.AtLeastJ-got.Brakes.AtLeastJ)/1e6, most/1e6)
	}
	if got.Brakes.AtMostJ < got.Brakes.AtLeastJ || len(got.Brakes.Events) != 1 {
		t.Errorf("at most %.1f MJ, events %v", got.Brakes.AtMostJ/1e6, got.Brakes.Events)
	}
}
