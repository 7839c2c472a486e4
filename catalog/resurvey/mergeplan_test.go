package resurvey

import (
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
)

// A plan of a merge: the choices of a person, and what waits for one.
func TestMergeOfADescentIsDecided(t *testing.T) {
	ours := Stored{Entry: catalog.Entry{Descent: routes.Descent{ID: "hill", LengthM: 3000, MeanDowngradePct: 6, MeanDowngradeErrPct: 0.2}, Review: catalog.Review{State: catalog.Approved, By: "Ada"}}}
	theirs := ours.Entry
	theirs.Descent.MeanDowngradePct = 8
	theirs.Review = catalog.Review{State: catalog.Retired, By: "Bo"}
	for what, c := range map[string]struct {
		choices                       MergeChoices
		takesSurvey, waits, isRetired bool
		conflicts                     int
	}{
		"undecided: the steeper survey waits, the stricter review stays": {MergeChoices{}, false, true, true, 2},
		"all of theirs: their survey, but still the stricter review":     {MergeChoices{TakeTheirs: true}, true, false, true, 2},
		"theirs for this hill": {MergeChoices{TakeTheirsFor: []string{"hill"}}, true, false, true, 2},
		"ours for this hill":   {MergeChoices{TakeTheirs: true, KeepOursFor: []string{"hill"}}, false, false, false, 2},
	} {
		m := MergeDescent(&ours, &theirs, "", Knowledge{}, &c.choices)
		isRetired := m.Review != nil && m.Review.State == catalog.Retired
		if m.TakesSurvey != c.takesSurvey || (m.Proposal != "") != c.waits || isRetired != c.isRetired || len(m.Conflicts) != c.conflicts || m.IsSame() {
			t.Errorf("%s: %+v", what, m)
		}
	}
	if m := MergeDescent(&ours, &ours.Entry, "", Knowledge{}, &MergeChoices{}); !m.IsSame() {
		t.Errorf("the same hill: %+v", m)
	}
}
