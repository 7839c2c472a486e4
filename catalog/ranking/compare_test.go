package ranking

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
)

// level is a profile of even grade, forward, per cent, rising positive.
func evenProfile(gradePct float64) *routes.Profile {
	p := &routes.Profile{StepM: 10, LengthM: 5000, Reliable: true}
	for i := 0; i <= 500; i++ {
		p.ElevationM = append(p.ElevationM, 1000+float64(i)*gradePct/10)
	}
	return p
}

func candidate(route string, gradePct float64, holds ...catalog.Hold) Candidate {
	k := Candidate{Route: route, LengthM: 5000, Profile: evenProfile(gradePct), Reliable: true}
	for i, h := range holds {
		e := catalog.Entry{Descent: routes.Descent{ID: route + "-hill", DropM: 100 * float64(i+1)}}
		if h.Class != "" {
			e.Holds = []catalog.Hold{h}
		}
		k.Entries = append(k.Entries, e)
	}
	return k
}

func TestCompareRecommendsWhatIsHeldAndKnown(t *testing.T) {
	held := catalog.Hold{Class: "x", MassKg: 40000, Holds: true, SpeedMPS: 8, HeaviestMassKg: 60000, TimeS: 300}
	not := catalog.Hold{Class: "x", MassKg: 40000, HeaviestMassKg: 30000, MissingPowerW: 5e4}
	gentler := held
	held.RetarderUsePct, gentler.RetarderUsePct = 60, 40
	unknown := candidate("unknown", -1)
	unknown.MissingM = 200
	class := vehicle.Class{ID: "x", Truck: vehicle.Truck{RollingResistance: 0.006}}
	got := Compare(&class, []Candidate{
		candidate("not held", -8, held, not), candidate("steep", -6, held), unknown,
		candidate("gentle", -2, gentler), candidate("flat", 0), candidate("no advice", -3, catalog.Hold{}),
	}, CompareOptions{})
	want := []string{"flat", "gentle", "steep", "unknown", "no advice", "not held"}
	for i, w := range want {
		if got[i].Route != w || got[i].Place != i+1 || got[i].WhyHere == "" {
			t.Errorf("place %d: %q (%s), want %q", got[i].Place, got[i].Route, got[i].WhyHere, w)
		}
	}
	if v := got[5]; v.Holds || v.NotHeld[0] != "not held-hill" || v.HeaviestMassKg != 30000 || v.Descents != 2 || v.SlowestMPS != 0 {
		t.Errorf("%+v", v)
	}
	// A descent that nothing holds at any mass must not be overwritten by an easier one after it.
	none := not
	none.HeaviestMassKg = 0
	if v := Compare(&class, []Candidate{candidate("x", -8, none, held)}, CompareOptions{})[0]; v.HeaviestMassKg != 0 || v.Holds {
		t.Errorf("%+v", v)
	}
	asked := candidate("asked", -2, held)
	asked.Entries[0].Review.InQuestion = "a newer survey waits"
	if v := Compare(&class, []Candidate{asked}, CompareOptions{})[0]; v.Unknown == "" {
		t.Errorf("a descent in question is taken as known: %+v", v)
	}
	// 5 km at 6 % falls 300 m, of which 0.6 % of 5 km, 30 m, is carried by rolling resistance: computed.
	if x := *got[2].ExcessDropM; x < 269.9 || x > 270.1 {
		t.Errorf("excess drop %v m, want 270", x)
	}
}

// What is not known is never a permission: no ground, an unreliable line and a descent
// without advice leave the answer open, and no descent that is held hides one that isn't.
func TestCompareLeavesOpenWhatIsNotKnown(t *testing.T) {
	held := catalog.Hold{Class: "x", Holds: true, SpeedMPS: 8, HeaviestMassKg: 60000, TimeS: 300}
	not := catalog.Hold{Class: "x", HeaviestMassKg: 30000}
	class := vehicle.Class{ID: "x"}
	void, doubtful, flagged := candidate("void", 0), candidate("doubtful", 0), candidate("flagged", -5, held)
	void.MissingM, doubtful.Reliable = 200, false
	flagged.Entries[0].Descent.Flags = []string{routes.FlagUnreliable}
	for _, k := range []Candidate{void, doubtful, flagged, candidate("no advice", -3, held, catalog.Hold{})} {
		v := Compare(&class, []Candidate{k}, CompareOptions{})[0]
		if v.Held != nil || v.Unknown == "" || v.TimeS != nil {
			t.Errorf("%s: held %v, unknown %q, time %v", k.Route, v.Held, v.Unknown, v.TimeS)
		}
	}
	void = candidate("void and not held", -9, held, not)
	void.MissingM = 200
	if v := Compare(&class, []Candidate{void}, CompareOptions{})[0]; v.Held == nil || *v.Held {
		t.Errorf("a descent that is not held under ground that is missing: held %v", v.Held)
	}
}

// The order of what is held: surfaces excluded, margin in steps of ten points, then the
// preference. Each row differs from the one before it in one key.
func TestCompareOrder(t *testing.T) {
	hold := func(usePct float64, out ...string) catalog.Hold {
		return catalog.Hold{Class: "x", Holds: true, SpeedMPS: 8, RetarderUsePct: usePct, HeaviestMassKg: 60000, TimeS: 300, SurfacesOut: out}
	}
	class := vehicle.Class{ID: "x", SpeedMaxMPS: 25}
	long := candidate("as fast as its twin, longer", -5, hold(55))
	long.LengthM += 1
	slow := candidate("slower", -5, hold(51))
	slow.Limits = []routes.SpeedLimit{{ToM: 5000, SpeedMPS: 5, Forward: true}}
	list := []Candidate{
		candidate("wet out too", -5, hold(20, "ice", "wet")), candidate("ice out", -5, hold(20, "ice")),
		candidate("a step less", -5, hold(60.1)), slow, long, candidate("twin", -5, hold(58)), candidate("most margin", -5, hold(40)),
	}
	want := []string{"most margin", "twin", "as fast as its twin, longer", "slower", "a step less", "ice out", "wet out too"}
	got := Compare(&class, list, CompareOptions{})
	for i := range want {
		if got[i].Route != want[i] {
			t.Errorf("place %d: %q, want %q", i+1, got[i].Route, want[i])
		}
	}
	if got[6].IsDryRoadOnly() != true || got[5].IsDryRoadOnly() {
		t.Error("a dry road only is where wet roads are excluded")
	}
	// 40 % in use leaves six steps, 60.1 % three: counted from 100 down.
	if got[0].MarginPct != 60 || got[4].MarginPct != 30 || got[1].MarginPct != 40 {
		t.Errorf("margins %d, %d, %d", got[0].MarginPct, got[1].MarginPct, got[4].MarginPct)
	}
	if got := Compare(&class, []Candidate{list[3], list[4]}, CompareOptions{Prefer: PreferLength}); got[0].Route != "slower" {
		t.Error("by length the shorter comes first")
	}
}

// Of 11 % at 6 m/s with 4 % of the retarder left and 6 % at 11.6 m/s, the gentler comes
// first whatever is preferred, also where it is longer.
func TestCompareTakesTheGentlerRoad(t *testing.T) {
	class := vehicle.Class{ID: "x"}
	steep := candidate("steep", -11, catalog.Hold{Class: "x", Holds: true, SpeedMPS: 5.8, RetarderUsePct: 96, HeaviestMassKg: 40000})
	gentle := candidate("gentle", -6, catalog.Hold{Class: "x", Holds: true, SpeedMPS: 11.6, RetarderUsePct: 70, HeaviestMassKg: 40000})
	gentle.LengthM = 9000
	for _, p := range []Prefer{PreferTime, PreferLength, PreferMargin} {
		if got := Compare(&class, []Candidate{steep, gentle}, CompareOptions{Prefer: p}); got[0].Route != "gentle" || got[0].Steepest100Pct < 5.99 || got[0].Steepest100Pct > 6.01 {
			t.Errorf("by %s: %q first, steepest %v", p, got[0].Route, got[0].Steepest100Pct)
		}
	}
}

// The same ways get the same answer from a comparison as from a search: the same figures,
// and where surfaces and margin are alike the same order; else the place by the
// preference alone is the search's.
func TestCompareAndTripsAgree(t *testing.T) {
	class := vehicle.Class{ID: "x", MassMaxKg: 36000}
	rapid.Check(t, func(r *rapid.T) {
		prefer := rapid.SampledFrom([]Prefer{PreferTime, PreferLength, PreferMargin}).Draw(r, "prefer")
		var list []Candidate
		var trips []Trip
		for i := range rapid.IntRange(1, 6).Draw(r, "ways") {
			h := catalog.Hold{Class: "x", Holds: true, HeaviestMassKg: 40000, SpeedMPS: float64(rapid.IntRange(3, 20).Draw(r, "speed")), RetarderUsePct: float64(rapid.IntRange(0, 100).Draw(r, "use"))}
			k := candidate(fmt.Sprint("way ", i), -float64(rapid.IntRange(1, 9).Draw(r, "grade")), h)
			k.LengthM = float64(rapid.IntRange(5, 9).Draw(r, "km")) * 1000
			k.Entries[0].Descent.EndM = 1000 * float64(rapid.IntRange(1, 5).Draw(r, "hill"))
			list = append(list, k)
			trips = append(trips, Trip{LengthM: k.LengthM, TimeS: TimeS(k.Profile, k.Limits, k.Entries, &class, class.MassMaxKg), Entries: k.Entries, IsKnown: true})
		}
		got := Compare(&class, list, CompareOptions{Prefer: prefer})
		SortTrips(trips, "x", prefer)
		for _, v := range got {
			at := &trips[v.PlaceByPrefer-1]
			if *v.TimeS != at.TimeS || v.LengthM != at.LengthM || prefer == PreferMargin && v.MarginPct != 10*at.MarginStep("x") {
				r.Fatalf("by %s place %d: %v s over %v m, the search has %v s over %v m", prefer, v.PlaceByPrefer, *v.TimeS, v.LengthM, at.TimeS, at.LengthM)
			}
			if prefer == PreferMargin && v.Place != v.PlaceByPrefer {
				r.Fatalf("by margin place %d, the search's %d", v.Place, v.PlaceByPrefer)
			}
		}
	})
}

// A curve sets the slowest speed only where no descent is as slow for another reason.
func TestCompareNamesWhatSetsTheSlowestSpeed(t *testing.T) {
	hold := func(speedMPS float64, by string) catalog.Hold {
		return catalog.Hold{Class: "x", Holds: true, SpeedMPS: speedMPS, LimitedBy: by, HeaviestMassKg: 60000}
	}
	slow, curve, fast := hold(6, catalog.LimitRetarder), hold(6, catalog.LimitCurve), hold(9, catalog.LimitPosted)
	not := catalog.Hold{Class: "x", HeaviestMassKg: 30000}
	class := vehicle.Class{ID: "x"}
	for _, c := range []struct {
		holds []catalog.Hold
		by    string
		on    int
	}{
		{[]catalog.Hold{fast, curve}, catalog.LimitCurve, 1},
		{[]catalog.Hold{curve, fast}, catalog.LimitCurve, 0},
		{[]catalog.Hold{slow, curve}, catalog.LimitRetarder, 0},
		{[]catalog.Hold{curve, slow}, catalog.LimitRetarder, 1},
		{[]catalog.Hold{curve, not}, "", -1},
		{nil, "", -1},
	} {
		k, on := candidate("r", -6, c.holds...), ""
		for i := range k.Entries {
			k.Entries[i].Descent.ID = []string{"first", "second"}[i]
		}
		if c.on >= 0 {
			on = k.Entries[c.on].Descent.ID
		}
		if v := Compare(&class, []Candidate{k}, CompareOptions{})[0]; v.SlowestBy != c.by || v.SlowestOn != on {
			t.Errorf("%v: set by %q on %q, want %q on %q", c.holds, v.SlowestBy, v.SlowestOn, c.by, on)
		}
	}
}

// The hardest hill of those given is no practice grade though it holds with room to spare.
func TestLadderLeavesTheHardestHillOut(t *testing.T) {
	entry := func(id string, steepest500Pct float64) catalog.Entry {
		return catalog.Entry{Descent: routes.Descent{ID: id, Route: "r", StartM: 1000, EndM: 4000, Steepest500Pct: steepest500Pct},
			Holds: []catalog.Hold{{Class: "x", Holds: true, Gear: 5, SpeedMPS: 8, RetarderUsePct: 40, Sensitivity: []catalog.Sensitivity{{Change: holding.ChangeHalfRetarder, Holds: true}}}}}
	}
	rungs, left := Ladder([]catalog.Entry{entry("b", 7), entry("a", 5)}, "x", nil, LadderOptions{})
	if len(rungs) != 1 || rungs[0].Descent != "a" || rungs[0].Harder != "" || len(left) != 1 || left[0].Where != "b" || left[0].Why != "the hardest of these hills: not for practice" {
		t.Errorf("%+v, left %+v", rungs, left)
	}
	if rungs, left := Ladder([]catalog.Entry{entry("a", 5)}, "x", nil, LadderOptions{}); len(rungs) != 0 || len(left) != 1 {
		t.Errorf("alone: %+v, left %+v", rungs, left)
	}
}

func TestLadderRanksAndLeavesOut(t *testing.T) {
	hold := func(usePct float64, half bool) catalog.Hold {
		return catalog.Hold{Class: "x", Holds: true, Gear: 5, SpeedMPS: 8, TimeS: 600, RetarderUsePct: usePct, SurfacesOut: []string{"wet"},
			Sensitivity: []catalog.Sensitivity{{Change: holding.ChangeHalfRetarder, Holds: half}}}
	}
	entry := func(id string, steepest500Pct float64, h catalog.Hold, flags ...string) catalog.Entry {
		return catalog.Entry{Descent: routes.Descent{ID: id, Route: "r", StartM: 1000, EndM: 4000, LengthM: 3000, Steepest500Pct: steepest500Pct, Flags: flags}, Holds: []catalog.Hold{h}}
	}
	at := 4500.0
	es := []catalog.Entry{
		entry("hard", 7, hold(70, true)), entry("easy", 4.5, hold(40, true)), entry("tight", 6, hold(84, true)),
		entry("no spare", 6, hold(60, false)), entry("unsure", 5, hold(40, true), routes.FlagUnreliable),
		entry("not held", 9, catalog.Hold{Class: "x"}),
	}
	rungs, left := Ladder(es, "x", []catalog.Site{{Kind: catalog.Pullout, Name: "lay-by", Route: "r", StationM: &at}}, LadderOptions{})
	if len(rungs) != 2 || rungs[0].Descent != "easy" || rungs[1].Descent != "hard" {
		t.Fatalf("%+v", rungs)
	}
	if rungs[0].GearName != "5" || len(rungs[0].SurfacesOut) != 1 || rungs[0].SurfacesOut[0] != "wet" {
		t.Errorf("gear %q, surfaces out %v", rungs[0].GearName, rungs[0].SurfacesOut)
	}
	if rungs[0].Harder != "hard" || rungs[1].Easier != "easy" || len(rungs[0].TurnRound) != 1 {
		t.Errorf("%+v", rungs)
	}
	// 4.5 for the steepest, 2 for ten minutes, 2 for two fifths of the retarder, half a point
	// each for no place before the crest, none on the grade and no ramp.
	if rungs[0].DifficultyScore != 10 || len(rungs[0].Parts) != 4 || rungs[0].Parts[3].Words != "no place on record to stop before the crest, on the grade, no escape ramp on record" {
		t.Errorf("score %v, parts %+v", rungs[0].DifficultyScore, rungs[0].Parts)
	}
	// "hard" has 2.5 more for steepness and 1.5 more for the retarder, nothing else.
	if rungs[0].HarderBy != "" || rungs[1].HarderBy != "steeper, nearer to the retarder's limit" {
		t.Errorf("harder by %q and %q", rungs[0].HarderBy, rungs[1].HarderBy)
	}
	if w := rungs[0].Parts[0].WordsIn(catalog.US); w != "4.5 % over its steepest 1,600 ft" {
		t.Errorf("%q", w)
	}
	// The foot is at 4,000 m, the lay-by 500 m past it.
	if p := rungs[0].Places[0]; p.Where != "past the foot" || p.FromEndM != 500 || p.Words(catalog.US) != "pullout lay-by, 0.3 mi past the foot, station 2.80 mi" {
		t.Errorf("%+v: %s", p, p.Words(catalog.US))
	}
	for where, want := range map[string]string{beforeCrest: "800 ft before the crest", onGrade: "on the grade, 800 ft past the crest", atCrest: "at the crest", atFoot: "at the foot, 800 ft past the crest"} {
		p := TurnPlace{Kind: catalog.Pullout, Name: "A", Where: where, PastM: 250}
		if where == beforeCrest {
			p.PastM = -250
		}
		if got := p.Words(catalog.US); got != "pullout A, "+want+", station 0.00 mi" {
			t.Error(got)
		}
	}
	if len(left) != 4 {
		t.Errorf("left out: %+v", left)
	}
	for _, l := range left {
		if l.Why == "" {
			t.Errorf("%s is left out without a reason", l.Where)
		}
	}
}
