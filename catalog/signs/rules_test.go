package signs

import "testing"

func TestEmbeddedRuleSets(t *testing.T) {
	sets, err := RuleSets()
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"haul-road", "uk-2013", "us-2023"}
	for i, rs := range sets {
		if i >= len(want) || rs.ID != want[i] {
			t.Errorf("set %d is %q", i, rs.ID)
		}
	}
	if len(sets) != len(want) {
		t.Errorf("%d sets", len(sets))
	}
}
