package stationing

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// plane is a surface whose heights are metres north and east of a place, so
// that a height tells where it was read. Outside its box there is nothing.
type plane struct {
	origin     orb.Point
	eastW      float64
	northW     float64
	cellM      float32
	boxDeg     float64
	calls, max int
}

func (s *plane) Sample(ctx context.Context, points []terrain.Point, out []terrain.Sample) error {
	s.calls++
	s.max = max(s.max, len(points))
	m := metricAt(s.origin[1])
	for i, p := range points {
		e, n := m.deltaM(s.origin, orb.Point{p.LonDeg, p.LatDeg})
		out[i] = terrain.Sample{ElevationM: s.eastW*e + s.northW*n, CellM: s.cellM}
		if s.boxDeg > 0 && (math.Abs(turnDeg(p.LonDeg-s.origin[0])) > s.boxDeg || math.Abs(p.LatDeg-s.origin[1]) > s.boxDeg) {
			out[i] = terrain.Sample{ElevationM: 1234, Source: -1, Miss: terrain.Outside} // a number that must not be believed
		}
		if !p.Valid() {
			panic("a point off the ellipsoid")
		}
	}
	return ctx.Err()
}
func (s *plane) Sources() []terrain.Raster { return []terrain.Raster{{Name: "plane.tif"}} }
func (s *plane) Warnings() []string        { return nil }

func routeOf(t testing.TB, line orb.LineString) *routes.Route {
	t.Helper()
	rs, _ := Assemble([]routes.Feature{feature(1, line, "name", "Test Road")})
	if len(rs) != 1 {
		t.Fatalf("%d routes", len(rs))
	}
	return &rs[0]
}

func TestSampleStations(t *testing.T) {
	line := winding(rand.New(rand.NewPCG(5, 5)), 2000)
	r := routeOf(t, line)
	s := &plane{origin: line[0], northW: 1, cellM: 10}
	g, err := Sample(context.Background(), s, r, Options{HalfWidthM: -1})
	if err != nil {
		t.Fatal(err)
	}
	n := g.Count()
	if n != int(math.Ceil(r.LengthM/5))+1 || math.Abs(g.StepM*float64(n-1)-r.LengthM) > 1e-6 {
		t.Fatalf("%d stations of %f m on %f m", n, g.StepM, r.LengthM)
	}
	if len(g.OffsetM) != 17 || g.OffsetM[0] != -16 || g.OffsetM[8] != 0 || len(g.SectionM) != 17*n || len(g.RadiusM) != n || len(g.Miss) != n {
		t.Fatalf("offsets %v, %d heights", g.OffsetM, len(g.SectionM))
	}
	if g.Points[n-1] != line[len(line)-1] || g.Points[0] != line[0] {
		t.Error("the ends are not the line's ends")
	}
	// Stations lie on the line at their own distance: along a chord a little less.
	for i := 1; i < n; i++ {
		if d := DistanceM(g.Points[i-1], g.Points[i]); d > g.StepM+1e-5 || d < 0.9*g.StepM {
			t.Fatalf("stations %d and %d are %f m apart, step %f m", i-1, i, d, g.StepM)
		}
	}
	if s.max > 256<<10 {
		t.Errorf("%d points in one call", s.max)
	}
}

// To the right of a road going north is east.
func TestOffsetSide(t *testing.T) {
	for _, c := range []struct{ azimuthDeg, east, north float64 }{{0, 1, 0}, {90, 0, -1}, {180, -1, 0}, {270, 0, 1}, {45, math.Sqrt2 / 2, -math.Sqrt2 / 2}} {
		a := orb.Point{23, 61}
		line := orb.LineString{a, Direct(a, c.azimuthDeg, 300)}
		m := metricAt(a[1])
		s := &plane{origin: a, eastW: 1, cellM: 2}
		g, err := Sample(context.Background(), s, routeOf(t, line), Options{StepM: 10, HalfWidthM: 32, OffsetStepM: 1})
		if err != nil {
			t.Fatal(err)
		}
		w := len(g.OffsetM)
		i := 3
		for j, off := range g.OffsetM {
			e, _ := m.deltaM(a, g.Points[i])
			if got, want := float64(g.SectionM[i*w+j]), e+off*c.east; math.Abs(got-want) > 0.002 {
				t.Errorf("azimuth %g: %g m right of the line reads %f m east, want %f", c.azimuthDeg, off, got, want)
			}
		}
	}
}

// A lateral point is as far from the line as it says, within 1 mm at 32 m.
func TestMetricAgainstGeodesic(t *testing.T) {
	for lat := -80.0; lat <= 80; lat += 5 {
		p := orb.Point{12, lat}
		m := metricAt(lat)
		// Over a few metres it is the geodesic to 1 in 10 million.
		const step = 1e-5
		east := DistanceM(orb.Point{12 - step, lat}, orb.Point{12 + step, lat}) / (2 * step)
		north := DistanceM(orb.Point{12, lat - step}, orb.Point{12, lat + step}) / (2 * step)
		if math.Abs(east/m.eastM-1) > 1e-7 || math.Abs(north/m.northM-1) > 1e-7 {
			t.Errorf("latitude %g: a degree is %f by %f m, geodesic %f by %f m", lat, m.eastM, m.northM, east, north)
		}
		for az := 0.0; az < 360; az += 30 {
			sin, cos := math.Sincos(az * math.Pi / 180)
			q := orb.Point{p[0] + 32*sin/m.eastM, p[1] + 32*cos/m.northM}
			if d := DistanceM(q, Direct(p, az, 32)); d > 0.001 {
				t.Errorf("latitude %g, azimuth %g: off by %.2f mm", lat, az, 1000*d)
			}
		}
	}
}

func TestSampleFaults(t *testing.T) {
	line := winding(rand.New(rand.NewPCG(9, 9)), 100)
	r := routeOf(t, line)
	far := &plane{origin: orb.Point{10, 10}, cellM: 10, boxDeg: 1}
	for _, o := range []Options{{}, {StepM: 10}, {HalfWidthM: -1}} {
		_, err := Sample(context.Background(), far, r, o)
		var f *routes.Fault
		if !errors.Is(err, terrain.ErrOutside) || !errors.As(err, &f) || !strings.Contains(err.Error(), "Test Road") || !strings.Contains(err.Error(), "plane.tif") {
			t.Errorf("%+v: %v", o, err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Sample(ctx, &plane{origin: line[0], cellM: 10}, r, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	// Partly outside is no fault, and the misses stay misses.
	part := &plane{origin: line[0], cellM: 10, boxDeg: 0.005}
	g, err := Sample(context.Background(), part, r, Options{})
	if err != nil {
		t.Fatal(err)
	}
	out := 0
	for i, m := range g.Miss {
		if isNaN := math.IsNaN(float64(g.SectionM[i])); isNaN != (m != terrain.Hit) {
			t.Fatalf("station %d: %v with height %v", i, m, g.SectionM[i])
		}
		if m == terrain.Outside {
			out++
		}
	}
	if out == 0 || out == g.Count() {
		t.Errorf("%d of %d outside", out, g.Count())
	}
}

func TestAcrossDateLine(t *testing.T) {
	line := orb.LineString{{179.999, -16.5}, {-179.999, -16.5}, {-179.99, -16.5}}
	r := routeOf(t, line)
	if want := DistanceM(line[0], line[1]) + DistanceM(line[1], line[2]); math.Abs(r.LengthM-want) > 1e-9 || r.LengthM > 1500 {
		t.Fatalf("length %f m, want %f", r.LengthM, want)
	}
	g, err := Sample(context.Background(), &plane{origin: line[0], eastW: 1, cellM: 10}, r, Options{HalfWidthM: 16, OffsetStepM: 2})
	if err != nil {
		t.Fatal(err)
	}
	w := len(g.OffsetM)
	for i := 1; i < g.Count(); i++ {
		if d := g.SectionM[i*w+w/2] - g.SectionM[(i-1)*w+w/2]; math.Abs(float64(d)-g.StepM) > 0.1 {
			t.Fatalf("station %d is %f m east of the one before, step %f m", i, d, g.StepM)
		}
	}
}

// Curves of known radius, drawn with a chord error of up to 1.5 m, densely, and
// in between.
func TestRadiusOfCircles(t *testing.T) {
	for _, radius := range []float64{30, 45, 60, 100, 200, 400, 800, 1200, 2000} {
		for _, chordErrM := range []float64{1.5, 0.5, 0.1} {
			for _, latDeg := range []float64{0, 46, 68} {
				center := orb.Point{9, latDeg}
				chord := math.Sqrt(8 * radius * chordErrM)
				n := max(8, int(2*math.Pi*0.8*radius/chord))
				var line orb.LineString
				for i := 0; i <= n; i++ {
					line = append(line, Direct(center, 288*float64(i)/float64(n), radius))
				}
				r := routeOf(t, line)
				g, err := Sample(context.Background(), &plane{origin: center, cellM: 10}, r, Options{})
				if err != nil {
					t.Fatal(err)
				}
				for i, got := range g.RadiusM {
					s := float64(i) * g.StepM
					if math.Abs(got/radius-1) > 0.1 {
						t.Fatalf("radius %g m, chord error %g m, latitude %g: %.1f m at station %.0f of %.0f", radius, chordErrM, latDeg, got, s, r.LengthM)
					}
				}
			}
		}
	}
}

func TestRadiusElsewhere(t *testing.T) {
	a := orb.Point{9, 46}
	tightest := func(line orb.LineString) float64 {
		g, err := Sample(context.Background(), &plane{origin: a, cellM: 90}, routeOf(t, line), Options{})
		if err != nil {
			t.Fatal(err)
		}
		best := math.Inf(1)
		for _, v := range g.RadiusM {
			best = math.Min(best, v)
		}
		return best
	}
	var straight, noisy orb.LineString
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range 200 {
		p := Direct(a, 60, 12*float64(i))
		straight = append(straight, p)
		noisy = append(noisy, Direct(p, 360*rng.Float64(), 0.4*rng.Float64()))
	}
	if v := tightest(straight); !math.IsInf(v, 1) {
		t.Errorf("a straight line has radius %g m", v)
	}
	if v := tightest(noisy); v < 1000 {
		t.Errorf("a straight line drawn to 0.4 m has radius %g m", v)
	}
	b := Direct(a, 60, 150)
	if v := tightest(orb.LineString{a, b, Direct(b, 150, 150)}); v > 25 {
		t.Errorf("a corner of 90° has radius %g m", v)
	}
	for ahead := 100.0; ahead < 130; ahead += 2.5 {
		b := Direct(a, 60, ahead)
		if v := tightest(orb.LineString{a, b, Direct(b, 150, 230-ahead)}); v > 20 {
			t.Errorf("a corner of 90° after %g m has radius %g m", ahead, v)
		}
	}
	// A road straight, a half turn of 8 m radius, and back: found wherever the
	// stations, 30 m apart, fall.
	for ahead := 300.0; ahead < 330; ahead += 2.5 {
		line := orb.LineString{a, Direct(a, 0, ahead)}
		c := Direct(line[1], 90, 8)
		for az := 285.0; az < 450; az += 15 {
			line = append(line, Direct(c, az, 8))
		}
		end := Direct(c, 90, 8)
		line = append(line, end, Direct(end, 180, 100))
		if v := tightest(line); math.Abs(v/8-1) > 0.15 {
			t.Errorf("a hairpin of 8 m after %g m has radius %.1f m", ahead, v)
		}
	}
}

type flatSurface struct{ *plane }

func (flatSurface) Sample(_ context.Context, points []terrain.Point, out []terrain.Sample) error {
	for i := range points {
		out[i] = terrain.Sample{ElevationM: 1, CellM: 10}
	}
	return nil
}
