package stationing

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"gradeline/routes"
)

// winding is a road of n vertices some metres apart, with soft bends.
func winding(rng *rand.Rand, n int) orb.LineString {
	p := orb.Point{-105.7, 39.6}
	line := orb.LineString{p}
	az := 360 * rng.Float64()
	for len(line) < n {
		az += 30 * (rng.Float64() - 0.5)
		p = Direct(p, az, 15+20*rng.Float64())
		line = append(line, p)
	}
	return line
}

func feature(n int, line orb.LineString, tags ...string) routes.Feature {
	m := map[string]string{}
	for i := 0; i+1 < len(tags); i += 2 {
		m[tags[i]] = tags[i+1]
	}
	return routes.Feature{Line: line, Tags: m, Place: routes.Place{File: "roads.geojson", Feature: n}}
}

func reverseLine(line orb.LineString) orb.LineString {
	out := make(orb.LineString, len(line))
	for i, p := range line {
		out[len(line)-1-i] = p
	}
	return out
}

// A way split into pieces, in any order in the file, is the same route.
func TestSplitIsOneRoute(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		line := winding(rng, 400)
		whole, _ := Assemble([]routes.Feature{feature(1, line, "route", "R1")})
		cuts := []int{0}
		for len(cuts) < 50 {
			cuts = append(cuts, cuts[len(cuts)-1]+1+rng.IntN(7))
		}
		cuts = append(cuts, len(line)-1)
		var pieces []routes.Feature
		for i := 1; i < len(cuts); i++ {
			tags := []string{"route", "R1"}
			if i == 20 || i == 21 {
				tags = append(tags, "bridge", "viaduct", "maxspeed", "45 mph")
			}
			pieces = append(pieces, feature(i, line[cuts[i-1]:cuts[i]+1], tags...))
		}
		rng.Shuffle(len(pieces), func(i, j int) { pieces[i], pieces[j] = pieces[j], pieces[i] })
		split, notes := Assemble(pieces)
		if len(whole) != 1 || len(split) != 1 || len(notes) != 0 {
			t.Fatalf("%d and %d routes, notes %v", len(whole), len(split), notes)
		}
		a, b := whole[0], split[0]
		if math.Abs(a.LengthM-b.LengthM) > 1e-6 || len(a.Line) != len(b.Line) || b.FeatureSpan != 50 {
			t.Fatalf("%.9f m in one, %.9f m split, %d and %d vertices", a.LengthM, b.LengthM, len(a.Line), len(b.Line))
		}
		for i := range a.Line {
			if a.Line[i] != b.Line[i] || math.Abs(a.VertexM[i]-b.VertexM[i]) > 1e-6 {
				t.Fatalf("vertex %d differs", i)
			}
		}
		from, to := a.VertexM[cuts[19]], a.VertexM[cuts[21]]
		if len(b.Structures) != 1 || math.Abs(b.Structures[0].FromM-from) > 1e-6 || math.Abs(b.Structures[0].ToM-to) > 1e-6 || !b.Structures[0].Flagged {
			t.Fatalf("structures %+v, want one from %f to %f", b.Structures, from, to)
		}
		if len(b.Limits) != 1 || math.Abs(b.Limits[0].ToM-to) > 1e-6 || math.Abs(b.Limits[0].SpeedMPS-20.1168) > 1e-9 {
			t.Fatalf("limits %+v", b.Limits)
		}
	})
}

// Pieces drawn against the first are turned, and what they say with them.
func TestTurnedPiece(t *testing.T) {
	line := winding(rand.New(rand.NewPCG(7, 7)), 60)
	against := feature(2, reverseLine(line[20:41]), "route", "R", "oneway", "-1", "incline", "6%", "maxspeed:forward", "60", "maxspeed:backward", "80")
	against.Structures = []routes.Structure{{Kind: routes.Tunnel, FromM: 50, ToM: 90}}
	rs, notes := Assemble([]routes.Feature{
		feature(1, line[:21], "route", "R", "name", "Heron Pass", "oneway", "yes"),
		against,
		feature(3, line[40:], "route", "R", "oneway", "yes"),
	})
	if len(rs) != 1 || len(notes) != 0 {
		t.Fatal(rs, notes)
	}
	r := rs[0]
	if len(r.Line) != len(line) || r.Line[30] != line[30] || r.Name != "Heron Pass" || r.ID != "R" {
		t.Fatalf("%+v", r)
	}
	if s := r.Structures; len(s) != 1 || math.Abs(s[0].FromM-(r.VertexM[40]-90)) > 1e-6 || math.Abs(s[0].ToM-(r.VertexM[40]-50)) > 1e-6 {
		t.Errorf("structures %+v; the turned piece ends at %f m", s, r.VertexM[40])
	}
	if !r.OneWay || r.OneWayDir != routes.Forward {
		t.Errorf("one-way %v %v, want forward", r.OneWay, r.OneWayDir)
	}
	if len(r.Incline) != 1 || r.Incline[0].GradePct != -6 || r.Incline[0].Sign != -1 || r.Incline[0].FromM != r.VertexM[20] {
		t.Errorf("incline %+v", r.Incline)
	}
	if len(r.Limits) != 2 || r.Limits[0].SpeedMPS*3.6 != 80 || !r.Limits[0].Forward || r.Limits[0].Backward || math.Abs(r.Limits[1].SpeedMPS*3.6-60) > 1e-9 || !r.Limits[1].Backward {
		t.Errorf("limits %+v", r.Limits)
	}
}

func TestAssembleSkipsAndNames(t *testing.T) {
	line := winding(rand.New(rand.NewPCG(3, 3)), 100)
	p := line[0]
	rs, notes := Assemble([]routes.Feature{
		feature(1, line[:20], "name", "Mill Road"),
		feature(2, line[30:50], "name", "Mill Road"),
		feature(3, line[50:60]),
		feature(4, line[:10], "highway", "escape"),
		feature(5, orb.LineString{p, p, p}),
		feature(6, line[:20], "route", "T"),
		feature(7, line[40:60], "route", "T"),
		feature(9, orb.LineString{{8, 89.5}, {9, 89.6}}, "name", "Pole Road"),
		feature(10, orb.LineString{{8, 46}, {9, math.NaN()}}),
		feature(8, line[60:70]), // two parts of one feature that meet
		feature(8, line[69:80]),
	})
	var ids, titles []string
	for _, r := range rs {
		ids = append(ids, r.ID)
		titles = append(titles, r.Title)
	}
	if got, want := strings.Join(ids, "|"), "Mill Road|Mill Road (2)|roads#3|roads#8|T|T/2"; got != want {
		t.Errorf("routes %s\nwant   %s", got, want)
	}
	// The ids that earlier versions gave.
	if got, want := strings.Join(titles, "|"), "||roads feature 3|roads feature 8||T (part 2)"; got != want {
		t.Errorf("titles %s\nwant   %s", got, want)
	}
	text := fmt.Sprint(notes)
	for _, want := range []string{"escape", "one place", "do not meet", "pole", "vertex 2 is no"} {
		if !strings.Contains(text, want) {
			t.Errorf("no note of %q in %s", want, text)
		}
	}
	if len(notes) != 5 {
		t.Errorf("%d notes: %v", len(notes), notes)
	}
}

func TestCleanLine(t *testing.T) {
	at := func(eastM, northM float64) orb.Point {
		m := metricAt(46)
		return orb.Point{8 + eastM/m.eastM, 46 + northM/m.northM}
	}
	cases := []struct {
		name string
		in   orb.LineString
		want int     // vertices
		lenM float64 // within 0.1 m
	}{
		{"plain", orb.LineString{at(0, 0), at(100, 0), at(100, 100)}, 3, 200},
		{"repeats", orb.LineString{at(0, 0), at(0, 0), at(100, 0), at(100, 0), at(100, 100), at(100, 100)}, 3, 200},
		{"spike", orb.LineString{at(0, 0), at(100, 0), at(100, 12), at(100, 0), at(200, 0)}, 3, 200},
		{"slanted spike", orb.LineString{at(0, 0), at(100, 0), at(108, 12), at(100.3, 0.3), at(200, 0)}, 4, 200.1},
		{"overshoot", orb.LineString{at(0, 0), at(110, 0), at(100, 0), at(100, 100)}, 3, 200},
		{"spike of three vertices", orb.LineString{at(0, 0), at(100, 0), at(100, 5), at(100, 10), at(100, 5), at(100, 0), at(200, 0)}, 3, 200},
		{"there and back", orb.LineString{at(0, 0), at(100, 0), at(200, 0), at(100, 0), at(0, 0)}, 5, 400},
		{"there and back, other vertices", orb.LineString{at(0, 0), at(190, 0), at(200, 0), at(193, 0), at(120, 0), at(0, 0)}, 6, 400},
		{"hairpin", orb.LineString{at(0, 0), at(100, 0), at(110, 8), at(100, 16), at(0, 16)}, 5, 225.6},
		{"closed loop", orb.LineString{at(0, 0), at(100, 0), at(100, 100), at(0, 100), at(0, 0)}, 5, 400},
	}
	for _, c := range cases {
		for _, in := range []orb.LineString{c.in, reverseLine(c.in)} {
			line, _, _ := cleanLine(in, []int{0})
			s := stationsM(line)
			if len(line) != c.want || math.Abs(s[len(s)-1]-c.lenM) > 0.1 {
				t.Errorf("%s: %d vertices, %.2f m; want %d, %.2f m", c.name, len(line), s[len(s)-1], c.want, c.lenM)
			}
			if line[0] != in[0] || line[len(line)-1] != in[len(in)-1] {
				t.Errorf("%s: the ends moved", c.name)
			}
		}
	}
}
