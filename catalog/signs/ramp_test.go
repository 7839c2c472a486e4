package signs

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/terrain"
)

// L = V²/(30(R ± G)), AASHTO Green Book, from memory: 80 mph into R 0.25, level,
// 853 ft; 90 mph into R 0.10 rising 10 %, 1,350 ft. Entry at 80 to 90 mph is
// published (Wyoming DOT sheet).
func TestRampLengths(t *testing.T) {
	for _, c := range []struct{ mph, r, g, ft float64 }{{80, 0.25, 0, 853}, {90, 0.10, 10, 1350}} {
		got, err := RampLengthFt(c.mph, c.r, c.g)
		if err != nil || math.Round(got) != c.ft {
			t.Errorf("%+v: %g, %v", c, got, err)
		}
		m, err := RampLengthM(c.mph*mph, c.r, c.g)
		if err != nil || math.Abs(m/catalog.FootM-got) > 1e-6 {
			t.Errorf("%+v in metres: %g, %v", c, m, err)
		}
	}
}

func TestRampThatStopsNothing(t *testing.T) {
	for _, g := range []float64{-10, -12, -50} {
		if _, err := RampLengthFt(80, 0.10, g); !errors.Is(err, catalog.ErrImpossible) {
			t.Errorf("R 0.10 at %g %%: %v", g, err)
		}
	}
	if l, err := RampLengthFt(80, 0.10, -9.9); err != nil || l < 1e5 {
		t.Errorf("R 0.10 at -9.9 %%: %g, %v", l, err)
	}
	for _, c := range [][3]float64{{0, 0.25, 0}, {-5, 0.25, 0}, {math.NaN(), 0.25, 0}, {80, 0, 0}, {80, math.NaN(), 0}, {80, 0.25, math.NaN()}, {80, 0.25, 51}, {math.Inf(1), 0.25, 0}} {
		if _, err := RampLengthFt(c[0], c[1], c[2]); !errors.Is(err, terrain.ErrInput) {
			t.Errorf("%v: %v", c, err)
		}
	}
}

// Rolling resistance of ramp beds, AASHTO Green Book, from memory.
func TestBeds(t *testing.T) {
	want := map[string]float64{"asphalt": .012, "compacted gravel": .015, "loose crushed aggregate": .050, "loose gravel": .100, "sand": .150, "pea gravel": .250}
	for name, r := range want {
		b, err := BedByName(name)
		if err != nil || b.Resistance != r || b.Source.Status != StatusMemory {
			t.Errorf("%s: %+v, %v", name, b, err)
		}
	}
	if _, err := BedByName("snow"); !errors.Is(err, catalog.ErrNotFound) || len(Beds()) != len(want) {
		t.Errorf("%v", err)
	}
}

func TestRateRamp(t *testing.T) {
	need, _ := RampLengthM(80*mph, 0.25, 5)
	long := Ramp{Name: "Ramp 1", Beds: []RampBed{{"pea gravel", need + 1, 5}}}
	r, err := RateRamp(long, 80*mph)
	if err != nil || !r.Stops || math.Abs(r.UsedM-need) > 1e-6 {
		t.Errorf("%+v, %v", r, err)
	}
	short := Ramp{Name: "Ramp 1", Beds: []RampBed{{"pea gravel", need - 20, 5}}}
	r, err = RateRamp(short, 80*mph)
	if err != nil || r.Stops || math.Abs(r.ShortByM-20) > 1e-6 || !(r.EndMPS > 0) {
		t.Errorf("%+v, %v", r, err)
	}
	// A falling paved lead-in speeds it up before the gravel: it needs more.
	lead := Ramp{Name: "Ramp 2", Beds: []RampBed{{"asphalt", 100, -6}, {"pea gravel", need + 1, 5}}}
	if r, err = RateRamp(lead, 80*mph); err != nil || r.Stops {
		t.Errorf("%+v, %v", r, err)
	}
	for _, bad := range []Ramp{{Name: "none"}, {Beds: []RampBed{{"pea gravel", -1, 0}}}, {Beds: []RampBed{{"pea gravel", 100, math.NaN()}}}, {Beds: []RampBed{{"cheese", 100, 0}}}} {
		if _, err := RateRamp(bad, 80*mph); err == nil {
			t.Errorf("%+v was rated", bad)
		}
	}
}

// A ramp stops exactly what it says is its highest entry, and one split in two
// rates as one whole.
func TestRateRampProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := rapid.Float64Range(20, 800).Draw(t, "length")
		g := rapid.Float64Range(-4, 12).Draw(t, "grade")
		cut := rapid.Float64Range(0.1, 0.9).Draw(t, "cut") * l
		v := rapid.Float64Range(5, 45).Draw(t, "speed")
		one, err := RateRamp(Ramp{Beds: []RampBed{{"sand", l, g}}}, v)
		two, err2 := RateRamp(Ramp{Beds: []RampBed{{"sand", cut, g}, {"sand", l - cut, g}}}, v)
		if err != nil || err2 != nil || one.Stops != two.Stops || math.Abs(one.UsedM-two.UsedM) > 1e-6 || math.Abs(one.EndMPS-two.EndMPS) > 1e-6 {
			t.Fatalf("%+v, %+v, %v, %v", one, two, err, err2)
		}
		for f, stops := range map[float64]bool{0.999: true, 1.001: false} {
			r, err := RateRamp(Ramp{Beds: []RampBed{{"sand", l, g}}}, one.HighestEntryMPS*f)
			if err != nil || r.Stops != stops {
				t.Fatalf("%g of the highest entry: %+v, %v", f, r, err)
			}
		}
	})
}

// Without drag and rolling resistance the runaway keeps its energy:
// v² = v₀² + 2·g·drop. Computed.
func TestRunawayKeepsEnergy(t *testing.T) {
	in := passDescent()
	in.Profile.Bound.FloorPct, in.Profile.Bound.SpanPct = 0, []float64{0, 0}
	run, err := Runaway(RunawayInput{Descent: in.Descent, Profile: in.Profile, FromMPS: 10, MassKg: 1e15, RollingResistance: 1e-15, DragAreaM2: 1e-9})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range run {
		drop := in.Profile.ElevationAtM(in.Descent.StartM) - in.Profile.ElevationAtM(s.StationM)
		if want := math.Sqrt(100 + 2*9.80665*drop); math.Abs(s.FreeMPS-want) > 1e-3 {
			t.Fatalf("station %g: %g m/s, want %g", s.StationM, s.FreeMPS, want)
		}
		if s.FadedMPS > s.FreeMPS {
			t.Fatalf("station %g: faded service brakes made it faster", s.StationM)
		}
	}
}

// On an endless grade the free runaway nears the speed at which drag balances
// it: v² = 2·m·g·(G − Crr)/(ρ·CdA). Computed, air at the crest's 1,500 m.
func TestRunawayTerminalSpeed(t *testing.T) {
	p := road(0, leg{60000, 2, 0})
	d := descent(p, 0, 60000)
	run, err := Runaway(RunawayInput{Descent: d, Profile: p, FromMPS: 20})
	if err != nil {
		t.Fatal(err)
	}
	rho := 1.225 * math.Pow(1-2.25577e-5*1500, 4.25588)
	want := math.Sqrt(2 * DefaultRunawayMassKg * 9.80665 * (0.02 - DefaultRunawayResistance) / (rho * DefaultRunawayDragM2))
	if got := run[len(run)-1].FreeMPS; math.Abs(got-want) > 0.02 {
		t.Errorf("%g m/s, want %g", got, want)
	}
}

// Heavier is never slower, steeper is never slower.
func TestRunawayOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := rapid.Float64Range(1, 11).Draw(t, "grade")
		m := rapid.Float64Range(10000, 60000).Draw(t, "mass")
		last := func(g, m float64) float64 {
			p := road(0.3, leg{2000, g, 0})
			run, err := Runaway(RunawayInput{Descent: descent(p, 0, 2000), Profile: p, FromMPS: 15, MassKg: m})
			if err != nil {
				t.Fatal(err)
			}
			return run[len(run)-1].FreeMPS
		}
		base := last(g, m)
		if last(g+1, m) < base || last(g, m*1.2) < base-1e-9 {
			t.Fatalf("grade %g, mass %g: order broken", g, m)
		}
	})
}

func TestRampCandidates(t *testing.T) {
	in := passDescent()
	ri := RunawayInput{Descent: in.Descent, Profile: in.Profile, FromMPS: 35 * mph}
	run, err := Runaway(ri)
	if err != nil {
		t.Fatal(err)
	}
	found := RampCandidates(ri, run, 0)
	if len(found) < 2 {
		t.Fatalf("%d candidates", len(found))
	}
	for i, c := range found {
		if onStructure(in.Profile, c.StationM) || c.FadedMPS > c.FreeMPS || len(c.Lengths) != 15 {
			t.Errorf("%+v", c)
		}
		if i > 0 && c.StationM <= found[i-1].StationM {
			t.Errorf("candidates %d and %d are out of order", i-1, i)
		}
		for _, l := range c.Lengths {
			bed, _ := BedByName(l.Material)
			if want, err := RampLengthM(c.FreeMPS, bed.Resistance, l.GradePct); err != nil || math.Abs(want-l.LengthM) > 1e-9*want {
				t.Errorf("%+v: %g, %v", l, want, err)
			}
		}
		t.Logf("station %.0f m: %s; entry %s, faded %s", c.StationM, c.Why, bothSpeeds(c.FreeMPS), bothSpeeds(c.FadedMPS))
	}
	early := 0.0
	if _, err := Runaway(RunawayInput{Descent: in.Descent, Profile: in.Profile, FromM: &early, FromMPS: 10}); !errors.Is(err, terrain.ErrInput) {
		t.Errorf("a start before the crest: %v", err)
	}
}

// A ramp is rated for at most 90 mph, the most that ramps are laid out for (Wyoming DOT
// sheet, published); where the run-down is faster, whether it stops that is said too.
// 900 ft of pea gravel at 5 % stop 90 mph: 8,100/(30 · 0.30).
func TestRampsAreRatedForSpeedsThatOccur(t *testing.T) {
	ramp := func(lengthFt, gradePct float64, bed string) Ramp {
		return Ramp{Beds: []RampBed{{bed, lengthFt * catalog.FootM, gradePct}}}
	}
	r, err := RateRampOnRun(ramp(901, 5, "pea gravel"), 150*mph)
	if err != nil || !r.Stops || r.RunDownStops || math.Abs(r.EntryMPS-90*mph) > 1e-9 || math.Abs(r.RunsDownMPS-150*mph) > 1e-9 || r.Kind != "ascending, arrester bed" {
		t.Errorf("%+v, %v", r, err)
	}
	if r, err = RateRampOnRun(ramp(899, 5, "pea gravel"), 91*mph); err != nil || r.Stops || r.RunDownStops {
		t.Errorf("%+v, %v", r, err)
	}
	if r, err = RateRampOnRun(ramp(901, 0, "pea gravel"), 70*mph); err != nil || r.EntryMPS != 70*mph || r.RunsDownMPS != 0 || r.Kind != "level, arrester bed" {
		t.Errorf("%+v, %v", r, err)
	}
	if r, err = RateRampOnRun(ramp(3000, -5, "loose gravel"), 100*mph); err != nil || r.Kind != "descending, arrester bed" {
		t.Errorf("%+v, %v", r, err)
	}
	if r, err = RateRampOnRun(ramp(5000, 20, "asphalt"), 100*mph); err != nil || !r.Stops || !r.RunDownStops || r.Kind != "ascending, no arrester bed" {
		t.Errorf("%+v, %v", r, err)
	}
	_, rows := RatingTable([]Rating{r}, catalog.US)
	if got := strings.Join(rows[0], "|"); !strings.Contains(got, "90 mph (runs down at 100 mph)") || !strings.Contains(got, "yes (yes)") {
		t.Error(got)
	}
	if _, err = RateRampOnRun(ramp(100, 5, "custard"), 150*mph); err == nil {
		t.Error("custard stops it")
	}
}
