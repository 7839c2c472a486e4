package survey

import (
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

func TestRoutesThatMeetAtDifferentHeightsAreAGap(t *testing.T) {
	at := func(elevationM, errM float64) []endHeight { return []endHeight{{10.5, 46.25, 700, elevationM, errM}} }
	for _, c := range []struct {
		what       string
		aM, bM, eM float64
		gaps       int
	}{
		{"a street on a structure that is not there", 154.8, 116, 3, 1},
		{"within the bounds", 154.8, 151, 3, 0}, // 3.8 m of 3·√2 = 4.24
		{"just beyond them", 154.8, 150.5, 3, 1},
		{"on fine ground, as far apart as two lines may be drawn", 154.8, 152, 0.2, 0},
		{"on fine ground, further", 154.8, 151.6, 0.2, 1},
	} {
		var n nodeCheck
		n.add("high street", at(c.aM, c.eM))
		n.add("elsewhere", []endHeight{{10.50001, 46.25, 0, 300, 1}})
		n.add("low street", at(c.bM, c.eM))
		if len(n.gaps) != c.gaps {
			t.Errorf("%s: %v, want %d", c.what, n.gaps, c.gaps)
		}
		for _, g := range n.gaps {
			if !strings.Contains(g, "high street") || !strings.Contains(g, "low street") || !strings.Contains(g, "10.500000, 46.250000") {
				t.Errorf("%s: %s", c.what, g)
			}
		}
	}
}

func TestNodesOfOneHemisphereAreNotTakenForThoseOfAnother(t *testing.T) {
	seen := map[uint64]bool{}
	for _, lon := range []float64{-179.9999999, -10.5, -1e-7, 0, 1e-7, 10.5, 180} {
		for _, lat := range []float64{-89.5, -46.25, 0, 46.25, 89.5} {
			k := nodeKey(lon, lat)
			if seen[k] {
				t.Errorf("%v, %v has another place's key", lon, lat)
			}
			seen[k] = true
		}
	}
}

func TestAnEndWithoutAHeightIsNotCompared(t *testing.T) {
	p := &routes.Profile{StepM: 10, LengthM: 20, ElevationM: []float64{math.NaN(), 5, 6}, State: make([]routes.StationState, 3), Points: []orb.Point{{1, 2}, {1, 2.1}, {1, 2.2}}}
	ends := endHeights(p)
	if len(ends) != 1 || ends[0].ElevationM != 6 || ends[0].StationM != 20 || ends[0].LatDeg != 2.2 {
		t.Errorf("%+v", ends)
	}
}
