package signs

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/routes"
)

// Whatever sites, gears and bends there are: signs are in travel order, a sign that may be
// moved is nowhere nearer to the next than it may be, and one at the place of another
// shares its post.
func TestSignsStandFarEnoughApart(t *testing.T) {
	rs := ruleSet(t, "us-2023")
	rapid.Check(t, func(t *rapid.T) {
		in := passDescent()
		for range rapid.IntRange(0, 6).Draw(t, "sites") {
			kind := rapid.SampledFrom([]catalog.SiteKind{catalog.BrakeCheck, catalog.EscapeRamp, catalog.ChainUp}).Draw(t, "kind")
			in.Sites = append(in.Sites, siteAt(kind, "", rapid.Float64Range(100, 9000).Draw(t, "station"), routes.Forward))
		}
		s, err := Plan(in, rs)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range s.Placements {
			for _, c := range p.Conflicts {
				if c.Kind == ConflictClose {
					t.Fatalf("sign %d (%s) is left %s", p.Number, p.Role, c.Words)
				}
			}
		}
		for i := 1; i < len(s.Placements); i++ {
			p, next := s.Placements[i-1], s.Placements[i]
			gapM := next.StationM - p.StationM
			if gapM < -1e-6 {
				t.Fatalf("signs %d and %d are out of order", p.Number, next.Number)
			}
			if gapM < rs.Spacing.LeastM-1e-6 && p.PostOf == 0 && p.isMovable() {
				t.Fatalf("sign %d (%s) stands %g m before sign %d (%s)", p.Number, p.Role, gapM, next.Number, next.Role)
			}
			if p.PostOf != 0 && math.Abs(s.Placements[p.PostOf-1].StationM-p.StationM) > 1e-6 {
				t.Fatalf("sign %d shares the post of %d and stands elsewhere", p.Number, p.PostOf)
			}
			if off := math.Abs(p.AnchorM-p.StationM) - p.AheadM; math.Abs(off) > 1.01 {
				t.Fatalf("sign %d stands %g m from its anchor and says %g", p.Number, math.Abs(p.AnchorM-p.StationM), p.AheadM)
			}
		}
	})
}

// A hill that begins at the crest is announced before the crest, and before the place
// where the first class must be in its gear.
func TestAHillIsAnnouncedBeforeTheGearMustBeIn(t *testing.T) {
	in := passDescent()
	in.Holds[1].GearByM = 880 // 120 m before the crest, upstream of the table's 225 ft
	s := plan(t, in, "us-2023")
	gear := math.NaN()
	for _, p := range s.Placements {
		if p.Role == RoleGear {
			gear = p.StationM
		}
	}
	for _, p := range s.Placements {
		if p.Role != RoleAdvance {
			continue
		}
		if !(p.StationM <= gear) || !strings.Contains(p.Why, "before the crest") {
			t.Errorf("announced at %g m, the gear's sign stands at %g m: %s", p.StationM, gear, p.Why)
		}
		return
	}
	t.Error("no advance sign")
}

// The steepest part has a sign only where it is two points over the mean, before either
// is rounded, and the hill's own sign does not show it already.
func TestTheSteepestPartIsSaidOnce(t *testing.T) {
	has := func(choice string, steepPct float64) bool {
		p := road(0.1, leg{500, 0, 0}, leg{2000, 5.5, 0}, leg{600, steepPct, 0}, leg{2000, 5.5, 0}, leg{500, 0, 0})
		in := Input{Descent: descent(p, 500, 5100), Profile: p, ApproachSpeedMPS: 25, Choices: map[string]string{"figure": choice}}
		for _, q := range plan(t, in, "us-2023").Placements {
			if q.Role == RoleSteepest {
				return true
			}
		}
		return false
	}
	// The mean is 5.5 + 600/4,600 of what is more: 7.8 % is 2.0 over 5.8, 7.75 % is 1.96 over it.
	for _, c := range []struct {
		choice   string
		steepPct float64
		want     bool
	}{{"steepest-500", 9, false}, {"mean", 9, true}, {"mean", 7.82, true}, {"mean", 7.75, false}} {
		if got := has(c.choice, c.steepPct); got != c.want {
			t.Errorf("%s, %g %%: %t", c.choice, c.steepPct, got)
		}
	}
}

// Where the crest's place is not sure, the hill is announced before the earliest that it
// may have, and the end sign stands at the latest foot.
func TestOuterEndsAreTaken(t *testing.T) {
	stands := func(id, role string, outer bool) float64 {
		in := passDescent()
		if id == "haul-road" {
			in = quarryDescent()
		}
		if outer {
			in.Descent.StartOuterM, in.Descent.EndOuterM = in.Descent.StationFromTravelM(-300), in.Descent.StationFromTravelM(in.Descent.LengthM+150)
		}
		for _, p := range plan(t, in, id).Placements {
			if p.Role == role {
				return in.Descent.TravelFromStationM(p.StationM)
			}
		}
		t.Fatalf("%s has no sign of role %s", id, role)
		return 0
	}
	if in, out := stands("us-2023", RoleAdvance, false), stands("us-2023", RoleAdvance, true); !(out <= -300-60) || !(out < in) {
		t.Errorf("announced at %g m, with the crest up to 300 m earlier at %g m", in, out)
	}
	if in, out := stands("haul-road", RoleEnd, false), stands("haul-road", RoleEnd, true); math.Abs(out-in-150) > 0.1 {
		t.Errorf("the end's sign at %g m, with the foot up to 150 m later at %g m", in, out)
	}
}

// Two sites nearer than signs may stand share a post; a repeat beside another sign that
// shows as much is dropped with its reason; no post carries more than two signs.
func TestSignsTooCloseAreCombinedOrDropped(t *testing.T) {
	in := passDescent()
	in.Sites = append(in.Sites, siteAt(catalog.BrakeCheck, "One", 3000, routes.Forward), siteAt(catalog.ChainUp, "Two", 3020, routes.Forward),
		siteAt(catalog.ChainUp, "Two again", 3021, routes.Forward), siteAt(catalog.ChainUp, "The same", 3020, routes.Forward))
	s := plan(t, in, "us-2023")
	carries := map[float64]int{}
	var check, chain *Placement
	for i := range s.Placements {
		p := &s.Placements[i]
		carries[math.Round(p.StationM)]++
		if p.Role == RoleCheck && p.AnchorM == 3000 {
			check = p
		}
		if p.Role == RoleChain {
			chain = p
		}
	}
	if chains := len(s.Dropped); chains < 4 { // two areas more, with a sign ahead and one at each
		t.Errorf("%d dropped", chains)
	}
	for at, n := range carries {
		if n > mostOnPost {
			t.Errorf("%d signs at station %g m", n, at)
		}
	}
	if check == nil || chain == nil || check.StationM != 3000 || chain.StationM != 3000 || check.PostOf != chain.Number || !strings.Contains(chain.Why, "shares the post") {
		t.Errorf("%+v, %+v", check, chain)
	}
	if len(s.Dropped) == 0 || s.Dropped[0].Designation != "D5-16" && s.Dropped[0].Designation != "D5-15" || !strings.Contains(strings.Join(s.Notes, " "), "is left out") {
		t.Errorf("dropped: %+v", s.Dropped)
	}
}
