package survey

import (
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

func TestRoutesThatMeetAtDifferentHeightsAreAGap(t *testing.T) {
	at := func(elevationM, errM float64) []nodeHeight {
		return []nodeHeight{{10.5, 46.25, 700, elevationM, errM, 200, 700, true}}
	}
	for _, c := range []struct {
		what       string
		aM, bM, eM float64
		gaps       int
	}{
		{"a street on a structure that is not there", 154.8, 116, 3, 1},
		{"within the bounds", 154.8, 151, 3, 0}, // 3.8 m of 3·√2 = 4.24
		{"just beyond them", 154.8, 150.5, 3, 1},
		{"on fine ground, as far apart as two lines may be drawn", 154.8, 151.85, 0.2, 0},
		{"on fine ground, further", 154.8, 151.75, 0.2, 1},
	} {
		var n nodeCheck
		n.add("high street", at(c.aM, c.eM))
		n.add("elsewhere", []nodeHeight{{10.50001, 46.25, 0, 300, 1, 0, 500, true}})
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

// A line that ends on a structure has no height on its last metres: the nearest one counts, with a
// bound for how the road may bend. Further away there is nothing to compare.
func TestAnEndWithoutAHeightIsComparedByTheNearest(t *testing.T) {
	const n = 40
	p := &routes.Profile{StepM: 10, LengthM: 10 * (n - 1), Bound: routes.ErrorModel{ElevationM: 1.5}}
	for i := range n {
		z := 100 + float64(i)
		if i > n-4 {
			z = math.NaN()
		}
		if i < 15 {
			z = math.NaN()
		}
		p.ElevationM, p.State, p.Points = append(p.ElevationM, z), append(p.State, routes.Measured), append(p.Points, orb.Point{1, 2 + float64(i)/1e4})
	}
	nodes := nodeHeights(p, nil)
	if len(nodes) != 1 || nodes[0].ElevationM != 100+n-4 || nodes[0].StationM != p.LengthM || nodes[0].LatDeg != p.Points[n-1][1] {
		t.Fatalf("%+v", nodes)
	}
	if want := p.ElevationErrM(10*(n-4)) + 30*.12; math.Abs(nodes[0].ErrM-want) > 1e-9 {
		t.Errorf("bound %v, want %v", nodes[0].ErrM, want)
	}
}

// A wrong height at a node puts 500 m on both sides in doubt, and all of a structure that begins
// within them.
func TestWhatAWrongHeightPutsInDoubt(t *testing.T) {
	p := &routes.Profile{StepM: 10, LengthM: 3000, State: make([]routes.StationState, 301)}
	for i := 140; i <= 160; i++ { // 1,400 to 1,600 m
		p.State[i] = routes.FoundStructure
	}
	for _, c := range []struct{ atM, fromM, toM float64 }{{0, 0, 500}, {3000, 2500, 3000}, {900, 400, 1610}, {2100, 1390, 2600}, {880, 380, 1380}} {
		if from, to := doubtAround(p, c.atM); from != c.fromM || to != c.toM {
			t.Errorf("at %v m: %v to %v, want %v to %v", c.atM, from, to, c.fromM, c.toM)
		}
	}
}

// A vertex at which another road ends is a node by its station along the route; others are not.
func TestInnerNodesAreVerticesWhereOtherRoadsEnd(t *testing.T) {
	r := &routes.Route{Line: orb.LineString{{10, 46}, {10.01, 46}, {10.02, 46}, {10.03, 46}}}
	got := innerNodes(r, 3000, func(p orb.Point) bool { return p[0] != 10.02 })
	if len(got) != 1 || got[0].lonDeg != 10.01 || math.Abs(got[0].stationM-1000) > .01 {
		t.Errorf("%+v", got)
	}
}

// The road that is named first and the one after it are both in doubt, each on its own stretch.
func TestBothRoutesOfAContradictionAreInDoubt(t *testing.T) {
	var n nodeCheck
	n.add("high street", []nodeHeight{{10.5, 46.25, 700, 154.8, 3, 200, 700, true}})
	got := n.add("low street", []nodeHeight{{10.5, 46.25, 0, 116, 3, 0, 500, true}})
	if len(got) != 2 || got[0].route != "high street" || got[0].stretch.FromM != 200 || got[0].stretch.ToM != 700 || got[1].route != "low street" || got[1].stretch.ToM != 500 ||
		!strings.Contains(got[0].stretch.Why, "low street") || !strings.Contains(got[1].stretch.Why, "38.8 m") {
		t.Errorf("%+v", got)
	}
}
