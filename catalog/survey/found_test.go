package survey

import (
	"reflect"
	"testing"

	"gradeline/catalog"
)

// What a survey's table lists of a hold has all of its levers, and is the heaviest truck's.
func TestTheSurveysTableHasAllLevers(t *testing.T) {
	heavy := catalog.Hold{Class: "eu-5axle", MassKg: 40000, Holds: true, Gear: 7, GearName: "7", Stage: 2, SpeedMPS: 11,
		Levers: []catalog.Lever{{Retarder: "compression brake", Kind: "engine", Stage: 2, Stages: 2}, {Retarder: "retarder", Kind: "driveline", Stage: 3, Stages: 4}}}
	e := brief(&catalog.Entry{Holds: []catalog.Hold{{Class: "us-dump-3axle", MassKg: 25000, Holds: true}, heavy}})
	if len(e.Holds) != 1 || !reflect.DeepEqual(e.Holds[0], heavy) {
		t.Errorf("%+v", e.Holds)
	}
}
