package stationing

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// Speeds in the forms of the OpenStreetMap wiki (Key:maxspeed, from memory):
// a mile per hour is exactly 0.44704 m/s.
func TestParseSpeed(t *testing.T) {
	cases := []struct {
		in        string
		mps       float64
		ok, known bool
	}{
		{"50", 50 / 3.6, true, true},
		{"55 mph", 24.5872, true, true},
		{"35mph", 15.6464, true, true},
		{"80 km/h", 80 / 3.6, true, true},
		{" 60 ; 80", 60 / 3.6, true, true},
		{"70;40 mph", 17.8816, true, true},
		{"none", 0, false, true},
		{"signals", 0, false, true},
		{"", 0, false, true},
		{"DE:urban", 0, false, false},
		{"walk", 0, false, false},
		{"0", 0, false, false},
		{"-50", 0, false, false},
		{"500", 0, false, false},
		{"50 knots", 0, false, false},
		{"50;x", 0, false, false},
		{"5e1", 0, false, false},
		{"NaN", 0, false, false},
	}
	for _, c := range cases {
		mps, ok, known := parseSpeed(c.in)
		if ok != c.ok || known != c.known || ok && math.Abs(mps-c.mps) > 1e-9 {
			t.Errorf("%q: %v %v %v, want %v %v %v", c.in, mps, ok, known, c.mps, c.ok, c.known)
		}
	}
}

func TestParseIncline(t *testing.T) {
	nan := math.NaN()
	cases := []struct {
		in   string
		pct  float64
		sign int
		ok   bool
	}{
		{"10%", 10, 1, true}, {"-8%", -8, -1, true}, {"+6 %", 6, 1, true}, {"6", 6, 1, true}, {"0%", 0, 0, true},
		{"7,5%", 7.5, 1, true}, {"\u22125%", -5, -1, true}, {"10°", 17.632698, 1, true}, {"-45°", -100, -1, true},
		{"up", nan, 1, true}, {"Down", nan, -1, true},
		{"yes", 0, 0, false}, {"10-12%", 0, 0, false}, {"120%", 0, 0, false}, {"89°", 0, 0, false}, {"1:10", 0, 0, false}, {"", 0, 0, false}, {"1e1%", 0, 0, false},
	}
	for _, c := range cases {
		pct, sign, ok := parseIncline(c.in)
		same := math.Abs(pct-c.pct) < 1e-6 || math.IsNaN(pct) && math.IsNaN(c.pct)
		if ok != c.ok || ok && (sign != c.sign || !same) {
			t.Errorf("%q: %v %v %v", c.in, pct, sign, ok)
		}
	}
}

func TestStructureAndOneWayTags(t *testing.T) {
	for v, want := range map[string]bool{"yes": true, "viaduct": true, "movable": true, "no": false, "": false, "0": false} {
		if _, ok := structureOf(map[string]string{"bridge": v}); ok != want {
			t.Errorf("bridge=%s: %v", v, ok)
		}
		if k, ok := structureOf(map[string]string{"tunnel": v, "bridge": "no"}); ok != want || ok && k != routes.Tunnel {
			t.Errorf("tunnel=%s: %v", v, ok)
		}
	}
	for v, want := range map[string]int{"yes": 1, "1": 1, "true": 1, "-1": -1, "reverse": -1, "no": 0, "": 0, "reversible": 0} {
		if got := parseOneWay(v); got != want {
			t.Errorf("oneway=%s: %d", v, got)
		}
	}
}

// No text, however odd, makes a limit or a grade that no road has, or breaks
// the assembly of the route that carries it.
func FuzzTags(f *testing.F) {
	for _, s := range []string{"50", "55 mph", "none", "-8%", "10°", "up", "yes", "-1", "60;80 mph", "\u2212" + "3,5 %", "1e9", "DE:urban", "\xff"} {
		f.Add(s, s)
	}
	line := winding(newRand(4), 12)
	f.Fuzz(func(t *testing.T, a, b string) {
		if mps, ok, known := parseSpeed(a); ok && (!known || !(mps > 0 && mps <= maxMPS)) {
			t.Fatalf("speed %q: %v", a, mps)
		}
		if pct, sign, ok := parseIncline(a); ok && (math.Abs(pct) > 100.0001 || sign < -1 || sign > 1 || math.IsNaN(pct) && sign == 0) {
			t.Fatalf("incline %q: %v %d", a, pct, sign)
		}
		rs, _ := Assemble([]routes.Feature{
			feature(1, line[:6], "route", "R", "maxspeed", a, "maxspeed:hgv:forward", b, "incline", a, "oneway", b, "bridge", a, "tunnel", b, "name", a, "ref", b),
			feature(2, reverseLine(line[5:]), "route", "R", "maxspeed:backward", b, "incline", b, "oneway", a, "tunnel", a),
		})
		if len(rs) != 1 || len(rs[0].Line) != len(line) {
			t.Fatalf("%d routes", len(rs))
		}
		checkStretches(t, &rs[0])
	})
}

// Structures lists of any kind end up ordered, inside the route, not overlapping.
func FuzzStructures(f *testing.F) {
	f.Add(uint64(1), 10.0, 20.0, 15.0, 80.0, -5.0, 1e12)
	f.Add(uint64(2), 0.0, 1e-9, 1e300, math.Inf(1), 30.0, 30.0)
	f.Fuzz(func(t *testing.T, seed uint64, a, b, c, d, e, g float64) {
		rng := newRand(seed)
		line := winding(rng, 8)
		ft := feature(1, line)
		for _, p := range [][2]float64{{a, b}, {c, d}, {e, g}, {b, c}} {
			ft.Structures = append(ft.Structures, routes.Structure{Kind: routes.StructureKind(rng.IntN(2)), FromM: p[0], ToM: p[1]})
		}
		rs, _ := Assemble([]routes.Feature{ft})
		if len(rs) != 1 {
			t.Fatalf("%d routes", len(rs))
		}
		checkStretches(t, &rs[0])
	})
}

// Lines of any shape, near the poles and the date line too, give routes whose
// stations ascend, or a note, and sample without a point off the ellipsoid.
func FuzzLines(f *testing.F) {
	f.Add(uint64(1), 8.0, 46.0, 10.0)
	f.Add(uint64(2), 180.0, -16.0, 0.001)
	f.Add(uint64(3), -180.0, 88.999, 1e6)
	f.Add(uint64(4), 0.0, 90.0, 1.0)
	f.Add(uint64(5), math.NaN(), 1e300, 1e-6)
	f.Fuzz(func(t *testing.T, seed uint64, lonDeg, latDeg, spreadM float64) {
		rng := newRand(seed)
		at := func() orb.Point {
			s := spreadM * (rng.Float64() - 0.5)
			return orb.Point{turnDeg(lonDeg + s/1e5), latDeg + s/1e5*(rng.Float64()-0.5)}
		}
		var fs []routes.Feature
		for i := range 1 + rng.IntN(5) {
			var line orb.LineString
			for range rng.IntN(20) {
				p := at()
				if n := len(line); n > 1 && rng.IntN(3) == 0 {
					p = line[rng.IntN(n)] // back to where it was
				}
				line = append(line, p)
			}
			fs = append(fs, feature(i+1, line, "route", "F"))
		}
		rs, notes := Assemble(fs)
		if len(rs) == 0 && len(notes) == 0 {
			t.Fatal("neither a route nor a note")
		}
		for _, r := range rs {
			for i := 1; i < len(r.Line); i++ {
				if !(r.VertexM[i] > r.VertexM[i-1]) {
					t.Fatalf("stations %v", r.VertexM)
				}
			}
			if r.LengthM > 1e6 {
				continue
			}
			g, err := Sample(t.Context(), &plane{origin: r.Line[0], cellM: 10}, &r, Options{StepM: math.Max(10, r.LengthM/500), HalfWidthM: 16, OffsetStepM: 4})
			if err != nil {
				t.Fatal(err)
			}
			for i, v := range g.RadiusM {
				if !(v > 0) {
					t.Fatalf("radius %v at station %d", v, i)
				}
			}
		}
	})
}

type failer interface{ Fatalf(string, ...any) }

func checkStretches(t failer, r *routes.Route) {
	prev := 0.0
	for _, s := range r.Structures {
		if !(s.FromM >= prev && s.ToM > s.FromM && s.ToM <= r.LengthM+1e-6) || !s.Flagged {
			t.Fatalf("structures %+v on %v m", r.Structures, r.LengthM)
		}
		prev = s.ToM
	}
	for _, l := range r.Limits {
		if !(l.FromM >= 0 && l.ToM > l.FromM && l.ToM <= r.LengthM+1e-6 && l.SpeedMPS > 0) || !l.Forward && !l.Backward {
			t.Fatalf("limits %+v", r.Limits)
		}
	}
	if !utf8.ValidString(r.ID) && strings.TrimSpace(r.ID) == "" {
		t.Fatalf("ID %q", r.ID)
	}
}
