package ranking

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/routes"
)

// practiceEntry is a hill of 3 km that a class "x" holds, half its retarder gone too.
func practiceEntry(id string, steepest500Pct, usePct float64) catalog.Entry {
	return catalog.Entry{Descent: routes.Descent{ID: id, Route: "r", StartM: 1000, EndM: 4000, LengthM: 3000, Steepest500Pct: steepest500Pct},
		Holds: []catalog.Hold{{Class: "x", Holds: true, Gear: 7, GearName: "7", SpeedMPS: 12, RetarderUsePct: usePct,
			Sensitivity: []catalog.Sensitivity{{Change: holding.ChangeHalfRetarder, Holds: true}}}}}
}

// A lower gear is tried before a hill is left out, and the rung says what the page says.
func TestLadderTriesALowerGear(t *testing.T) {
	es := []catalog.Entry{practiceEntry("easy", 5, 40), practiceEntry("classic", 6, 81), practiceEntry("hard", 8, 90)}
	slower := map[string]catalog.Hold{
		"classic": {Class: "x", Holds: true, Gear: 6, GearName: "6", SpeedMPS: 9, RetarderUsePct: 67},
		"hard":    {Class: "x", Holds: true, Gear: 5, GearName: "5", SpeedMPS: 6, RetarderUsePct: 82}, // still too little
	}
	rungs, left := Ladder(es, "x", nil, LadderOptions{Slower: slower})
	if len(rungs) != 2 || len(left) != 1 || left[0].Where != "hard" || !strings.Contains(left[0].Why, "90 %") || !strings.Contains(left[0].Why, "no lower gear leaves enough") {
		t.Fatalf("%+v, left %+v", rungs, left)
	}
	if r := rungs[1]; r.Descent != "classic" || r.GearName != "6" || r.SpeedMPS != 9 || r.MarginPct != 33 || r.PageGearName != "7" || r.PageSpeedMPS != 12 {
		t.Errorf("%+v", r)
	}
	if r := rungs[0]; r.GearName != "7" || r.PageGearName != "" || r.PageSpeedMPS != 0 {
		t.Errorf("the easy one has its own hold: %+v", r)
	}
	// A hold that is no slower is none to fall back on.
	slower["classic"] = catalog.Hold{Class: "x", Holds: true, Gear: 7, SpeedMPS: 12, RetarderUsePct: 67}
	if rungs, _ := Ladder(es, "x", nil, LadderOptions{Slower: slower}); len(rungs) != 1 {
		t.Errorf("%+v", rungs)
	}
}

// A hill left out for another reason than being too hard is no competitor of the hardest.
func TestLadderLeavesTheHardestOutBesideARetiredHill(t *testing.T) {
	retired, unsure := practiceEntry("retired", 4, 30), practiceEntry("asked", 4, 30)
	retired.Review.State, unsure.Review.InQuestion = catalog.Retired, "a survey moved it"
	rungs, left := Ladder([]catalog.Entry{practiceEntry("a", 5, 40), practiceEntry("b", 7, 60), retired, unsure}, "x", nil, LadderOptions{})
	if len(rungs) != 1 || rungs[0].Descent != "a" || rungs[0].Harder != "" || len(left) != 3 {
		t.Errorf("%+v, left %+v", rungs, left)
	}
	if i := slices.IndexFunc(left, func(s routes.Skipped) bool { return s.Where == "asked" }); i < 0 || left[i].Why != "in question: a survey moved it" {
		t.Errorf("left %+v", left)
	}
}

// A hill that is left out as too hard, but has fewer points than the hardest one, is no competitor
// of it either; one that the truck does not hold is.
func TestLadderLeavesTheHardestOutBesideAnEasierOne(t *testing.T) {
	full := practiceEntry("full", 4, 90) // 4 for its steepness, 4.5 for the use
	rungs, left := Ladder([]catalog.Entry{practiceEntry("a", 5, 40), practiceEntry("b", 9, 60), full}, "x", nil, LadderOptions{})
	if len(rungs) != 1 || rungs[0].Descent != "a" || len(left) != 2 {
		t.Errorf("%+v, left %+v", rungs, left)
	}
	full.Holds[0].Holds = false
	if rungs, _ := Ladder([]catalog.Entry{practiceEntry("a", 5, 40), practiceEntry("b", 9, 60), full}, "x", nil, LadderOptions{}); len(rungs) != 2 {
		t.Errorf("beside a hill that is not held: %+v", rungs)
	}
}

func TestLadderCountsTrafficAndPlaces(t *testing.T) {
	station := func(m float64) *float64 { return &m }
	site := func(kind catalog.SiteKind, m float64, direction string) catalog.Site {
		return catalog.Site{Kind: kind, Name: "n", Route: "r", StationM: station(m), Direction: direction}
	}
	es := []catalog.Entry{practiceEntry("a", 5, 40), practiceEntry("not held", 9, 40)}
	es[1].Holds[0].Holds = false
	score := func(sites []catalog.Site, perDay float64) float64 {
		rungs, _ := Ladder(es, "x", sites, LadderOptions{TrafficPerDay: map[string]float64{"a": perDay}})
		return rungs[0].DifficultyScore
	}
	bare := score(nil, 0) // 5 for steepness, 2 for two fifths of the retarder
	if bare != 7 {
		t.Fatalf("score %v", bare)
	}
	for _, c := range []struct{ perDay, points float64 }{{4999, 1}, {7500, 1.5}, {15000, 3}, {60000, 3}} {
		if got := score(nil, c.perDay) - bare; got != c.points {
			t.Errorf("%v vehicles a day: %v points, want %v", c.perDay, got, c.points)
		}
	}
	all := []catalog.Site{site(catalog.BrakeCheck, 500, ""), site(catalog.Pullout, 2500, ""), site(catalog.Pullout, 4500, "forward"), site(catalog.EscapeRamp, 3500, "")}
	if got := score(all, 0); got != bare {
		t.Errorf("with every place on record: %v, want %v", got, bare)
	}
	for i := range all {
		if got := score(slices.Delete(slices.Clone(all), i, i+1), 0); got != bare+0.5 {
			t.Errorf("without %s at %v: %v, want %v", all[i].Kind, *all[i].StationM, got, bare+0.5)
		}
	}
	// A place on the other side of the road, or a ramp before the crest, is of no use.
	for i, m := range []placeCase{{catalog.Pullout, 4500, "backward"}, {catalog.EscapeRamp, 900, ""}} {
		sites := slices.Clone(all)
		sites[2+i] = site(m.kind, m.atM, m.direction)
		if got := score(sites, 0); got != bare+0.5 {
			t.Errorf("%+v counts: %v", m, got)
		}
	}
}

type placeCase struct {
	kind      catalog.SiteKind
	atM       float64
	direction string
}

// Days take all grades once, in order, each day at least one, and begin with the last one
// of the day before.
func TestPracticeDaysTakeEachGradeOnce(t *testing.T) {
	for n := range 12 {
		ladder := make([]Rung, n)
		for i := range ladder {
			ladder[i] = Rung{Descent: fmt.Sprint(i), DifficultyScore: float64(5 + i*i)}
		}
		for days := range 8 {
			plan := PracticeDays(ladder, days)
			if len(plan) != min(days, n) {
				t.Fatalf("%d grades over %d days: %d", n, days, len(plan))
			}
			next := 0
			for i, day := range plan {
				if day.Day != i+1 || len(day.Rungs) == 0 || (day.Repeat == "") != (i == 0) || i > 0 && day.Repeat != fmt.Sprint(next-1) {
					t.Fatalf("%d grades over %d days: %+v", n, days, plan)
				}
				for _, id := range day.Rungs {
					if id != fmt.Sprint(next) {
						t.Fatalf("%d grades over %d days: %+v", n, days, plan)
					}
					next++
				}
			}
			if days > 0 && next != n {
				t.Fatalf("%d grades over %d days: %d taken", n, days, next)
			}
		}
	}
	// Equal grades are shared out evenly.
	even := PracticeDays(make9(5), 3)
	if len(even[0].Rungs) != 3 || len(even[1].Rungs) != 3 || len(even[2].Rungs) != 3 {
		t.Errorf("%+v", even)
	}
}

func make9(score float64) []Rung {
	out := make([]Rung, 9)
	for i := range out {
		out[i] = Rung{Descent: fmt.Sprint(i), DifficultyScore: score}
	}
	return out
}
