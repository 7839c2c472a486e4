package stationing

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"gradeline/routes"
)

func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 99)) }

// square is a closed road of 400 m with a vertex each 20 m, drawn from its
// south-west corner.
func square(a orb.Point) orb.LineString {
	line := orb.LineString{a}
	for side := range 4 {
		for range 5 {
			line = append(line, Direct(line[len(line)-1], float64(90*side), 20))
		}
	}
	line[len(line)-1] = a
	return line
}

func TestClosedLoop(t *testing.T) {
	loop := square(orb.Point{8, 46})
	whole, notes := Assemble([]routes.Feature{feature(1, loop)})
	if len(whole) != 1 || len(notes) != 0 || math.Abs(whole[0].LengthM-400) > 0.5 {
		t.Fatal(whole, notes)
	}
	// In pieces, it begins where the first piece in the file begins.
	rs, notes := Assemble([]routes.Feature{
		feature(1, loop[6:12], "route", "loop"), feature(2, loop[:7], "route", "loop"),
		feature(3, loop[15:], "route", "loop"), feature(4, loop[11:16], "route", "loop"),
	})
	if len(rs) != 1 || len(notes) != 0 || rs[0].FeatureSpan != 4 || rs[0].Line[0] != loop[6] || rs[0].Line[len(rs[0].Line)-1] != loop[6] {
		t.Fatal(rs, notes)
	}
	if math.Abs(rs[0].LengthM-whole[0].LengthM) > 1e-6 {
		t.Errorf("%v m in pieces, %v m whole", rs[0].LengthM, whole[0].LengthM)
	}
}

// At a fork the line goes on straight, and the rest is a part of its own, with
// a note.
func TestFork(t *testing.T) {
	a := orb.Point{8, 46}
	b := Direct(a, 0, 500)
	on, off := Direct(b, 5, 400), Direct(b, 60, 300)
	rs, notes := Assemble([]routes.Feature{
		feature(1, orb.LineString{b, off}, "route", "F"),
		feature(2, orb.LineString{a, b}, "route", "F"),
		feature(3, orb.LineString{b, on}, "route", "F"),
	})
	if len(rs) != 2 || rs[0].Line[1] != off || math.Abs(rs[1].LengthM-900) > 0.01 {
		t.Fatalf("%+v", rs)
	}
	if len(notes) != 2 || !strings.Contains(notes[0].Why+notes[1].Why, "3 of its ends meet") {
		t.Errorf("notes %v", notes)
	}
}

// Two carriageways drawn from one place are not one line with a U-turn.
func TestCarriagewaysApart(t *testing.T) {
	a := orb.Point{8, 46}
	rs, notes := Assemble([]routes.Feature{
		feature(1, orb.LineString{a, Direct(a, 80, 500)}, "route", "C"),
		feature(2, orb.LineString{a, Direct(a, 90, 500)}, "route", "C"),
	})
	if len(rs) != 2 || len(notes) != 1 {
		t.Fatalf("%+v %v", rs, notes)
	}
}

// Ends that meet within a metre, also across 180° and near a pole, are joined;
// wider gaps are not.
func TestMeeting(t *testing.T) {
	for _, at := range []orb.Point{{8, 46}, {179.9999999, -16}, {-179.9999999, 65}, {20, 84}, {0.00002, 0.00002}, {180, 10}, {-180, 10}} {
		for _, gapM := range []float64{0, 0.3, 0.95, 1.1, 5} {
			for az := 0.0; az < 360; az += 45 {
				q := Direct(at, az, gapM)
				rs, notes := Assemble([]routes.Feature{
					feature(1, orb.LineString{Direct(at, az+180, 300), at}, "route", "M"),
					feature(2, orb.LineString{q, Direct(q, az, 300)}, "route", "M"),
				})
				want := 1
				if gapM > 1 {
					want = 2
				}
				if len(rs) != want || len(notes) != want-1 {
					t.Fatalf("gap of %g m at %v toward %g: %d routes; %v", gapM, at, az, len(rs), notes)
				}
				if want == 1 && math.Abs(rs[0].LengthM-600-gapM) > 1e-3 {
					t.Fatalf("gap of %g m at %v: %v m", gapM, at, rs[0].LengthM)
				}
			}
		}
	}
}

// A line cut at the date line, as RFC 7946 section 3.1.9 asks, is one route.
func TestCutAtDateLine(t *testing.T) {
	rs, notes := Assemble([]routes.Feature{
		feature(1, orb.LineString{{179.99, 66}, {180, 66.001}}), feature(1, orb.LineString{{-180, 66.001}, {-179.99, 66.002}}),
	})
	if len(rs) != 1 || len(notes) != 0 || len(rs[0].Line) != 3 || rs[0].LengthM > 1000 {
		t.Fatalf("%+v %v", rs, notes)
	}
}

// Routes of many groups come out the same whatever the order of the file, but
// for the order of the routes.
func TestFileOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := newRand(rapid.Uint64().Draw(t, "seed"))
		var fs []routes.Feature
		for g := range 5 {
			line := winding(rng, 60)
			for k := 0; k < 59; k += 1 + rng.IntN(15) {
				f := feature(len(fs)+1, line[k:min(k+16, 60)], "route", string(rune('A'+g)), "maxspeed", "50")
				if rng.IntN(3) == 0 {
					f.Tags["bridge"] = "yes"
				}
				fs = append(fs, f)
				if k+16 >= 60 {
					break
				}
				k += 14
			}
		}
		fs = chained(fs)
		a, _ := Assemble(fs)
		rng.Shuffle(len(fs), func(i, j int) { fs[i], fs[j] = fs[j], fs[i] })
		b, _ := Assemble(fs)
		byID := map[string]routes.Route{}
		for _, r := range b {
			byID[r.ID] = r
		}
		if len(a) != len(b) || len(byID) != len(b) {
			t.Fatalf("%d and %d routes", len(a), len(b))
		}
		for _, r := range a {
			s := byID[r.ID]
			if r.LengthM != s.LengthM || len(r.Structures) != len(s.Structures) || len(r.Limits) != len(s.Limits) || r.Place != s.Place {
				t.Fatalf("route %s: %+v and %+v", r.ID, r, s)
			}
			for i := range r.Structures {
				if r.Structures[i] != s.Structures[i] {
					t.Fatalf("route %s: %+v and %+v", r.ID, r.Structures, s.Structures)
				}
			}
		}
	})
}

// A spike that is left out is told.
func TestSpikeNote(t *testing.T) {
	a := orb.Point{8, 46}
	b := Direct(a, 90, 200)
	rs, notes := Assemble([]routes.Feature{feature(1, orb.LineString{a, b, Direct(b, 0, 12), b, Direct(b, 90, 200)})})
	if len(rs) != 1 || len(notes) != 1 || !strings.Contains(notes[0].Why, "1 place") || math.Abs(rs[0].LengthM-400) > 0.01 {
		t.Fatalf("%+v %v", rs, notes)
	}
}

// chained makes each feature of a route begin where the one before ended.
func chained(fs []routes.Feature) []routes.Feature {
	for i := 1; i < len(fs); i++ {
		if fs[i].Tags["route"] == fs[i-1].Tags["route"] {
			line := append(orb.LineString{}, fs[i].Line...)
			line[0] = fs[i-1].Line[len(fs[i-1].Line)-1]
			fs[i].Line = line
		}
	}
	return fs
}

func TestExplicitStructures(t *testing.T) {
	line := winding(newRand(1), 100)
	f := feature(1, line, "name", "Crane Valley Road")
	lengthM := stationsM(line)[99]
	f.Structures = []routes.Structure{
		{Kind: routes.Tunnel, FromM: 700, ToM: 900}, {Kind: routes.Bridge, FromM: 100, ToM: 250}, {Kind: routes.Bridge, FromM: 250, ToM: 300},
		{Kind: routes.Bridge, FromM: 800, ToM: 1000}, {Kind: routes.Bridge, FromM: lengthM + 5, ToM: lengthM + 50}, {Kind: routes.Tunnel, FromM: lengthM - 50, ToM: lengthM + 40},
	}
	rs, notes := Assemble([]routes.Feature{f})
	want := []routes.Structure{
		{Kind: routes.Bridge, FromM: 100, ToM: 300, Flagged: true}, {Kind: routes.Tunnel, FromM: 700, ToM: 900, Flagged: true},
		{Kind: routes.Bridge, FromM: 900, ToM: 1000, Flagged: true}, {Kind: routes.Tunnel, FromM: lengthM - 50, ToM: lengthM, Flagged: true},
	}
	got := rs[0].Structures
	if len(got) != len(want) {
		t.Fatalf("got %+v", got)
	}
	for i := range want {
		if got[i].Kind != want[i].Kind || math.Abs(got[i].FromM-want[i].FromM) > 1e-6 || math.Abs(got[i].ToM-want[i].ToM) > 1e-6 {
			t.Errorf("structure %d: %+v, want %+v", i, got[i], want[i])
		}
	}
	if len(notes) != 3 {
		t.Errorf("notes %v", notes)
	}
}

// Features without a route property do not wait for the end of the stream.
func TestAssemblerStreams(t *testing.T) {
	var a Assembler
	out := 0
	for i := range 50 {
		out += len(a.Add(feature(i+1, winding(newRand(uint64(i)), 5))))
	}
	if out != 49 || len(a.alone) != 1 {
		t.Errorf("%d routes out of 50 features, %d kept", out, len(a.alone))
	}
	if last := a.Finish(); len(last) != 1 || len(a.Skipped()) != 0 {
		t.Errorf("%d at the end", len(last))
	}
}
