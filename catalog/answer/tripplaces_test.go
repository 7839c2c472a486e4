package answer

import (
	"reflect"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/ranking"
	"gradeline/routes"
)

func TestTripPageNames(t *testing.T) {
	for place, want := range map[int]string{0: "a/trip.pdf", 1: "a/trip.pdf", 2: "a/trip-2.pdf", 3: "a/trip-3.pdf"} {
		if got := TripPageName("a/trip.pdf", place); got != want {
			t.Errorf("%d: %s", place, got)
		}
	}
}

// A road of the catalogue that is not known is hatched, never left blank as if it were level.
func TestUnknownRoadsAreHatched(t *testing.T) {
	hill := catalog.Entry{Descent: routes.Descent{StartM: 5000, EndM: 3000}, Provenance: catalog.Provenance{Credits: []string{"terrain: its owner"}}}
	for name, c := range map[string]struct {
		k    ranking.Candidate
		want [][2]float64
	}{
		"unreliable":      {ranking.Candidate{LengthM: 9000}, [][2]float64{{0, 9000}}},
		"without ground":  {ranking.Candidate{LengthM: 9000, Reliable: true, MissingM: 400, Entries: []catalog.Entry{hill}}, [][2]float64{{0, 3000}, {5000, 9000}}},
		"known":           {ranking.Candidate{LengthM: 9000, Reliable: true, Entries: []catalog.Entry{hill}}, nil},
		"no descent, gap": {ranking.Candidate{LengthM: 9000, Reliable: true, MissingM: 20}, [][2]float64{{0, 9000}}},
	} {
		if got := wayViewOf(&ranking.Verdict{}, &c.k).UnknownM; !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %v", name, got)
		}
	}
	if got := addCredits([]string{"roads"}, []catalog.Entry{hill, hill}); !reflect.DeepEqual(got, []string{"roads", "terrain: its owner"}) {
		t.Errorf("credits %v", got)
	}
}

// A place that is far from the road used for it is named with the distance; one beside its road is not.
func TestAPlaceFarFromItsRoadIsNamed(t *testing.T) {
	list := []PlaceAnswer{{DistanceM: 1500, FoundDeg: [2]float64{8.5, 46.25}}, {DistanceM: 99}, {DistanceM: 250, FoundDeg: [2]float64{9, 47}}, {DistanceM: 100, FoundDeg: [2]float64{7, 45}}}
	want := []string{"The start is 1.5 km from the road that is used for it, at 8.50000, 46.25000.",
		"Via place 2 is 250 m from the road that is used for it, at 9.00000, 47.00000.",
		"The end is 100 m from the road that is used for it, at 7.00000, 45.00000."}
	if got := placeNotes(list, catalog.Metric); !reflect.DeepEqual(got, want) {
		t.Errorf("%q", got)
	}
	if got := placeNotes(list[:2], catalog.US); len(got) != 1 || got[0] != "The start is 0.9 mi from the road that is used for it, at 8.50000, 46.25000." {
		t.Errorf("%q", got)
	}
}
