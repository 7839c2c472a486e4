package resurvey

import (
	"math"
	"testing"

	"gradeline/catalog"
)

// A line of two vertices overlaps with itself over its length, on a sphere: .01° to the east
// at 60° north are 111,320·.5·.01 = 556.6 m, .01° to the north 1,105.74 m. The other way, or
// far from it, nothing does.
func TestOverlapOfLinesOfTwoVertices(t *testing.T) {
	line := func(lon0, lat0, lon1, lat1 float64) []catalog.Vertex {
		return []catalog.Vertex{{LonDeg: lon0, LatDeg: lat0}, {LonDeg: lon1, LatDeg: lat1}}
	}
	east := line(10, 60, 10.01, 60)
	for _, k := range []struct {
		name string
		a, b []catalog.Vertex
		want float64
	}{
		{"itself", east, east, 556.6}, {"north", line(10, 60, 10, 60.01), line(10, 60, 10, 60.01), 1105.74},
		{"the other way", east, line(10.01, 60, 10, 60), 0}, {"a degree away", east, line(10, 61, 10.01, 61), 0}, {"one vertex", east[:1], east, 0}, {"one vertex of the other", east, east[:1], 0},
	} {
		if got := placeOverlapM(k.a, k.b); math.Abs(got-k.want) > 0.01 {
			t.Errorf("%s: %.2f m, want %.2f", k.name, got, k.want)
		}
	}
}

// Two lines of one road are within 60 m of each other, at 60° north 60/55,660° of longitude.
func TestHowFarApartTheDrawingsOfOneRoadAre(t *testing.T) {
	north := func(eastM float64) []catalog.Vertex {
		lon := 10 + eastM/(111320*0.5)
		return []catalog.Vertex{{LonDeg: lon, LatDeg: 60}, {LonDeg: lon, LatDeg: 60.01}}
	}
	for eastM, want := range map[float64]float64{58: 1105.74, -58: 1105.74, 62: 0, -62: 0} {
		if got := placeOverlapM(north(0), north(eastM)); math.Abs(got-want) > 0.1 {
			t.Errorf("%g m apart: %.2f m overlap, want %.2f", eastM, got, want)
		}
	}
}

// An entry without a state of review is a surveyed one; any other keeps its state.
func TestAsStoredGivesAStateWhereThereIsNone(t *testing.T) {
	rs := &RouteSurvey{Route: RouteRecord{ID: "r"}, Provenance: catalog.Provenance{Tool: "now"}}
	for state, want := range map[catalog.ReviewState]catalog.ReviewState{"": catalog.Surveyed, catalog.Approved: catalog.Approved, catalog.Retired: catalog.Retired} {
		var e catalog.Entry
		e.Review.State = state
		if got := AsStored(e, rs); got.Review.State != want || got.Descent.Route != "r" || got.Provenance.Tool != "now" || got.Holds == nil {
			t.Errorf("%q: %+v", state, got)
		}
	}
}
