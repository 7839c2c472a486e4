package debrief

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
)

// A pass must cover 500 m of the hill, or a fifth of a shorter one, without gaps.
func TestHowMuchOfAHillAPassMustCover(t *testing.T) {
	for _, k := range []struct {
		hillM, coverM float64
		ok            bool
	}{{4000, 495, false}, {4000, 505, true}, {2000, 395, false}, {2000, 405, true}} {
		d := &routes.Descent{ID: "h", StartM: 100, EndM: 100 + k.hillM, LengthM: k.hillM}
		on := places(int(k.coverM/5)+1, 1, func(i int) float64 { return 5 * float64(i) })
		pass, which, count, err := choosePass(on, d, "f", 0)
		if (err == nil) != k.ok || k.ok && (len(pass) != len(on) || which != 1 || count != 1) {
			t.Errorf("%+v: %d points, pass %d of %d, %v", k, len(pass), which, count, err)
		}
	}
	// What lies before the crest, beyond the foot or in a gap is not covered.
	on := places(11, 5, func(i int) float64 { return 100*float64(i) - 200 })
	near(t, "covered", coveredM(on, 700, 10), 700, 1e-9)
	near(t, "covered of a longer hill", coveredM(on, 5000, 10), 800, 1e-9)
	on[5].TimeS += 6
	for i := 6; i < 11; i++ {
		on[i].TimeS += 6
	}
	near(t, "covered with a gap", coveredM(on, 700, 10), 600, 1e-9)
}

// The verdict at the place where gear and speed are due, case by case.
func TestVerdictsOfTheCrest(t *testing.T) {
	for _, k := range []struct {
		speed, half, advised float64
		gear                 int
		neutral, out, beyond bool
		want                 string
	}{
		{10.61, 0.3, 10, 6, false, false, false, CrestTooFast}, // twice the bound of a single speed
		{10.59, 0.3, 10, 6, false, false, false, CrestCannotTell},
		{10.2, 0.3, 10, 6, false, false, false, CrestKept},
		{9.5, 0.98, 10, 6, false, false, false, CrestKept}, // a bound up to a tenth of the speed may still keep it
		{9.5, 1.02, 10, 6, false, false, false, CrestCannotTell},
		{3.6, 0.49, 4, 6, false, false, false, CrestKept}, // or up to 0.5 m/s
		{3.6, 0.51, 4, 6, false, false, false, CrestCannotTell},
		{5, 3, 10, 6, false, false, false, CrestKept}, // slow enough whatever the bound
		{9, 0.2, 10, 7, false, false, false, CrestGearLate},
		{9, 0.2, 10, 0, false, false, false, CrestSpeedKept},
		{9, 0.2, 10, 0, true, false, false, CrestNeutral},
		{9, 0.2, 10, 6, false, true, false, CrestNeutral},
		{9, 0.2, 10, 6, false, false, true, CrestNotCovered},
	} {
		d := Debrief{AdvisedMPS: k.advised, AdvisedGear: 6, IsBeyond: k.beyond}
		d.Crest.Gear, d.Crest.IsNeutral = k.gear, k.neutral
		if k.out {
			d.Neutral = []Coast{{}}
		}
		if got := d.crestVerdict(k.speed, k.half); got != k.want {
			t.Errorf("%+v: %q", k, got)
		}
	}
	// A recorder's own speeds are off by .35 m/s more for a while.
	d := Debrief{AdvisedMPS: 10, AdvisedGear: 6, IsSpeedOwn: true}
	d.Crest.Gear = 6
	if got := d.crestVerdict(10.94, 0.3); got != CrestCannotTell {
		t.Errorf("%q", got)
	}
	if got := d.crestVerdict(10.96, 0.3); got != CrestTooFast {
		t.Errorf("%q", got)
	}
}

// An engine speed within 6 % of a gear's is that gear: 1,500 rpm at 10 m/s, give or take.
func TestGearByEngineSpeed(t *testing.T) {
	truck := &debriefClass(t).Truck
	rpm := truck.RPMFromSpeed(6, 10)
	for share, want := range map[float64]int{1: 6, 1.059: 6, 1.062: 0, 0.941: 6, 0.938: 0} {
		if got := gearAt(truck, &routes.Fix{EngineRPM: share * rpm}, 10); got != want {
			t.Errorf("%g of its engine speed: gear %d", share, got)
		}
	}
	for speed, want := range map[float64]int{1.01: 6, 0.99: 0} {
		if got := gearAt(truck, &routes.Fix{EngineRPM: truck.RPMFromSpeed(6, speed)}, speed); got != want {
			t.Errorf("%g m/s: gear %d", speed, got)
		}
	}
}

// What a recording leaves open, from the limits at which it does.
func TestWhenSomethingIsLeftOpen(t *testing.T) {
	full := Debrief{HasAdvice: true, HasGear: true, HasRPM: true, HasBrakeSignal: true, CoveredPct: 100, AdvisedMPS: 10, SpeedErrMPS: 0.2, SampleS: 1}
	base := len(full.cannotTell())
	if base != 2 { // the start temperature and the brakes' shares are never known
		t.Fatalf("%q", full.cannotTell())
	}
	for _, k := range []struct {
		name string
		of   func(*Debrief)
		want string // "" for nothing more
	}{
		{"no advice", func(d *Debrief) { d.HasAdvice = false }, "no advice for this class"},
		{"no gear", func(d *Debrief) { d.HasGear, d.HasRPM = false, false }, "no engine speed and no gear"},
		{"engine speeds of no gear", func(d *Debrief) { d.HasGear = false }, "fit no gear"},
		{"neutral all the way", func(d *Debrief) { d.HasGear, d.NeutralS = false, 40 }, "out of gear all the way"},
		{"neutral without engine speeds", func(d *Debrief) { d.HasGear, d.HasRPM, d.NeutralS = false, false, 40 }, "out of gear all the way"},
		{"neutral and gears", func(d *Debrief) { d.NeutralS = 40 }, ""},
		{"mass", func(d *Debrief) { d.MassIsTaken = true }, "for the lightest truck of the class"},
		{"no signal", func(d *Debrief) { d.HasBrakeSignal = false }, "no signal of them"},
		{"crest", func(d *Debrief) { d.Crest.Verdict = CrestCannotTell }, "before the crest"},
		{"crest kept", func(d *Debrief) { d.Crest.Verdict = CrestKept }, ""},
		{"2 s", func(d *Debrief) { d.SampleS = 2 }, ""},
		{"2.1 s", func(d *Debrief) { d.SampleS = 2.1 }, "shorter than 5 s: it has a point every 2 s"},
		{"window", func(d *Debrief) { d.SpeedWindowS = 4 }, "means over 4 s"},
		{"98 %", func(d *Debrief) { d.CoveredPct = 98 }, ""},
		{"97.5 %", func(d *Debrief) { d.CoveredPct = 97.5 }, "3 % of the hill: no points there"},
		{"rough", func(d *Debrief) { d.SpeedErrMPS = 1.52 }, "too imprecise"},
		{"not so rough", func(d *Debrief) { d.SpeedErrMPS = 1.48 }, ""},
	} {
		d := full
		k.of(&d)
		got := d.cannotTell()
		if k.want == "" && len(got) != base || k.want != "" && (len(got) != base+1 || !strings.Contains(strings.Join(got, "\n"), k.want)) {
			t.Errorf("%s: %q", k.name, got)
		}
	}
}

// A halt is 5 s under 0.7 m/s; the highest speed of the hill has its place; what lies before
// the crest or beyond the foot counts for neither.
func TestHaltsAndTheHighestSpeed(t *testing.T) {
	speeds := []float64{20, 12, 13, 0.69, 0.69, 0.69, 0.69, 0.69, 0.69, 14, 12, 0.71, 0.71, 0.71, 0.71, 0.71, 0.71, 0.71, 11, 0, 0, 0, 0, 0, 11, 30}
	v := &driven{pass: places(len(speeds), 1, func(i int) float64 { return 10*float64(i) - 5 }), speedMPS: speeds, gapS: 10}
	d := Debrief{}
	d.onHill(v, eastbound(0, 240))
	if len(d.Stops) != 1 || d.Stops[0].AtM != 25 || math.Abs(d.Stops[0].TimeS-5) > 1e-9 { // 5 s from the third to the eighth; 4 s are none
		t.Errorf("stops %+v", d.Stops)
	}
	if d.MostMPS != 14 || d.MostAtM != 85 {
		t.Errorf("the most %g m/s at %g m", d.MostMPS, d.MostAtM)
	}
	near(t, "on the hill", d.OnHillS, 24, 1e-9)
}

// Out of gear for 4 s counts; less is a change of gears. A truck that stands is not coasting.
func TestHowLongACoastLasts(t *testing.T) {
	for _, k := range []struct {
		points   int
		stepS    float64
		speedMPS float64
		want     int
	}{{5, 1, 10, 1}, {4, 1, 10, 0}, {20, 0.21, 10, 0}, {21, 0.21, 10, 1}, {5, 1, 0.69, 0}, {5, 1, 0.72, 1}, {1, 5, 10, 0}, {2, 5, 10, 1}} {
		pass := places(40, k.stepS, func(i int) float64 { return 10 * float64(i) })
		v := &driven{pass: pass, gapS: 10, sampleS: k.stepS}
		for i := range pass {
			v.speedMPS = append(v.speedMPS, k.speedMPS)
			pass[i].Fix.IsNeutral = i >= 10 && i < 10+k.points
		}
		d := Debrief{}
		d.inNeutral(v, 0, 1000)
		if len(d.Neutral) != k.want {
			t.Errorf("%+v: %+v", k, d.Neutral)
		}
	}
}

// A gear that nobody told for over 10 s before the place is not known there.
func TestAGearGrowsStale(t *testing.T) {
	truck := &debriefClass(t).Truck
	for lastS, want := range map[float64]int{40: 6, 39.75: 0} { // the place is at 50 s
		v := &driven{pass: places(320, 0.25, func(i int) float64 { return 2.5*float64(i) - 500 }), gapS: 10}
		for i := range v.pass {
			v.speedMPS = append(v.speedMPS, 10)
			if 0.25*float64(i) <= lastS {
				v.pass[i].Fix.Gear = 6
			}
		}
		d := Debrief{AdvisedGear: 6, AdvisedMPS: 11}
		d.followGear(v, truck)
		if d.Crest.Gear != want || d.Crest.GearIsKnown != (want > 0) {
			t.Errorf("told until %g s: %+v", lastS, d.Crest)
		}
	}
}

// Where the speed came down to the advised one, beyond the bound: the last run that is down
// when the place comes, not one in slow traffic before it.
func TestWhereTheSpeedCameDown(t *testing.T) {
	for _, k := range []struct {
		name   string
		speeds []float64 // every 10 m from 50 m before the place
		known  bool
		want   float64
	}{
		{"down in time", []float64{14, 13, 11.2, 10, 10, 10, 10, 10}, true, -30},
		{"slow traffic before", []float64{9, 9, 13, 13, 10, 10, 10, 10}, true, -10},
		{"at the place", []float64{13, 13, 13, 13, 13, 11, 10, 10}, true, 0},
		{"only past it", []float64{13, 13, 13, 13, 13, 13, 11, 10}, true, 10},
		{"down, and fast again past it", []float64{13, 11, 11, 11, 11, 11, 13, 13}, true, -40},
		{"never", []float64{13, 13, 13, 13, 13, 13, 13, 11.4}, false, 0},
	} {
		v := &driven{pass: places(len(k.speeds), 1, func(i int) float64 { return 10*float64(i) - 50 }), speedMPS: k.speeds, gapS: 10}
		for range k.speeds {
			v.errMPS = append(v.errMPS, 0.3)
		}
		d := Debrief{AdvisedMPS: 11}
		d.followDown(v)
		if d.Crest.DownByIsKnown != k.known || k.known && d.Crest.DownByM != k.want {
			t.Errorf("%s: %+v", k.name, d.Crest)
		}
	}
}

// A recording that begins past the place tells nothing of the crest, but out of gear is out
// of gear; the stretch has its highest speed and its place.
func TestACrestThatTheRecordingDoesNotReach(t *testing.T) {
	for _, isOut := range []bool{false, true} {
		in := steadyDrive(t, 5, 10, 6)
		in.Advice = &catalog.Hold{Class: in.Class.ID, Holds: true, Gear: 6, SpeedMPS: 9, GearByM: 200}
		in.Drive.Fixes = in.Drive.Fixes[60:]
		for i := range in.Drive.Fixes {
			if isOut && i >= 100 && i < 140 {
				in.Drive.Fixes[i].Gear, in.Drive.Fixes[i].IsNeutral = 0, true
			}
		}
		in.Drive.Fixes[120].SpeedMPS = 10.4
		d, err := FromDrive(in)
		if err != nil {
			t.Fatal(err)
		}
		want := map[bool]string{true: CrestNeutral, false: CrestCannotTell}[isOut]
		if d.Crest.Verdict != want {
			t.Errorf("out of gear %t: %q", isOut, d.Crest.Verdict)
		}
		if isOut && (len(d.Neutral) != 1 || d.Neutral[0].MostMPS != 10.4) {
			t.Errorf("%+v", d.Neutral)
		}
		if len(d.Over) != 1 || d.Over[0].MostMPS != 10.4 || math.Abs(d.Over[0].AtM-1500) > 1 {
			t.Errorf("over %+v", d.Over)
		}
		near(t, "a stop from 60 km/h", d.Brakes.StopJ, 0.5*in.Class.MassMaxKg*60*60/3.6/3.6, 1)
		said := false
		for _, s := range d.Brakes.Statuses {
			said = said || strings.Contains(s.Source, "rolling resistance ×2, drag ×1.5, retarder ×1.35, rotating parts 5 %")
		}
		if !said {
			t.Errorf("%+v", d.Brakes.Statuses)
		}
	}
}

// A mass is one of a truck from 1,000 kg on; one point is no drive.
func TestWhatADebriefRefuses(t *testing.T) {
	for massKg, ok := range map[float64]bool{999: false, 1000: true, 200000: true, 201000: false} {
		in := steadyDrive(t, 5, 10, 6)
		in.MassKg = massKg
		if _, err := FromDrive(in); (err == nil) != ok {
			t.Errorf("%g kg: %v", massKg, err)
		}
	}
	for points, says := range map[int]string{1: "fewer than two points", 2: "covers too little"} {
		in := steadyDrive(t, 5, 10, 6)
		in.Drive.Fixes = in.Drive.Fixes[100 : 100+points]
		if _, err := FromDrive(in); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%d points: %v", points, err)
		}
	}
	// How many points lie off the road is told where it is some of them, not none or all.
	for off, want := range map[int]string{0: "", 30: "30 points are further"} {
		in := steadyDrive(t, 5, 10, 6)
		in.Drive.Fixes = in.Drive.Fixes[:60]
		for i := range off {
			in.Drive.Fixes[i].LatDeg += 0.01
		}
		_, err := FromDrive(in)
		if err == nil || !strings.Contains(err.Error(), "covers too little") || strings.Contains(err.Error(), "points are further") != (want != "") || !strings.Contains(err.Error(), want) {
			t.Errorf("%d off: %v", off, err)
		}
	}
	in := steadyDrive(t, 5, 10, 6)
	for i := range in.Drive.Fixes {
		in.Drive.Fixes[i].LatDeg += 0.01
	}
	if _, err := FromDrive(in); err == nil || strings.Contains(err.Error(), "points are further") {
		t.Errorf("all off: %v", err)
	}
}
