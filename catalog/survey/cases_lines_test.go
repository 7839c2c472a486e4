package survey_test

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/stationing"
)

// bent is a line with soft bends over the hill, a vertex every 25 m.
func bent(x float64) float64 { return 20 * math.Sin(x/400) }

func bentLine() orb.LineString {
	var line orb.LineString
	for x := 0.0; x <= 8000; x += 25 {
		line = append(line, madeAt(x, bent(x)))
	}
	return line
}

func crossHill(x, y float64) float64 { return madeHill(6, 4000)(x, y) + 0.2*(y-bent(x)) }

// Case 23: one way, or fifty pieces of it in any order in the file: the same
// heights and the same descents.
func TestFiftyPiecesGiveTheSameDescents(t *testing.T) {
	line := bentLine()
	g := noisyGround(10, 23, crossHill)
	whole := surveyed(t, g, madeWay(1, line, "route", "R1", "name", "Plover Hill"))
	if len(whole.Entries) != 1 {
		t.Fatalf("%d descents, want 1", len(whole.Entries))
	}
	var pieces []routes.Feature
	for k := range 50 {
		from, to := k*(len(line)-1)/50, (k+1)*(len(line)-1)/50
		pieces = append(pieces, madeWay(k+1, line[from:to+1], "route", "R1", "name", "Plover Hill"))
	}
	rest := pieces[1:] // the first in the file names the place
	rand.New(rand.NewPCG(23, 1)).Shuffle(len(rest), func(i, j int) { rest[i], rest[j] = rest[j], rest[i] })
	split := surveyed(t, g, pieces...)
	if !slices.Equal(whole.Profile.ElevationM, split.Profile.ElevationM) {
		t.Error("the grade lines differ")
	}
	if !reflect.DeepEqual(whole.Entries, split.Entries) {
		t.Errorf("the descents differ:\n%+v\n%+v", whole.Entries, split.Entries)
	}
}

// Case 19: repeated vertices, a way of no length and digitising spikes change
// nothing that a driver is told.
func TestUntidyLinesGiveTheSameDescent(t *testing.T) {
	line := bentLine()
	g := noisyGround(10, 19, crossHill)
	clean := surveyed(t, g, madeWay(1, line)).Entries[0].Descent
	var twice, spiky orb.LineString
	for i, p := range line {
		twice = append(twice, p)
		for range i % 4 {
			twice = append(twice, p)
		}
		spiky = append(spiky, p)
		if i > 0 && i%40 == 0 { // out 18 m to the side and back
			x := 25 * float64(i)
			spiky = append(spiky, madeAt(x, bent(x)+18), p)
		}
	}
	noLength := madeWay(2, orb.LineString{line[160], line[160]}, "route", "R")
	for name, fs := range map[string][]routes.Feature{
		"repeated vertices": {madeWay(1, twice)},
		"spikes":            {madeWay(1, spiky)},
		"a way of no length": {madeWay(1, line[:161], "route", "R"), noLength,
			madeWay(3, line[160:], "route", "R")},
	} {
		res := surveyed(t, g, fs...)
		if len(res.Entries) != 1 {
			t.Errorf("%s: %d descents, want 1", name, len(res.Entries))
			continue
		}
		d := res.Entries[0].Descent
		if math.Abs(d.StartM-clean.StartM) > 0.01 || math.Abs(d.EndM-clean.EndM) > 0.01 || math.Abs(d.DropM-clean.DropM) > 0.01 {
			t.Errorf("%s: %.2f to %.2f m, drop %.2f; tidy %.2f to %.2f m, drop %.2f", name, d.StartM, d.EndM, d.DropM, clean.StartM, clean.EndM, clean.DropM)
		}
	}
}

// Case 19: a closed loop over a hill goes down one half of it in each direction
// of travel, and comes back to the height it left.
func TestAClosedLoopOverAHill(t *testing.T) {
	const radiusM = 1500.0
	hill := func(x, y float64) float64 { return 800 + 0.07*math.Pi/2*x } // on average 7 % along half a circle
	var loop orb.LineString
	for k := range 120 {
		a := 2 * math.Pi * float64(k) / 120
		loop = append(loop, madeAt(radiusM*math.Cos(a), radiusM*math.Sin(a)))
	}
	loop = append(loop, loop[0])
	res := surveyed(t, noisyGround(10, 19, hill), madeWay(1, loop))
	if len(res.Entries) != 2 || res.Entries[0].Descent.Direction == res.Entries[1].Descent.Direction {
		t.Fatalf("%d descents, want one in each direction", len(res.Entries))
	}
	a, b := res.Entries[0].Descent, res.Entries[1].Descent
	if math.Abs(a.DropM-b.DropM) > 3 || a.DropM < 300 || a.DropM > 330 {
		t.Errorf("drops of %.1f and %.1f m over a hill of 330 m", a.DropM, b.DropM)
	}
	p := res.Profile
	if gap := math.Abs(p.ElevationM[0] - p.ElevationM[p.Count()-1]); gap > p.Bound.ElevationM*math.Sqrt2 {
		t.Errorf("the loop closes with a step of %.2f m", gap)
	}
	if rs, _ := stationing.Assemble([]routes.Feature{madeWay(1, orb.LineString{loop[0], loop[0]})}); len(rs) != 0 {
		t.Errorf("a way of no length alone is a route: %+v", rs)
	}
}
