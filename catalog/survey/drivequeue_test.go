package survey_test

import (
	"slices"
	"testing"

	"gradeline/catalog/store"
	"gradeline/catalog/survey"
)

// A contradiction that is the reason of a question is told once in the queue; what else the drives
// say, and other reasons, stay.
func TestTheQueueTellsAContradictionOnce(t *testing.T) {
	const why = "4 recorded drives say a mean grade of 7.3 %, the catalogue has 6.0 ± 0.1 %"
	line := survey.DriveFinding{Kind: survey.FindingLine, Words: "check the line"}
	for _, k := range []struct {
		told     string
		findings []survey.DriveFinding
		want     string
	}{
		{"", nil, "drives: CONTRADICTED: " + why},
		{why, nil, why},
		{"moved; " + why, []survey.DriveFinding{line}, "moved; " + why + "; drives: check the line"},
		{"moved", []survey.DriveFinding{line}, "moved; drives: CONTRADICTED: " + why + "; check the line"},
	} {
		items := survey.AddToQueue([]store.QueueItem{{ID: "a", Reasons: []string{store.QueueInQuestion}, Words: k.told}, {ID: "b"}},
			[]survey.DrivesSay{{Descent: "a", Drives: 4, Used: 4, ContradictsWhy: why, Findings: k.findings}})
		if got := items[0]; got.Words != k.want || !slices.Contains(got.Reasons, store.QueueDrives) || items[1].Words != "" {
			t.Errorf("told %q: %+v, want %q", k.told, items, k.want)
		}
	}
}

// A gap names a drive once, whether it is a file or one that the catalogue keeps.
func TestGapsNameDrives(t *testing.T) {
	f := survey.RouteFacts{Route: "Hill Road", Reliable: true, Drives: []survey.DriveUse{
		{File: "monday.csv", Why: "no barometer"}, {File: "drive 71217817 of the catalogue", Why: "its heights differ"}, {File: "good.csv", IsUsed: true}}}
	want := []string{"Hill Road: the drive monday.csv is not used: no barometer", "Hill Road: the drive 71217817 of the catalogue is not used: its heights differ"}
	if got := f.Gaps(); !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
