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

// The steepest part has a sign only where it is two points over the mean and the hill's own
// sign does not show it already.
func TestTheSteepestPartIsSaidOnce(t *testing.T) {
	has := func(choice string) bool {
		in := passDescent()
		in.Choices = map[string]string{"figure": choice}
		for _, p := range plan(t, in, "us-2023").Placements {
			if p.Role == RoleSteepest {
				return true
			}
		}
		return false
	}
	if has("steepest-500") || !has("mean") {
		t.Errorf("with the steepest 500 m on the hill's sign: %v; with the mean: %v", has("steepest-500"), has("mean"))
	}
}
