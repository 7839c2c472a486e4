package debrief

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/stationing"
)

// scattered moves the places of a drive by white noise of a standard deviation.
func scattered(in *Input, sigmaM float64, rng *rand.Rand) {
	for i := range in.Drive.Fixes {
		f := &in.Drive.Fixes[i]
		p := stationing.Direct(stationing.Direct(orb.Point{f.LonDeg, f.LatDeg}, 90, sigmaM*rng.NormFloat64()), 0, sigmaM*rng.NormFloat64())
		f.LonDeg, f.LatDeg = p[0], p[1]
	}
}

// The retarder gives all that it can and holds the truck: whatever plain noise of the
// places makes of the heights, the service brakes are not said to have worked; and
// recorded speeds are not refused for a way that noise makes longer.
func TestScatteredPlacesMakeNoBraking(t *testing.T) {
	c := debriefClass(t)
	const gear, speedMPS = 6, 6.0
	// The grade that the whole retarder holds at 6 m/s with the class's own resistances.
	top := c.Truck.TopWheelPower(gear, speedMPS, vehicle.AirAtBest()).AtW(1)
	pct := 100 * (top/(c.MassMaxKg*9.80665*speedMPS) + c.Truck.RollingResistance)
	for seed := range uint64(20) {
		for _, speed := range []float64{speedMPS, 11} {
			downPct := pct
			if speed == 11 {
				downPct = 100 * (c.Truck.TopWheelPower(gear, speed, vehicle.AirAtBest()).AtW(1)/(c.MassMaxKg*9.80665*speed) + c.Truck.RollingResistance)
			}
			in := steadyDrive(t, downPct, speed, gear)
			scattered(&in, 5, rand.New(rand.NewPCG(seed, 5)))
			d, err := FromDrive(in)
			if err != nil {
				t.Fatalf("seed %d, %.0f m/s: %v", seed, speed, err)
			}
			if len(d.Brakes.Events) > 0 || d.Brakes.AtMostJ < d.Brakes.AtLeastJ {
				t.Errorf("seed %d, %.0f m/s down %.1f %%: events %+v", seed, speed, downPct, d.Brakes.Events)
			}
		}
	}
}

// Ten minutes' halt during which places wander by 3 m, slowly, is no other unit; mph
// written as km/h still is.
func TestAHaltIsNoOtherUnit(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 3))
	at := func(ts float64) (float64, float64) {
		switch {
		case ts < 60:
			return 15 * ts, 15
		case ts < 660:
			return 900, 0
		}
		return 900 + 15*(ts-660), 15
	}
	in := Input{Descent: eastbound(100, 1900), Class: debriefClass(t), Drive: drive(730, 1, at, true),
		Profile: straightRoad(2000, func(s float64) float64 { return 900 - 0.05*s })}
	east := 0.0
	for i := range in.Drive.Fixes {
		f := &in.Drive.Fixes[i]
		east = 0.9*east + 3*math.Sqrt(1-0.81)*rng.NormFloat64()
		f.LonDeg = stationing.Direct(orb.Point{f.LonDeg, f.LatDeg}, 90, east)[0]
	}
	if _, err := FromDrive(in); err != nil {
		t.Error(err)
	}
	for _, share := range []float64{1.609, 1 / 1.609, 3.6, 1 / 3.6, 0} {
		other := in
		other.Drive = &routes.Recording{Fixes: append([]routes.Fix{}, in.Drive.Fixes...)}
		for i := range other.Drive.Fixes {
			other.Drive.Fixes[i].SpeedMPS *= share
		}
		if _, err := FromDrive(other); err == nil || !strings.Contains(err.Error(), "times what its places") {
			t.Errorf("speeds times %.3g: %v", share, err)
		}
	}
}

// Speeds in whole mph are known to half of one.
func TestWholeSpeedsAreKnownToHalfAStep(t *testing.T) {
	const mph = 0.44704
	in := steadyDrive(t, 5, 11, 6)
	for i := range in.Drive.Fixes {
		in.Drive.Fixes[i].SpeedMPS = mph * float64(24+i/40%2)
	}
	d, err := FromDrive(in)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "half-width", d.SpeedErrMPS, mph/2, 1e-9)
}

// Out of gear for 40 s on the hill: told, and no crest rule kept. Two seconds are a
// change of gears.
func TestCoastingInNeutralIsTold(t *testing.T) {
	in := steadyDrive(t, 5, 10, 6)
	in.Advice = &catalog.Hold{Class: in.Class.ID, Holds: true, Gear: 6, SpeedMPS: 11, GearByM: 200, MassKg: in.Class.MassMaxKg}
	out := func(from, to int) {
		for i := from; i <= to; i++ {
			in.Drive.Fixes[i].Gear, in.Drive.Fixes[i].IsNeutral = 0, true
		}
	}
	verdict := func() Debrief {
		d, err := FromDrive(in)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	out(60, 62)
	if d := verdict(); d.Crest.Verdict != CrestKept || len(d.Neutral) != 0 || !d.MassIsTaken {
		t.Errorf("a change of gears: %q, %+v", d.Crest.Verdict, d.Neutral)
	}
	out(100, 140)
	d := verdict()
	if len(d.Neutral) != 1 || d.NeutralS != 40 || math.Abs(d.Neutral[0].FromM-700) > 1 || math.Abs(d.Neutral[0].ToM-1100) > 1 || d.Crest.Verdict != CrestNeutral {
		t.Errorf("40 s: %q, %+v", d.Crest.Verdict, d.Neutral)
	}
	out(0, 300)
	if d := verdict(); d.HasGear || d.Crest.Verdict != CrestNeutral || !d.Crest.IsNeutral {
		t.Errorf("all the way: %+v", d.Crest)
	}
}

// The advice is for the class's upper end; a heavier drive cannot have kept it.
func TestAHeavierDriveHasNotKeptTheAdvice(t *testing.T) {
	in := steadyDrive(t, 5, 10, 6)
	in.Advice = &catalog.Hold{Class: in.Class.ID, Holds: true, Gear: 6, SpeedMPS: 11, GearByM: 200, MassKg: in.Class.MassMaxKg}
	for massKg, want := range map[float64]string{in.Class.MassMaxKg: CrestKept, in.Class.MassMaxKg - 5000: CrestKept, in.Class.MassMaxKg + 5000: CrestNotCovered} {
		in.MassKg = massKg
		d, err := FromDrive(in)
		if err != nil || d.Crest.Verdict != want || d.IsBeyond != (want == CrestNotCovered) || d.MassIsTaken {
			t.Errorf("%.0f kg: %q, %v", massKg, d.Crest.Verdict, err)
		}
	}
}

// Engine speeds that fit no gear are not "no engine speed".
func TestEngineSpeedsThatFitNoGearAreToldAsSuch(t *testing.T) {
	in := steadyDrive(t, 5, 10, 0)
	for i := range in.Drive.Fixes {
		in.Drive.Fixes[i].EngineRPM = 300
	}
	d, err := FromDrive(in)
	if told := strings.Join(d.CannotTell, "\n"); err != nil || !strings.Contains(told, "fit no gear of this class") || strings.Contains(told, "there is no engine speed") {
		t.Errorf("%v: %s", err, told)
	}
}

// A recording of which little is left says how much was not looked at.
func TestTooLittleOfAHillSaysWhatWasLeftOut(t *testing.T) {
	in := steadyDrive(t, 5, 10, 6)
	in.Drive.Fixes = in.Drive.Fixes[:40]
	in.Drive.LeftOut, in.Drive.Skipped = 260, []routes.Skipped{{Where: "d.csv, line 42", Why: "it has no time"}}
	_, err := FromDrive(in)
	if err == nil || !strings.Contains(err.Error(), "covers too little") || !strings.Contains(err.Error(), "260 of its points were left out") || !strings.Contains(err.Error(), "line 42: it has no time") {
		t.Error(err)
	}
}

// What would print as 0.0 MJ is no event: a short hard slowing, harder and harder, is
// none at all or prints as something.
func TestNoEventPrintsAsNothing(t *testing.T) {
	events := 0
	for k := range 60 {
		slow := 0.5 + 0.02*float64(k)
		at := func(ts float64) (float64, float64) {
			switch t1 := ts - 100; {
			case t1 < 0:
				return 12 * ts, 12
			case t1 < 5:
				return 1200 + 12*t1 - slow*t1*t1/2, 12 - slow*t1
			default:
				return 1260 - 12.5*slow + (12-5*slow)*(t1-5), 12 - 5*slow
			}
		}
		in := Input{Descent: eastbound(100, 1900), Class: debriefClass(t), MassKg: 36287, Drive: drive(180, 1, at, true),
			Profile: straightRoad(2400, func(s float64) float64 { return 900 - 0.03*s })}
		d, err := FromDrive(in)
		if err != nil {
			t.Fatal(err)
		}
		events += len(d.Brakes.Events)
		for _, e := range d.Brakes.Events {
			if e.AtLeastJ < 50e3 {
				t.Errorf("%.2f m/s²: %+v", slow, e)
			}
		}
	}
	if events < 5 || events > 55 {
		t.Errorf("%d events: the edge is not among these drives", events)
	}
}
