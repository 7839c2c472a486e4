package resurvey

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

// Two places to both sides of the 180th meridian are as far apart as they are: .002° of the
// equator, 222.64 m.
func TestPlacesAcrossTheDateLine(t *testing.T) {
	if got := apartM(179.999, 0, -179.999, 0); math.Abs(got-222.64) > 1e-3 {
		t.Errorf("%.3f m", got)
	}
	if got := apartM(10, 60, 10.01, 60.01); math.Abs(got-math.Hypot(556.6, 1105.74)) > 1e-3 {
		t.Errorf("%.3f m", got)
	}
}

// A hill that only another catalogue knows is added in question, without one where it was
// asked for, and not at all where ours is to be kept.
func TestAHillThatOnlyTheyKnow(t *testing.T) {
	for _, c := range []struct {
		name               string
		choices            MergeChoices
		isAdded, isDoubted bool
	}{
		{"nobody chose", MergeChoices{}, true, true}, {"theirs for all", MergeChoices{TakeTheirs: true}, true, false},
		{"theirs for this", MergeChoices{TakeTheirsFor: []string{"d"}}, true, false}, {"ours for this", MergeChoices{KeepOursFor: []string{"d"}}, false, false},
	} {
		e := hillAt(1000)
		e.Descent.ID = "d"
		conflict, isAdded := MergeOnlyTheirs(&e, &c.choices)
		if isAdded != c.isAdded || (e.Review.InQuestion != "") != c.isDoubted || conflict == (Conflict{}) {
			t.Errorf("%s: added %t, in question %q, %+v", c.name, isAdded, e.Review.InQuestion, conflict)
		}
	}
}

// A site of another catalogue is ours where kind, place and road are the same; of several the
// first by id.
func TestOurSiteUnderAnotherID(t *testing.T) {
	place := terrain.Point{LonDeg: 8, LatDeg: 46}
	ours := map[string]*catalog.Site{
		"c": {Kind: "brake-check", Route: "r", Point: place}, "b": {Kind: "brake-check", Route: "r", Point: place}, "a": {Kind: "brake-check", Route: "other", Point: place},
		"0": {Kind: "ramp", Route: "r", Point: place}, "1": {Kind: "brake-check", Route: "r"},
	}
	if got := FindSite(ours, &catalog.Site{Kind: "brake-check", Route: "r", Point: place}); got != "b" {
		t.Errorf("found %q", got)
	}
	if got := FindSite(ours, &catalog.Site{Kind: "sign", Route: "r", Point: place}); got != "" {
		t.Errorf("found %q", got)
	}
}

func TestSteepPartsInWords(t *testing.T) {
	if got := SteepPartsWords(nil); !strings.HasPrefix(got, "no steep part") {
		t.Error(got)
	}
	parts := []catalog.SteepPart{{SteepPart: routes.SteepPart{LengthM: 300, MeanDowngradePct: 7}}, {SteepPart: routes.SteepPart{LengthM: 200, MeanDowngradePct: 9.04}}}
	if got := SteepPartsWords(parts); !strings.Contains(got, "2, together 500 m, up to 9.0 %") {
		t.Error(got)
	}
}

// Steep parts of two surveys are the same where every figure and flag is.
func TestSameSteepParts(t *testing.T) {
	part := func(change func(*catalog.SteepPart)) []catalog.SteepPart {
		p := catalog.SteepPart{SteepPart: routes.SteepPart{Direction: routes.Forward, StartM: 100, EndM: 400, LengthM: 300, MeanDowngradePct: 7, MeanDowngradeErrPct: .3, Flags: []string{"borderline"}}}
		change(&p)
		return []catalog.SteepPart{p}
	}
	same := part(func(*catalog.SteepPart) {})
	if !SameSteepParts(same, part(func(*catalog.SteepPart) {})) || !SameSteepParts(nil, nil) || SameSteepParts(same, nil) {
		t.Error("the same parts differ, or none is some")
	}
	for name, change := range map[string]func(*catalog.SteepPart){
		"direction": func(p *catalog.SteepPart) { p.Direction = routes.Backward }, "start": func(p *catalog.SteepPart) { p.StartM++ }, "end": func(p *catalog.SteepPart) { p.EndM++ },
		"mean": func(p *catalog.SteepPart) { p.MeanDowngradePct += .01 }, "bound": func(p *catalog.SteepPart) { p.MeanDowngradeErrPct += .01 }, "flags": func(p *catalog.SteepPart) { p.Flags = nil },
	} {
		if SameSteepParts(same, part(change)) {
			t.Errorf("another %s is the same", name)
		}
	}
}

// A review that is taken from another catalogue, but was about other figures, is in question,
// and the history says both; about the same figures it says the review alone.
func TestAReviewFromElsewhereIsTold(t *testing.T) {
	for isSame, records := range map[bool][]string{true: {"review"}, false: {"review", "in question"}} {
		ours := held("d", 1000, catalog.Surveyed)
		var m MergedDescent
		m.mergeReview(ours, &catalog.Review{State: catalog.Approved, By: "Bea"}, isSame, Knowledge{}, &MergeChoices{By: "Cid"})
		var got []string
		for _, h := range m.History {
			got = append(got, h.What)
		}
		if !m.ReviewIsTheirs || strings.Join(got, ", ") != strings.Join(records, ", ") {
			t.Errorf("same figures %t: theirs %t, history %q", isSame, m.ReviewIsTheirs, got)
		}
	}
}
