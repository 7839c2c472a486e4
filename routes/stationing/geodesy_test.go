package stationing

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"gradeline/routes"
)

func dms(d, m, s float64) float64 { return d + m/60 + s/3600 }

// Geoscience Australia's worked example, Flinders Peak to Buninyong
// (published), is on GRS 80, whose flattening differs from WGS 84's in the 9th
// digit: 0.1 mm at most.
func TestFlindersPeakBuninyong(t *testing.T) {
	a := orb.Point{dms(144, 25, 29.52440), -dms(37, 57, 3.72030)}
	b := orb.Point{dms(143, 55, 35.38390), -dms(37, 39, 10.15610)}
	lengthM, azimuthDeg := Inverse(a, b)
	if math.Abs(lengthM-54972.271) > 0.001 {
		t.Errorf("length %.4f m, published 54,972.271 m", lengthM)
	}
	if want := dms(306, 52, 5.37); math.Abs(azimuthDeg-want) > 0.01/3600 {
		t.Errorf("azimuth %.7f°, published %.7f°", azimuthDeg, want)
	}
	if d := DistanceM(a, b); d != lengthM {
		t.Errorf("DistanceM %v, Inverse %v", d, lengthM)
	}
	if p := Direct(a, azimuthDeg, lengthM); DistanceM(p, b) > 1e-6 {
		t.Errorf("Direct ends %g m from Buninyong", DistanceM(p, b))
	}
	r := routeOf(t, orb.LineString{a, b})
	if math.Abs(r.LengthM-54972.271) > 0.001 {
		t.Errorf("a route of it is %.4f m long", r.LengthM)
	}
}

// Rows of GeographicLib's tests: the first published, the others second-hand
// from its short test set.
func TestGeographicLibRows(t *testing.T) {
	if d := DistanceM(orb.Point{122.32875, -41.22777}, orb.Point{130.37946, -7.57291}); math.Abs(d-3812686.035106) > 1e-5 {
		t.Errorf("%.6f m, published 3,812,686.035106 m", d)
	}
	for _, c := range []struct{ lat1, azi1, s12, lat2, lon2 float64 }{
		{23.104245923137, 108.788775202534, 249.4508219, 23.103520430280, 0.002305237470},
		{19.707097385334, 20.996796804557, 76.1478894, 19.707739582810, 0.000260256428},
	} {
		p := Direct(orb.Point{0, c.lat1}, c.azi1, c.s12)
		if math.Abs(p[1]-c.lat2) > 1e-11 || math.Abs(p[0]-c.lon2) > 1e-11 {
			t.Errorf("direct %v, want %v %v", p, c.lon2, c.lat2)
		}
		if d := DistanceM(orb.Point{0, c.lat1}, p); math.Abs(d-c.s12) > 1e-6 {
			t.Errorf("inverse %.7f m, want %.7f m", d, c.s12)
		}
	}
}

// A haversine on a sphere of 6,371,008.8 m (the mean radius) is 0.28 % short of
// WGS 84 going east at 45.5° N (computed): why lengths here are ellipsoidal.
func TestSphereIsShort(t *testing.T) {
	a, b := orb.Point{0, 45.5}, orb.Point{0.01, 45.5}
	rad := math.Pi / 180
	h := sq(math.Cos(45.5*rad)) * sq(math.Sin(0.005*rad))
	sphereM := 2 * 6371008.8 * math.Asin(math.Sqrt(h))
	if short := 100 * (1 - sphereM/DistanceM(a, b)); math.Abs(short-0.28) > 0.005 {
		t.Errorf("%.3f %% short, computed 0.28 %%", short)
	}
}

func sq(v float64) float64 { return v * v }

// geodSolve runs GeographicLib's own program on lines of input.
func geodSolve(t testing.TB, in string, args ...string) []string {
	t.Helper()
	cmd := exec.Command("GeodSolve", args...)
	cmd.Stdin = strings.NewReader(in)
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("GeodSolve (Debian package geographiclib-tools): %v", err)
	}
	return strings.Split(strings.TrimSpace(string(out)), "\n")
}

// Lengths and azimuths against GeodSolve on pairs from 1 m apart to antipodal.
func TestAgainstGeodSolve(t *testing.T) {
	rng := rand.New(rand.NewPCG(20, 26))
	var in strings.Builder
	var pairs [][2]orb.Point
	for i := range 400 {
		a := orb.Point{360*rng.Float64() - 180, 170*rng.Float64() - 85}
		var b orb.Point
		switch i % 4 {
		case 0: // anywhere
			b = orb.Point{360*rng.Float64() - 180, 180*rng.Float64() - 90}
		case 1: // nearly antipodal
			b = orb.Point{turnDeg(a[0] + 180 + 0.6*(rng.Float64()-0.5)), -a[1] + 0.6*(rng.Float64()-0.5)}
		default: // a segment of a road, 1 m to 10 km
			b = Direct(a, 360*rng.Float64(), math.Pow(10, 4*rng.Float64()))
		}
		pairs = append(pairs, [2]orb.Point{a, b})
		fmt.Fprintf(&in, "%.17g %.17g %.17g %.17g\n", a[1], a[0], b[1], b[0])
	}
	worstM, worstDeg := 0.0, 0.0
	for i, row := range geodSolve(t, in.String(), "-i", "-p", "9") {
		var azi1, azi2, s12 float64
		if _, err := fmt.Sscan(row, &azi1, &azi2, &s12); err != nil {
			t.Fatal(row, err)
		}
		lengthM, azimuthDeg := Inverse(pairs[i][0], pairs[i][1])
		worstM = math.Max(worstM, math.Abs(lengthM-s12))
		// An azimuth is worth as much as the end point that it moves.
		if s12 < 1.9e7 {
			worstDeg = math.Max(worstDeg, math.Abs(turnDeg(azimuthDeg-azi1))*math.Min(1, s12/1000))
		}
	}
	if worstM > 2e-8 || worstDeg > 1e-9 {
		t.Errorf("lengths differ by up to %g m, azimuths by %g°", worstM, worstDeg)
	}
	t.Logf("400 pairs: lengths within %.2g m, azimuths within %.2g°", worstM, worstDeg)
}

// A real route in 42 pieces (vector/testdata/heightgraph, see there) is one
// route; its length is GeodSolve's sum, and no height is in it.
func TestRealRouteLength(t *testing.T) {
	text, err := os.ReadFile("../vector/testdata/heightgraph/waytypes.geojson")
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Features []struct {
			Geometry struct {
				Coordinates [][3]float64 `json:"coordinates"`
			} `json:"geometry"`
		} `json:"features"`
	}
	if err := json.NewDecoder(bufio.NewReader(bytes.NewReader(text))).Decode(&doc); err != nil {
		t.Fatal(err)
	}
	var in strings.Builder
	var fs []routes.Feature
	slopedM := 0.0
	for i, f := range doc.Features {
		var line orb.LineString
		for j, c := range f.Geometry.Coordinates {
			line = append(line, orb.Point{c[0], c[1]})
			if j > 0 {
				p := f.Geometry.Coordinates[j-1]
				fmt.Fprintf(&in, "%.17g %.17g %.17g %.17g\n", p[1], p[0], c[1], c[0])
				slopedM += math.Hypot(DistanceM(orb.Point{p[0], p[1]}, orb.Point{c[0], c[1]}), c[2]-p[2])
			}
		}
		fs = append(fs, feature(i+1, line, "route", "tour"))
	}
	want := 0.0
	for _, row := range geodSolve(t, in.String(), "-i", "-p", "9") {
		var azi1, azi2, s12 float64
		if _, err := fmt.Sscan(row, &azi1, &azi2, &s12); err != nil {
			t.Fatal(row, err)
		}
		want += s12
	}
	rs, notes := Assemble(fs)
	if len(rs) != 1 || rs[0].FeatureSpan != 42 {
		t.Fatalf("%d routes; %v", len(rs), notes)
	}
	// The line turns back on itself nowhere by a slip: nothing was cleaned away.
	if math.Abs(rs[0].LengthM-want) > 1e-6 {
		t.Errorf("%.6f m, GeodSolve's sum %.6f m", rs[0].LengthM, want)
	}
	if slopedM < want+1 {
		t.Errorf("its heights would add %.2f m: the check needs some", slopedM-want)
	}
	t.Logf("%.1f m in 42 pieces; %.1f m longer with its heights", want, slopedM-want)
}

// Turned round, a route has the same length, structures mirrored, and stations
// at the same places.
func TestReverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		line := winding(rng, 2+rng.IntN(300))
		f := feature(1, line)
		lengthM := stationsM(line)[len(line)-1]
		f.Structures = []routes.Structure{{Kind: routes.Tunnel, FromM: 0.2 * lengthM, ToM: 0.3 * lengthM}}
		g := feature(1, reverseLine(line))
		g.Structures = []routes.Structure{{Kind: routes.Tunnel, FromM: 0.7 * lengthM, ToM: 0.8 * lengthM}}
		a, _ := Assemble([]routes.Feature{f})
		b, _ := Assemble([]routes.Feature{g})
		if math.Abs(a[0].LengthM-b[0].LengthM) > 1e-7 {
			t.Fatalf("%v and %v m", a[0].LengthM, b[0].LengthM)
		}
		sa, sb := a[0].Structures[0], b[0].Structures[0]
		if math.Abs(sa.FromM+sb.ToM-lengthM) > 1e-6 || math.Abs(sa.ToM+sb.FromM-lengthM) > 1e-6 {
			t.Fatalf("%+v and %+v on %v m", sa, sb, lengthM)
		}
		wa, wb := newWalker(a[0].Line, a[0].VertexM), newWalker(b[0].Line, b[0].VertexM)
		n := 1 + int(lengthM/7)
		back := make([]orb.Point, n+1)
		for i := range n + 1 {
			back[n-i] = wb.pointAt(float64(i) / float64(n) * lengthM)
		}
		for i := range n + 1 {
			if d := DistanceM(wa.pointAt(float64(i)/float64(n)*lengthM), back[i]); d > 1e-6 {
				t.Fatalf("station %d of %d is %g m off", i, n, d)
			}
		}
	})
}

// On a long segment the stations follow the straight line in longitude and
// latitude, evenly to the error stated at legM.
func TestLongSegment(t *testing.T) {
	a, b := orb.Point{10, 58}, orb.Point{12, 60}
	r := routeOf(t, orb.LineString{a, b})
	w := newWalker(r.Line, r.VertexM)
	prev := a
	const stepM = 500.0
	for s := stepM; s < r.LengthM; s += stepM {
		p := w.pointAt(s)
		if side := math.Abs((p[1] - 58) - (p[0] - 10)); side > 1e-12 {
			t.Fatalf("station %g m is %g° off the straight line", s, side)
		}
		if d := DistanceM(prev, p); math.Abs(d-stepM) > 0.2 {
			t.Fatalf("stations at %g m are %.3f m apart", s, d)
		}
		prev = p
	}
}

func BenchmarkDistance(b *testing.B) {
	p, q := orb.Point{10, 46}, orb.Point{10.0003, 46.0002}
	for b.Loop() {
		if DistanceM(p, q) <= 0 {
			b.Fatal("no distance")
		}
	}
}
