package debrief

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// Speeds from places with 3 m of noise stay inside their bounds, and the even
// deceleration that made the places comes out.
func TestSpeedsFromPlacesKeepTheirBound(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	at := func(ts float64) (float64, float64) { return 50 + 20*ts - 0.02*ts*ts, 20 - 0.04*ts }
	p := straightRoad(5000, func(s float64) float64 { return 800 - 0.05*s })
	rec := drive(300, 1, at, false)
	for i := range rec.Fixes {
		f := &rec.Fixes[i]
		q := stationing.Direct(stationing.Direct(orb.Point{f.LonDeg, f.LatDeg}, 90, 3*rng.NormFloat64()), 0, 3*rng.NormFloat64())
		f.LonDeg, f.LatDeg = q[0], q[1]
	}
	in := Input{Descent: eastbound(50, 4250), Profile: p, Class: debriefClass(t), Drive: rec}
	v, err := speedsOf(mustLay(t, &in), "")
	if err != nil {
		t.Fatal(err)
	}
	near(t, "scatter", v.scatterM, 3, 0.6)
	inside := 0
	for i := range v.pass {
		_, truth := at(v.pass[i].TimeS)
		if math.Abs(v.speedMPS[i]-truth) <= v.errMPS[i] {
			inside++
		}
	}
	if share := float64(inside) / float64(len(v.pass)); share < 0.9 {
		t.Errorf("%.0f %% of the speeds lie inside their 95 %% bound", 100*share)
	}
}

// Two legs of a hairpin 40 m apart, places 8 m off: no point may jump to the other leg.
func TestHairpinLegsAreNotMixedUp(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 2))
	p := &routes.Profile{StepM: 5, Bound: routes.ErrorModel{SpanM: []float64{100}, SpanPct: []float64{0.2}}, Reliable: true}
	origin := orb.Point{11, 46}
	place := func(s float64) orb.Point { // 800 m east, half a circle of 20 m radius, 800 m west
		switch arc := math.Pi * 20; {
		case s <= 800:
			return stationing.Direct(origin, 90, s)
		case s <= 800+arc:
			phi := (s - 800) / 20
			return stationing.Direct(stationing.Direct(origin, 90, 800+20*math.Sin(phi)), 0, 20-20*math.Cos(phi))
		default:
			return stationing.Direct(stationing.Direct(origin, 90, 800-(s-800-arc)), 0, 40)
		}
	}
	for s := 0.0; s <= 1660; s += 5 {
		p.Points = append(p.Points, place(s))
		p.ElevationM = append(p.ElevationM, 500-0.06*s)
	}
	p.LengthM = float64(len(p.Points)-1) * 5
	rec := &routes.Recording{}
	var truth []float64
	for k := 0; float64(k)*8 < p.LengthM; k++ {
		s := float64(k) * 8
		q := stationing.Direct(stationing.Direct(place(s), 90, 8*rng.NormFloat64()), 0, 8*rng.NormFloat64())
		truth = append(truth, s)
		rec.Fixes = append(rec.Fixes, routes.Fix{At: time.Unix(int64(k), 0), LonDeg: q[0], LatDeg: q[1], SpeedMPS: math.NaN(), EngineRPM: math.NaN()})
	}
	r, err := roadOf(p, eastbound(0, p.LengthM))
	if err != nil {
		t.Fatal(err)
	}
	on, off := r.Lay(rec.Fixes)
	if len(off) != 0 || len(on) != len(truth) {
		t.Fatalf("%d laid, %v off", len(on), off)
	}
	for i := range on {
		if math.Abs(on[i].DistanceM-truth[i]) > 45 {
			t.Errorf("point %d lies at %.0f m, put at %.0f m", i, truth[i], on[i].DistanceM)
		}
	}
}

// What a recording is not fit for is refused or told, never guessed.
func TestWhatARecordingCannotTell(t *testing.T) {
	c := debriefClass(t)
	p := straightRoad(4000, func(s float64) float64 { return 800 - 0.06*s })
	at := func(ts float64) (float64, float64) { return 12 * ts, 12 }
	hill := eastbound(600, 3600)
	input := func(rec *routes.Recording) Input {
		return Input{Descent: hill, Profile: p, Class: c, Drive: rec, File: "d.gpx",
			Advice: &catalog.Hold{Class: c.ID, Holds: true, Gear: 6, SpeedMPS: 11, GearByM: 500}}
	}
	good := drive(330, 1, at, true)
	up := drive(330, 1, func(ts float64) (float64, float64) { s, v := at(330 - ts); return s, v }, true)
	wrongUnit := drive(330, 1, func(ts float64) (float64, float64) { s, v := at(ts); return s, v * 1.609 }, true)
	away := drive(330, 1, at, true)
	for i := range away.Fixes {
		away.Fixes[i].LatDeg += 0.01
	}
	short := drive(20, 1, at, true)
	for _, k := range []struct {
		name, says string
		rec        *routes.Recording
	}{{"up", "the opposite direction", up}, {"unit", "1.61 times", wrongUnit}, {"away", "none of its points", away}, {"short", "too little", short}} {
		_, err := FromDrive(input(k.rec))
		var f *catalog.Fault
		if !errors.As(err, &f) || !errors.Is(err, terrain.ErrInput) || !strings.Contains(err.Error(), k.says) || f.Fix == "" {
			t.Errorf("%s: %v", k.name, err)
		}
	}
	d, err := FromDrive(input(good))
	if err != nil {
		t.Fatal(err)
	}
	if d.HasGear || d.HasBrakeSignal || len(d.CannotTell) < 3 || len(d.Gaps) != 0 {
		t.Errorf("%+v", d)
	}
	// A minute without points is a gap; a detour of five points lies off the road.
	cut := *good
	cut.Fixes = append(append([]routes.Fix{}, good.Fixes[:100]...), good.Fixes[160:]...)
	for i := 40; i < 45; i++ {
		cut.Fixes[i].LatDeg += 0.001
	}
	d, err = FromDrive(input(&cut))
	if err != nil {
		t.Fatal(err)
	}
	if len(d.Gaps) != 1 || math.Abs(d.Gaps[0].TimeS-61) > 1e-6 || d.CoveredPct > 80 || len(d.Off) != 1 || d.Off[0].Points != 5 || math.Abs(d.Off[0].OffM-111) > 3 {
		t.Errorf("gaps %+v, off %+v, covered %.0f %%", d.Gaps, d.Off, d.CoveredPct)
	}
	if d.OverS > 330-61 {
		t.Errorf("%.0f s over: a gap counts for nothing", d.OverS)
	}
	// Without speeds of its own the excess of 1 m/s is claimed only beyond the bound.
	d, err = FromDrive(input(drive(330, 1, at, false)))
	if err != nil || d.OverMPS > 1 || d.IsSpeedOwn || d.SpeedWindowS == 0 {
		t.Errorf("%v: over by %.2f m/s, window %.0f s", err, d.OverMPS, d.SpeedWindowS)
	}
	in := input(good)
	in.Pass = 3
	if _, err := FromDrive(in); err == nil || !strings.Contains(err.Error(), "no pass 3") {
		t.Errorf("pass 3: %v", err)
	}
	in.Advice, in.Pass = nil, 0
	if d, err = FromDrive(in); err != nil || d.HasAdvice || len(d.Over) != 0 || !strings.Contains(d.CannotTell[0], "no advice") {
		t.Errorf("without advice: %v %v", err, d.CannotTell)
	}
}

// Engine speed tells the gear; the gear must be in where the advice says.
func TestGearBeforeTheCrest(t *testing.T) {
	c := debriefClass(t)
	p := straightRoad(4000, func(s float64) float64 { return 800 - 0.06*math.Max(0, s-600) })
	v := 11.0
	input := func(shiftAtM float64) Input {
		rec := drive(330, 1, func(ts float64) (float64, float64) { return v * ts, v }, true)
		for i := range rec.Fixes {
			g := 6
			if v*float64(i) < shiftAtM {
				g = 8
			}
			rec.Fixes[i].EngineRPM = c.Truck.RPMFromSpeed(g, v)
		}
		return Input{Descent: eastbound(600, 3600), Profile: p, Class: c, Drive: rec,
			Advice: &catalog.Hold{Class: c.ID, Holds: true, Gear: 6, SpeedMPS: v, GearByM: 500}}
	}
	for _, k := range []struct {
		shiftAtM float64
		want     string
	}{{400, CrestKept}, {550, CrestGearLate}, {900, CrestGearLate}} {
		d, err := FromDrive(input(k.shiftAtM))
		if err != nil {
			t.Fatal(err)
		}
		if d.Crest.Verdict != k.want || !d.HasGear || math.Abs(d.Crest.GearInAtM-(k.shiftAtM-600)) > 12 {
			t.Errorf("shift at %.0f m: %q, in at %.0f m", k.shiftAtM, d.Crest.Verdict, d.Crest.GearInAtM)
		}
	}
}

// Whatever a recorder wrote, the debrief is a typed fault or adds up: what is over
// lies within what is on the hill, at least is no more than at most, places are named.
func TestAnyRecordingAddsUp(t *testing.T) {
	c := debriefClass(t)
	p := straightRoad(4000, func(s float64) float64 { return 800 - 0.06*math.Max(0, s-600) })
	rapid.Check(t, func(t *rapid.T) {
		rec := &routes.Recording{}
		s, at := rapid.Float64Range(-200, 1500).Draw(t, "from"), time.Unix(0, 0).UTC()
		hasSpeed := rapid.Bool().Draw(t, "has speed")
		noise := rapid.Float64Range(0, 30).Draw(t, "noise")
		step := rapid.Float64Range(0.2, 40).Draw(t, "step")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		for range rapid.IntRange(2, 300).Draw(t, "points") {
			v := 12 * (1 + 0.8*rng.NormFloat64())
			dt := step
			if rng.IntN(40) == 0 {
				dt *= 50
			}
			s += v * dt
			at = at.Add(time.Duration(dt * 1e9))
			q := stationing.Direct(stationing.Direct(orb.Point{11, 46}, 90, s+noise*rng.NormFloat64()), 0, noise*rng.NormFloat64())
			f := routes.Fix{At: at, LonDeg: q[0], LatDeg: q[1], SpeedMPS: math.NaN(), EngineRPM: math.NaN()}
			if hasSpeed {
				f.SpeedMPS = math.Abs(v)
			}
			if rng.IntN(3) == 0 {
				f.EngineRPM = 3000 * rng.Float64()
			}
			rec.Fixes = append(rec.Fixes, f)
		}
		d, err := FromDrive(Input{Descent: eastbound(600, 3600), Profile: p, Class: c, Drive: rec, File: "f",
			Advice: &catalog.Hold{Class: c.ID, Holds: true, Gear: 6, SpeedMPS: 11, GearByM: 500}})
		if err != nil {
			var f *catalog.Fault
			if !errors.As(err, &f) || f.Fix == "" {
				t.Fatalf("untyped: %v", err)
			}
			return
		}
		b := d.Brakes
		if d.OverS > d.OnHillS+1e-6 || d.OnHillS > d.To.Sub(d.From).Seconds()+1e-6 || b.AtLeastJ > b.AtMostJ+1e-6 || b.AtLeastJ < 0 ||
			b.Severity.AtLeastC > b.Severity.AtMostC+1e-6 || b.Balance.AtLeastC > b.Balance.AtMostC+1e-6 || !(d.CoveredPct >= 0 && d.CoveredPct <= 100+1e-9) {
			t.Fatalf("%+v", d)
		}
		for i, v := range d.Trace.SpeedMPS {
			if !(v >= 0) || !(d.Trace.SpeedErrMPS[i] > 0) || math.IsNaN(d.Trace.DistanceM[i]) {
				t.Fatalf("point %d: %v ± %v at %v", i, v, d.Trace.SpeedErrMPS[i], d.Trace.DistanceM[i])
			}
		}
	})
}
