package survey_test

import (
	"math"
	"testing"

	"gradeline/catalog/survey"
	"gradeline/routes"
)

// The mine road from Briceville up Cross Mountain, Tennessee. Its heights and miles
// are published by T. Dunigan, East Tennessee mountain bike rides, "Indian Bluff"
// (tnlandforms.us, ind.html): Briceville 900', junction at the coal seam 2160' and
// 3.1 miles up, Grassy Gap 3000' at mile 4.4 of a ride that has the junction at mile
// 2.8, the towers 3540' at the end of "the 3.1 mile climb". His heights look read
// from the 20 ft contours of the 7.5' quadrangles, so half of one is their error
// (from memory: the map standard), and his miles from a cycle computer.
//
// The lines are typed over the raster by his description, before they were surveyed
// and not changed afterwards: Slatestone Road's junction as Travel Mapping lists it,
// the hollow's bottom to its head, the flat shoulder of the spur (36.1794 N, 84.2157 W;
// the junction, told by its shape and its height), up the spur and across the face to
// the lowest point of the crest south of the summit (36.1854 N, 84.2295 W; the gap, told
// by its shape), the crest, round the west side, and the summit's published position.
// Good to 150 m at best; what switchbacks the road has between the named places is not
// known and not drawn.
const (
	ftM   = 0.3048
	mileM = 1609.344
)

// rise is a stretch with a published climb and a published length.
type rise struct{ climbM, lengthM float64 }

func (r rise) meanPct() float64 { return 100 * r.climbM / r.lengthM }

// climbOf is what a profile climbs from end to end.
func climbOf(p *routes.Profile) rise {
	return rise{p.ElevationAtM(p.LengthM) - p.ElevationAtM(0), p.LengthM}
}

var (
	crossMtnRoad = rise{(3540 - 900) * ftM, (3.1 + 3.1) * mileM}
	crossMtnTop  = rise{(3540 - 3000) * ftM, (2.8 + 3.1 - 4.4) * mileM}
)

// From Briceville to the towers 804.7 m up are published; both ends are places with a
// position of their own, so the climb does not hang on how the line was drawn: ours
// is 805.0 m. The line goes straight up where the road winds, and has to be called
// what it is: no road. None of its descents may go without that warning.
func TestRealDropCrossMountainRoad(t *testing.T) {
	s := tennessee(t)
	for name, c := range map[string]struct {
		at   [2]float64
		want float64
	}{"Briceville": {[2]float64{36.177649, -84.183075}, 900 * ftM}, "Grassy Gap": {[2]float64{36.1854, -84.2295}, 3000 * ftM}, "towers": {crossMtn, 3540 * ftM}} {
		got := heightM(t, s, c.at[0], c.at[1])
		t.Logf("%s: published %.0f m, terrain %.1f m", name, c.want, got)
		if math.Abs(got-c.want) > 8+10*ftM { // the bound of TestRealPlacesTennessee and half a contour
			t.Errorf("%s: %.1f m, published %.0f m", name, got, c.want)
		}
	}
	res := surveyReal(t, s, realLines(t, "tennessee.geojson"), "cross-mountain-road", survey.Options{})
	p, ours := res.Profile, climbOf(res.Profile)
	t.Logf("published %.1f m, ours %.1f m; %s", crossMtnRoad.climbM, ours.climbM, p.Unreliable)
	if math.Abs(ours.climbM-crossMtnRoad.climbM) > 0.02*crossMtnRoad.climbM {
		t.Errorf("climb %.1f m, published %.1f m", ours.climbM, crossMtnRoad.climbM)
	}
	if p.Reliable {
		t.Error("a line that goes straight up the mountain is called reliable")
	}
	for _, e := range res.Entries {
		if !e.Descent.HasFlag(routes.FlagUnreliable) {
			t.Errorf("descent %.0f to %.0f m, %.1f %%, without a warning", e.Descent.StartM, e.Descent.EndM, e.Descent.MeanDowngradePct)
		}
	}
}

// 9.98 km are published for that climb, 8.06 %; the typed line has 7.04 km, since it
// lacks the switchbacks, so its mean is 11.43 %: 3.4 points too steep. That is the
// line's doing, on the safe side, and kept with its figure.
func TestKnownMissRealCrossMountainRoadIsTypedTooShort(t *testing.T) {
	ours := climbOf(surveyReal(t, tennessee(t), realLines(t, "tennessee.geojson"), "cross-mountain-road", survey.Options{}).Profile)
	miss := ours.meanPct() - crossMtnRoad.meanPct()
	t.Logf("published %.2f km, %.2f %%; ours %.2f km, %.2f %%", crossMtnRoad.lengthM/1000, crossMtnRoad.meanPct(), ours.lengthM/1000, ours.meanPct())
	if miss < 0.7 || miss > 3.5 {
		t.Errorf("mean %.2f points from the published: no longer the known miss of 3.4", miss)
	}
}

// Above the gap the road is drawn nearly as long as it is: 2.17 km of 2.41, and its
// mean is 7.00 % where 6.82 % are published.
func TestRealMeanGrassyGap(t *testing.T) {
	res := surveyReal(t, tennessee(t), realLines(t, "tennessee.geojson"), "cross-mountain-top", survey.Options{})
	ours := climbOf(res.Profile)
	t.Logf("published %.1f m over %.2f km, %.2f %%; ours %.1f m over %.2f km, %.2f ± %.2f %%", crossMtnTop.climbM, crossMtnTop.lengthM/1000, crossMtnTop.meanPct(), ours.climbM, ours.lengthM/1000, ours.meanPct(), res.Profile.Bound.MeanErrPct(ours.lengthM, 0))
	if math.Abs(ours.meanPct()-crossMtnTop.meanPct()) > 0.3 {
		t.Errorf("mean %.2f %%, published %.2f %%", ours.meanPct(), crossMtnTop.meanPct())
	}
	if ours.lengthM > crossMtnTop.lengthM || ours.lengthM < 0.85*crossMtnTop.lengthM {
		t.Errorf("length %.0f m, published %.0f m", ours.lengthM, crossMtnTop.lengthM)
	}
	// the one descent is found the right way round, as severe
	if len(res.Entries) != 1 || res.Entries[0].Descent.Direction != routes.Backward || res.Entries[0].Descent.MeanDowngradePct < 6 {
		t.Errorf("%d descents, want the one down to the gap", len(res.Entries))
	}
}

// The climb above the gap is 164.6 m as published and 152.0 m of ours, 7.7 % less,
// beyond the 5 % that is asked for. The heights have it: a cell of 83 m fills the
// narrow gap up (919.6 m for 914.4) and cuts the summit down (1,074.3 m for 1,079.0;
// other published heights of it are 1,077 m, GNIS, and 1,075.3 m, from a 10 m
// model: C. Sutherland, Tennessee county high points, 2017). It lies within the
// stated bound of the heights at both ends.
func TestKnownMissRealDropGrassyGapIsFilled(t *testing.T) {
	p := surveyReal(t, tennessee(t), realLines(t, "tennessee.geojson"), "cross-mountain-top", survey.Options{}).Profile
	missM := crossMtnTop.climbM - climbOf(p).climbM
	t.Logf("published %.1f m, ours %.1f m, bound of a height %.1f m", crossMtnTop.climbM, climbOf(p).climbM, p.Bound.ElevationM)
	if missM < 0.05*crossMtnTop.climbM || missM > 0.08*crossMtnTop.climbM {
		t.Errorf("%.1f m short: no longer the known miss of 7.7 %%", missM)
	}
	if missM > math.Sqrt2*p.Bound.ElevationM {
		t.Errorf("%.1f m short, beyond the bound of both heights, %.1f m each", missM, p.Bound.ElevationM)
	}
}
