package ranking

import "testing"

func TestParseTraffic(t *testing.T) {
	if id, vehicles, err := ParseTraffic("some-road-f-1.5=4200"); id != "some-road-f-1.5" || vehicles != 4200 || err != nil {
		t.Error(id, vehicles, err)
	}
	for _, text := range []string{"some-road-f-1.5", "=4200", "some-road-f-1.5=-1", "some-road-f-1.5=2e6", "some-road-f-1.5=NaN", ""} {
		if _, _, err := ParseTraffic(text); err == nil {
			t.Errorf("%q is taken", text)
		}
	}
}
