package store

import "testing"

// sharedSuite are tests of a catalogue in a file that hold for one in a database too. Those that are
// left out damage the file, or take longer.
var sharedSuite = map[string]func(*testing.T){
	"decision overtaken": TestDecisionOnWhatSomebodyElseChanged, "decision": TestDecisionIsOneChange, "decisions at once": TestDecisionsOfManyAtOnce,
	"fleet": TestFleetIsKept, "holds of a fleet": TestFleetChoosesHoldsAndOrder, "box": TestBoxAcrossTheAntimeridian,
	"brief list": TestABriefListKeepsWhatADriverMayNotMiss, "measurement": TestAMeasurementStaysAndIsCompared,
	"merge": TestMergeShowsConflicts, "merge renames": TestMergeRenames, "merge questions": TestMergeQuestionsStateAndSurvey, "merge of roads": TestMergeBringsRoadsOverWhole,
	"names": TestFindingADescent, "odd names": TestOddNames, "profiles": TestProfilesArePacked, "stale holds": TestStaleHoldsAreInQuestion,
	"queue": TestTheQueueNamesEveryReason, "queue reasons": TestQueueReasons, "same survey": TestTheSameSurveyChangesNothing, "moved": TestAMoveOfAReviewedDescentWaits,
	"gone": TestGoneDescentsStay, "new line": TestANewLineKeepsIdentities, "save": TestASaveGivesWhatIsStored, "batch": TestBatchAndOrderDoNotMatter,
	"re-surveys": TestResurveysKeepTheBooks, "question": TestADecisionEndsItsQuestionOnly, "set back": TestASetBackIsTold, "danger": TestOrderOfDanger,
	"part": TestSubsetMergesElsewhere, "drives": TestDrivesAreKept, "drives merged": TestDrivesInMergesAndParts,
	"network": TestNetworkComesBack, "entries": TestEntriesRoundTripExactly, "sites": TestSites, "steep parts": TestSteepPartsAreStoredAndReplaced, "unreliable": TestMarkUnreliable,
}

// The tests of the store hold for a catalogue in a database: one suite over both kinds.
func TestSharedSuite(t *testing.T) {
	if testing.Short() {
		t.Skip("some twenty seconds")
	}
	freshIsShared = true
	defer func() { freshIsShared = false }()
	for name, test := range sharedSuite {
		t.Run(name, test)
	}
}
