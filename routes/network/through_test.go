package network

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// drawn is a network drawn in metres about a place, for tests.
type drawn struct {
	features []routes.Feature
}

// at is the place x metres east and y metres north of 8° E, 46° N.
func at(x, y float64) orb.Point {
	m := planeAt(46)
	return orb.Point{8 + math.Round(x/m.eastM*1e7)/1e7, 46 + math.Round(y/m.northM*1e7)/1e7}
}

// road adds a line through places in metres: x, y, x, y, …; tags are "key=value".
func (d *drawn) road(tags string, xy ...float64) {
	f := routes.Feature{Tags: map[string]string{}, Place: routes.Place{File: "drawn", Feature: len(d.features) + 1}}
	for _, kv := range strings.Fields(tags) {
		k, v, _ := strings.Cut(kv, "=")
		f.Tags[k] = strings.ReplaceAll(v, "_", " ")
	}
	for i := 0; i+1 < len(xy); i += 2 {
		f.Line = append(f.Line, at(xy[i], xy[i+1]))
	}
	d.features = append(d.features, f)
}

// ring adds a roundabout of 20 m radius, driven against the clock, with nodes each 30°.
func (d *drawn) ring(x, y float64) {
	var xy []float64
	for k := range 13 {
		a := float64(k%12) * math.Pi / 6
		xy = append(xy, x+20*math.Cos(a), y+20*math.Sin(a))
	}
	d.road("highway=primary junction=roundabout oneway=yes", xy...)
}

// told lists roads as "id: ways", ways as feature numbers with a minus where reversed.
func told(list []routes.Route) []string {
	var out []string
	for _, r := range list {
		var ways []string
		for _, w := range r.Ways {
			sign := ""
			if w.Reversed {
				sign = "-"
			}
			ways = append(ways, sign+w.ID)
		}
		out = append(out, r.ID+": "+strings.Join(ways, " "))
	}
	return out
}

func (d *drawn) through(t *testing.T) []string {
	t.Helper()
	list, _, _ := Through(d.features)
	for _, r := range list {
		checkRoad(t, &r)
	}
	return told(list)
}

// checkRoad compares what a road says of itself with its line.
func checkRoad(t *testing.T, r *routes.Route) {
	t.Helper()
	if len(r.Ways) == 0 || r.Ways[0].FromM != 0 || math.Abs(r.Ways[len(r.Ways)-1].ToM-r.LengthM) > 1e-6 {
		t.Errorf("%s: its ways cover %v of %.1f m", r.ID, r.Ways, r.LengthM)
	}
	for i := 1; i < len(r.Ways); i++ {
		if math.Abs(r.Ways[i].FromM-r.Ways[i-1].ToM) > 1e-6 {
			t.Errorf("%s: a gap between its ways at %.1f m", r.ID, r.Ways[i].FromM)
		}
	}
	for i := 1; i < len(r.Line); i++ {
		if lineM(r.Line[i-1:i+1]) > 3000 {
			t.Errorf("%s: it jumps %.0f m", r.ID, lineM(r.Line[i-1:i+1]))
		}
	}
}

func TestWhatGoesOnInWhat(t *testing.T) {
	for name, c := range map[string]struct {
		draw func(d *drawn)
		want []string
	}{
		"one ref across a change of name, one piece drawn the other way": {func(d *drawn) {
			d.road("ref=7 name=A", 0, 0, 500, 0)
			d.road("ref=7 name=B", 1000, 50, 500, 0)
			d.road("ref=7 name=C bridge=yes", 1000, 50, 1500, 80)
		}, []string{"7: 1 -2 3"}},
		"a side road ends where the ref goes on round a corner": {func(d *drawn) {
			d.road("ref=7", 0, 0, 500, 0)
			d.road("ref=7", 500, 0, 550, 500)
			d.road("ref=8", 500, 0, 1000, 0)
		}, []string{"7: 1 2", "8: 3"}},
		"no ref: the straightest, and of one class": {func(d *drawn) {
			d.road("highway=primary", 0, 0, 500, 0)
			d.road("highway=primary", 500, 0, 1000, 60)
			d.road("highway=tertiary", 500, 0, 1000, -20)
		}, []string{"highway=primary: 1 2", "highway=tertiary: 3"}},
		"a hairpin where pieces of one name meet": {func(d *drawn) {
			d.road("name=Pass", 0, 0, 500, 0)
			d.road("name=Pass", 500, 0, 510, 10, 0, 40)
		}, []string{"Pass: 1 2"}},
		"two ways between two places, of two names, are two roads": {func(d *drawn) {
			d.road("name=North", 0, 0, 500, 400, 1000, 0)
			d.road("name=South", 0, 0, 500, -400, 1000, 0)
		}, []string{"North: 1", "South: 2"}},
		"a road under a bridge shares no node": {func(d *drawn) {
			d.road("ref=1", 0, 0, 500, 0)
			d.road("ref=1 bridge=yes layer=1", 500, 0, 600, 0)
			d.road("ref=1", 600, 0, 1000, 0)
			d.road("ref=2", 550, -500, 550, 500)
		}, []string{"1: 1 2 3", "2: 4"}},
		"a loop": {func(d *drawn) {
			d.road("name=Loop", 0, 0, 300, 0, 300, 300)
			d.road("name=Loop", 0, 0, 0, 300, 300, 300)
		}, []string{"Loop: 1 -2"}},
		"dual carriageways stay two roads": {func(d *drawn) {
			d.road("ref=A1 oneway=yes highway=motorway", 0, 0, 1500, 0)
			d.road("ref=A1 oneway=yes highway=motorway", 1500, 0, 3000, 0)
			d.road("ref=A1 oneway=yes highway=motorway", 3000, 30, 1500, 30)
			d.road("ref=A1 oneway=yes highway=motorway", 1500, 30, 0, 30)
		}, []string{"A1 E: 1 2", "A1 W: 3 4"}},
		"an island in a two-way road": {func(d *drawn) {
			d.road("ref=5", 0, 0, 500, 0)
			d.road("ref=5 oneway=yes", 500, 0, 550, -10, 600, 0)
			d.road("ref=5 oneway=yes", 600, 0, 550, 10, 500, 0)
			d.road("ref=5", 600, 0, 1200, 0)
		}, []string{"5: 1 2 4"}},
		"a carriageway of over a kilometre is a road of its own": {func(d *drawn) {
			d.road("ref=5", 0, 0, 500, 0)
			d.road("ref=5 oneway=yes", 500, 0, 1000, -30, 1600, -30, 2100, 0)
			d.road("ref=5 oneway=yes", 2100, 0, 1600, 30, 1000, 30, 500, 0)
			d.road("ref=5", 2100, 0, 3000, 0)
		}, []string{"5 E: 2", "5 W: 3", "5@46.00N8.00E: 1", "5@46.00N8.03E: 4"}},
		"straight through a roundabout, by the half that eastbound traffic takes": {func(d *drawn) {
			d.ring(520, 0)
			d.road("ref=9", 0, 0, 500, 0)
			d.road("ref=9", 540, 0, 1100, 0)
			d.road("ref=10", 520, 20, 520, 600)
		}, []string{"10: 4", "9: 2 1 3"}},
		"through a roundabout whose arms are one-way": {func(d *drawn) {
			d.ring(520, 0)
			d.road("ref=9", 0, 0, 470, 0)
			d.road("ref=9 oneway=yes", 470, 0, 490, -8, 520-20*math.Cos(math.Pi/6), -10)
			d.road("ref=9 oneway=yes", 520-20*math.Cos(math.Pi/6), 10, 490, 8, 470, 0)
			d.road("ref=9 oneway=yes", 520+20*math.Cos(math.Pi/6), -10, 550, -8, 570, 0)
			d.road("ref=9 oneway=yes", 570, 0, 550, 8, 520+20*math.Cos(math.Pi/6), 10)
			d.road("ref=9", 570, 0, 1200, 0)
		}, []string{"9: 2 3 1 5 7"}},
		"the arms of a roundabout drawn as one line": {func(d *drawn) {
			d.ring(520, 0)
			d.road("ref=9", 0, 0, 500, 0)
			d.road("ref=9 oneway=yes", 520+20*math.Cos(math.Pi/6), -10, 570, 0, 520+20*math.Cos(math.Pi/6), 10)
			d.road("ref=9", 570, 0, 1200, 0)
		}, []string{"9: 2 1 3 4"}},
	} {
		var d drawn
		c.draw(&d)
		got := d.through(t)
		sort.Strings(c.want)
		sort.Strings(got)
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

func TestStubsAreSummedUp(t *testing.T) {
	var d drawn
	d.road("ref=1", 0, 0, 1000, 0)
	for i := range 30 {
		d.road("highway=service", float64(30*i), 0, float64(30*i), 50)
	}
	roads, left, notes := Through(d.features)
	if len(roads) != 1 || len(left) != 1 || left[0].Count != 30 || math.Abs(left[0].LengthM-1500) > 5 || len(notes) != 0 {
		t.Errorf("%v, left out %v, notes %v", told(roads), left, notes)
	}
}

// A newer extract has other numbers, another order and roads cut at other places: the
// roads keep their ids and their lines.
func TestRoadsAreStable(t *testing.T) {
	for seed := uint64(1); seed <= 40; seed++ {
		rng := rand.New(rand.NewPCG(seed, 18))
		d := drawnNetwork(rng)
		before, _, _ := Through(d.features)
		again := redrawn(rng, d.features)
		after, _, _ := Through(again)
		a, b := lineByID(before), lineByID(after)
		for id, line := range a {
			if !slices.Equal(line, b[id]) {
				t.Fatalf("seed %d: road %q of %d vertices has %d now; ids %q, then %q", seed, id, len(line), len(b[id]), told(before), told(after))
			}
		}
		if len(a) != len(b) {
			t.Fatalf("seed %d: %q, then %q", seed, told(before), told(after))
		}
	}
}

func lineByID(list []routes.Route) map[string]orb.LineString {
	out := map[string]orb.LineString{}
	for _, r := range list {
		out[r.ID] = r.Line
	}
	return out
}

// drawnNetwork is a grid of roads with bends: rows have refs, columns names; some
// pieces are bridges.
func drawnNetwork(rng *rand.Rand) *drawn {
	d := &drawn{}
	const n = 5
	var p [n][n][2]float64
	for i := range n {
		for k := range n {
			p[i][k] = [2]float64{float64(k)*700 + 100*rng.Float64(), float64(i)*700 + 100*rng.Float64()}
		}
	}
	line := func(tags string, a, b [2]float64) {
		if rng.IntN(4) == 0 {
			tags += " bridge=yes"
		}
		mx, my := (a[0]+b[0])/2+40*rng.Float64(), (a[1]+b[1])/2+40*rng.Float64()
		d.road(tags, a[0], a[1], (a[0]+mx)/2, (a[1]+my)/2+10, mx, my, b[0], b[1])
	}
	for i := range n {
		for k := range n - 1 {
			line(fmt.Sprintf("highway=primary ref=R%d", i), p[i][k], p[i][k+1])
			line(fmt.Sprintf("highway=secondary name=Lane_%c", 'A'+i), p[k][i], p[k+1][i])
		}
	}
	return d
}

// redrawn cuts some lines, turns some round, and mixes their order and numbers.
func redrawn(rng *rand.Rand, list []routes.Feature) []routes.Feature {
	var out []routes.Feature
	for _, f := range list {
		if len(f.Line) > 3 && rng.IntN(2) == 0 {
			k := 1 + rng.IntN(len(f.Line)-2)
			out = append(out, part(f, 0, k), part(f, k, len(f.Line)-1))
			continue
		}
		out = append(out, f)
	}
	rng.Shuffle(len(out), func(i, k int) { out[i], out[k] = out[k], out[i] })
	for i := range out {
		out[i].Place.Feature = 1000 + i
		if rng.IntN(3) == 0 {
			line := slices.Clone(out[i].Line)
			slices.Reverse(line)
			out[i].Line = line
		}
	}
	return out
}

// A line without a length, as extracts have them, is no road of a kept network.
func TestKeptRoadsHaveALength(t *testing.T) {
	var d drawn
	d.road("highway=primary ref=1", 0, 0, 1000, 0)
	d.road("highway=primary ref=1 junction=roundabout", 1000, 0, 1000, 0)
	d.road("highway=primary ref=1", 1000, 0, 2000, 0)
	_, _, _, all, j := through(d.features)
	s := Summary{onward: newOnwardIndex(all, j, nil)}
	if len(s.Kept()) == 0 {
		t.Fatal("no road")
	}
	for _, r := range s.Kept() {
		if !(r.LengthM > 0) || len(r.Lines) == 0 {
			t.Errorf("%s: %v m, %d lines", r.ID, r.LengthM, len(r.Lines))
		}
	}
}

// A road with a number is called by a name only where the name is that of at least half of it.
func TestANameOfLessThanHalfIsNotTheRoads(t *testing.T) {
	for nameM, want := range map[float64]string{400: "CG 2", 1600: "Tunnel Road"} {
		var d drawn
		d.road("highway=primary ref=CG_2 name=Tunnel_Road", 0, 0, nameM, 0)
		d.road("highway=primary ref=CG_2", nameM, 0, 2000, 0)
		list, _, _ := Through(d.features)
		if len(list) != 1 || list[0].Name != want || list[0].Ref != "CG 2" {
			t.Errorf("named over %.0f m of 2,000: %+v", nameM, list)
		}
	}
}
