package stationing

import (
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"gradeline/routes"
)

// A vertex that jumps away and back is left out and named; the road is as long as
// without it.
func TestStrayVertices(t *testing.T) {
	road := winding(newRand(3), 200) // some 25 m apart
	usualM := stationsM(road)[len(road)-1] / float64(len(road)-1)
	if usualM < 15 || usualM > 35 {
		t.Fatalf("vertices %g m apart", usualM)
	}
	off := func(p orb.Point, m float64) orb.Point { return Direct(p, 77, m) }
	with := func(at int, stray ...orb.Point) orb.LineString {
		out := append(orb.LineString{}, road[:at]...)
		return append(append(out, stray...), road[at:]...)
	}
	for _, c := range []struct {
		name string
		line orb.LineString
		want string // in the note; empty where nothing is stray
	}{
		{"longitude 0", with(100, orb.Point{0, road[100][1]}), "vertex 101"},
		{"hundreds of kilometres", with(100, off(road[100], 300e3)), "vertex 101"},
		{"5 km", with(50, off(road[50], 5000)), "5.0 km"},
		{"600 m", with(50, off(road[50], 600)), "0.6 km"},
		{"400 m", with(50, off(road[50], 400)), ""},
		{"three together", with(50, off(road[50], 8000), off(road[50], 8030), off(road[50], 8050)), "vertices 51 to 53"},
		{"the first", with(0, off(road[0], 200e3)), "vertex 1 "},
		{"the last", append(append(orb.LineString{}, road...), off(road[len(road)-1], 200e3)), "vertex 201"},
		{"a long straight at the end", append(append(orb.LineString{}, road...), off(road[len(road)-1], 40e3)), ""},
		{"two apart", append(with(50, off(road[50], 9000))[:120], append(orb.LineString{off(road[119], 7000)}, road[119:]...)...), "vertex 51 "},
		{"out and back", append(append(orb.LineString{}, road...), off(road[len(road)-1], 3000), road[len(road)-1]), ""},
	} {
		rs, skipped := Assemble(append(features(c.line), features(road)...))
		if len(rs) != 2 {
			t.Errorf("%s: %d routes", c.name, len(rs))
			continue
		}
		said := ""
		for _, s := range skipped {
			said += s.Why + "\n"
		}
		if (said != "") != (c.want != "") || !strings.Contains(said, c.want) {
			t.Errorf("%s: said %q", c.name, said)
		}
		if more := rs[0].LengthM - rs[1].LengthM; c.want != "" && math.Abs(more) > 30 {
			t.Errorf("%s: %.1f m longer", c.name, more)
		}
	}
}

// A line of few vertices has no usual spacing: half of its legs may be the jump. Legs of 50 km there
// and back are one all the same; those of 48 km may be the road.
func TestStraysOfFewVertices(t *testing.T) {
	a := orb.Point{10, 46}
	b, c, d := Direct(a, 90, 2000), Direct(a, 90, 4000), Direct(a, 90, 6000)
	for _, k := range []struct {
		name  string
		line  orb.LineString
		found bool
	}{
		{"five vertices, longitude 0", orb.LineString{a, b, {0, 46}, c, d}, true},
		{"four vertices, longitude 0", orb.LineString{a, {0, 46}, c, d}, true},
		{"three vertices, longitude 0", orb.LineString{a, {0, 46}, b}, true},
		{"three vertices, 52 km", orb.LineString{a, Direct(a, 0, 52e3), b}, true},
		{"three vertices, 48 km", orb.LineString{a, Direct(a, 0, 48e3), b}, false},
		{"far ends", orb.LineString{{0, 46}, a, b}, false},
	} {
		keep := make([]int, len(k.line))
		for i := range keep {
			keep[i] = i
		}
		if got := strays(k.line, keep); len(got) > 0 != k.found {
			t.Errorf("%s: %+v", k.name, got)
		}
	}
}

// Roads as drawn have no strays: winding ones, straight ones with few vertices, long
// straights between bends, hairpins with vertices in them.
func TestRoadsHaveNoStrays(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		line := orb.LineString{{10, 46}}
		azimuth := rapid.Float64Range(0, 360).Draw(r, "azimuth")
		for range rapid.IntRange(2, 12).Draw(r, "stretches") {
			lengthM := rapid.Float64Range(10, 30_000).Draw(r, "straight")
			line = append(line, Direct(line[len(line)-1], azimuth, lengthM))
			turn := rapid.Float64Range(-200, 200).Draw(r, "turn")
			for range 6 { // the bend, 40 m at each vertex
				azimuth += turn / 6
				line = append(line, Direct(line[len(line)-1], azimuth, 40))
			}
		}
		keep := make([]int, len(line))
		for i := range keep {
			keep[i] = i
		}
		// A road that comes back to where it was within a third of its straight, several
		// kilometres long, is drawn so seldom that it may be named.
		for _, s := range strays(line, keep) {
			if s.first == s.last {
				r.Fatalf("vertex %d of %v, %g m off", s.first, line, s.offM)
			}
		}
	})
}

func features(line orb.LineString) []routes.Feature {
	return []routes.Feature{feature(1+len(line), line, "name", "Test Road")}
}
