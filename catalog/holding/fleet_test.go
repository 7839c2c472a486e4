package holding

import (
	"reflect"
	"testing"
)

// A fleet that has advised other hills, in other air, answers as a fresh adviser does.
func TestFleetAnswersAsAFreshAdviser(t *testing.T) {
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	fleet := NewFleet(classes)
	if !fleet.IsFor(classes) || fleet.IsFor(classes[1:]) || (*Fleet)(nil).IsFor(classes) {
		t.Error("a fleet is for its own classes")
	}
	hot, cold := 45.0, -20.0
	hills := []Hill{longHill(), PlainHill(6, 9656), PlainHill(9, 3000), longHill()}
	for _, o := range []Options{{}, {TempC: &hot}, {TempC: &cold, AltitudeM: new(float64)}, {}} {
		for _, h := range hills {
			a := NewAdviser(h)
			for i, c := range classes {
				want, err1 := Advise(h, c, o)
				got, err2 := fleet.Advise(a, i, o)
				if err1 != nil || err2 != nil {
					t.Fatal(c.ID, err1, err2)
				}
				if !reflect.DeepEqual(got, want) {
					t.Fatalf("class %s: the fleet answers %+v, a fresh adviser %+v", c.ID, got, want)
				}
			}
		}
	}
}
