package store

import (
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/paulmach/orb"
	"github.com/twpayne/go-geom"
	"github.com/twpayne/go-geom/encoding/wkb"
	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

var nan = math.NaN()

func vertex(x float64) catalog.Vertex {
	return catalog.Vertex{LonDeg: x, LatDeg: x + 1, ElevationM: x + 2, StationM: x + 3}
}

func genLine(t *rapid.T) []catalog.Vertex {
	n := rapid.IntRange(2, 40).Draw(t, "vertices")
	line := make([]catalog.Vertex, n)
	for i := range line {
		line[i] = catalog.Vertex{
			LonDeg: rapid.Float64Range(-180, 180).Draw(t, "lon"), LatDeg: rapid.Float64Range(-90, 90).Draw(t, "lat"),
			ElevationM: rapid.Float64Range(-500, 9000).Draw(t, "z"), StationM: rapid.Float64Range(0, 1e7).Draw(t, "m"),
		}
	}
	return line
}

func TestLinesAreKeptToTheBit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := genLine(t)
		b, _ := lineBlob(nil, line)
		flat := []float64{}
		for _, v := range line {
			flat = append(flat, v.LonDeg, v.LatDeg, v.ElevationM, v.StationM)
		}
		// Another writer of ISO well-known binary (go-geom), status: reference program.
		if body, err := wkb.Marshal(geom.NewLineStringFlat(geom.XYZM, flat), binary.LittleEndian); err != nil || !bytes.Equal(b[blobHeaderLen+envelopeLen:], body) {
			t.Fatalf("%x\nwant %x, %v", b, body, err)
		}
		got, err := lineOf(b)
		if err != nil || !reflect.DeepEqual(got, line) {
			t.Fatalf("%v %v", got, err)
		}
		if bx, ok := blobBox(b); !ok || bx != boxOf(line) {
			t.Fatalf("extent %v", bx)
		}
		for n := range b {
			if n < len(b)-1 && n%7 == 0 {
				if _, err := lineOf(b[:n]); err == nil {
					t.Fatalf("%d of %d bytes were read as a line", n, len(b))
				}
			}
		}
	})
}

// Layout of the blob. Source: OGC 12-128r17 section 2.1.3 (published) and the ISO
// codes 3002 = LINESTRING ZM, 1 = POINT; the bytes are worked out by hand.
func TestBlobLayout(t *testing.T) {
	b := pointBlob(terrain.Point{LonDeg: 1, LatDeg: 2})
	const one, two = "000000000000f03f", "0000000000000040"
	want := "47500003" + "e6100000" + one + one + two + two + "0101000000" + one + two
	if got := hex.EncodeToString(b); got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	l, _ := lineBlob(nil, []catalog.Vertex{vertex(1), vertex(1)})
	if code := binary.LittleEndian.Uint32(l[41:]); code != 3002 || l[40] != 1 || len(l) != 40+9+64 {
		t.Errorf("type %d, %d bytes", code, len(l))
	}
}

func FuzzGeometry(f *testing.F) {
	b, _ := lineBlob(nil, []catalog.Vertex{vertex(1), vertex(5)})
	f.Add(b)
	f.Add(pointBlob(terrain.Point{LonDeg: 1, LatDeg: 2}))
	f.Add([]byte("GP\x00\x11\xe6\x10\x00\x00"))
	f.Add(append(b[:45:45], 0xff, 0xff, 0xff, 0x7f))
	f.Fuzz(func(t *testing.T, b []byte) {
		line, err := lineOf(b)
		if err == nil {
			again, _ := lineBlob(nil, line)
			if back, err := lineOf(again); err != nil || len(back) != len(line) {
				t.Fatalf("%v", err)
			}
		}
		if _, err := pointOf(b); err == nil && len(b) < 29 {
			t.Fatal("a point from too few bytes")
		}
		blobBox(b)
	})
}

// keptStretch is a road as it was saved, and the stretch that is kept of it with its
// second descent.
func keptStretch(t *testing.T) (RouteSurvey, *Stretch) {
	t.Helper()
	c, _ := fresh(t)
	rs := survey("Kestrel Road", 2)
	rs.Profile = plainProfile(50000)
	save(t, c, rs, SaveOptions{})
	s, err := c.Profile(ctx, "kestrel-road-f-11.0")
	if err != nil {
		t.Fatal(err)
	}
	return rs, s
}

func TestProfilesArePacked(t *testing.T) {
	rs, s := keptStretch(t)
	if s.FromM != 9000 || s.StepM != 10 || s.StationM(s.Count()-1) != 17000 {
		t.Errorf("from %v to %v", s.FromM, s.StationM(s.Count()-1))
	}
	for i := range s.Count() {
		k := int(s.StationM(i) / 10)
		if math.Abs(s.ElevationM[i]-rs.Profile.ElevationM[k]) > heightUnitM/2+1e-9 || s.State[i] != rs.Profile.State[k] {
			t.Fatalf("station %v: %v, %v", s.StationM(i), s.ElevationM[i], s.State[i])
		}
		if math.Abs(s.Points[i][0]-rs.Profile.Points[k][0]) > placeUnitDeg || s.RadiusM[i] != rs.Profile.RadiusM[k] {
			t.Fatalf("station %v: %v, radius %v", s.StationM(i), s.Points[i], s.RadiusM[i])
		}
		if math.Abs(s.EaseM[i]-rs.Profile.EaseM[k]) > groundUnitM/2+1e-9 {
			t.Fatalf("station %v: eased by %v, want %v", s.StationM(i), s.EaseM[i], rs.Profile.EaseM[k])
		}
		g, want := s.GroundM[i], rs.Profile.GroundM[k]
		if math.IsNaN(g) != math.IsNaN(want) || math.Abs(g-want) > groundUnitM/2+1e-9 {
			t.Fatalf("station %v: ground %v, want %v", s.StationM(i), g, want)
		}
	}
}

func TestAStretchGivesItsRoutesProfileBack(t *testing.T) {
	rs, s := keptStretch(t)
	p := s.Profile()
	if p.Count() != rs.Profile.Count() || p.LengthM != 50000 || !reflect.DeepEqual(p.Bound, rs.Profile.Bound) || len(p.Structures) != 1 || p.CellM != 10 {
		t.Errorf("%d stations, %v m, bound %+v, structures %v", p.Count(), p.LengthM, p.Bound, p.Structures)
	}
	if got, want := p.ElevationAtM(12345), rs.Profile.ElevationAtM(12345); math.Abs(got-want) > heightUnitM {
		t.Errorf("height %v, want %v", got, want)
	}
	if got, want := p.MeanErrPct(12000, 12200), rs.Profile.MeanErrPct(12000, 12200); math.Abs(got-want) > 1e-3 || got < 1.2*p.Bound.MeanErrPct(200, 0) {
		t.Errorf("bound over 200 m %v, want %v", got, want)
	}
	// the stretch says the same of itself, also over coarser cells
	s.Beside.Coarser = []routes.Part{{FromM: 13000, ToM: 13500, Bound: routes.ErrorModel{ElevationM: 9, EaseShare: 1, SpanM: []float64{100, 1000}, SpanPct: []float64{3, 1}}}}
	p.Coarser = s.Beside.Coarser
	for a := 9500.0; a < 16000; a += 70 {
		if got, want := s.MeanErrPct(a, a+100), p.MeanErrPct(a, a+100); math.Abs(got-want) > 1e-9 {
			t.Fatalf("%v m: bound %v of the stretch, %v of the profile", a, got, want)
		}
	}
	if !math.IsNaN(p.ElevationAtM(100)) || !math.IsNaN(p.Points[10][0]) {
		t.Error("something is known outside the stretch")
	}
}

func TestPackingIsTight(t *testing.T) {
	const seed = 5
	r := rand.New(rand.NewPCG(seed, 6))
	s := Stretch{StepM: 10}
	for i := range 1000 {
		s.ElevationM = append(s.ElevationM, 2000-0.6*float64(i)+5*math.Sin(float64(i)/40))
		s.GroundM = append(s.GroundM, s.ElevationM[i]+r.NormFloat64())
		s.State = append(s.State, routes.Measured)
		s.Points = append(s.Points, orb.Point{11 + 1.2e-4*float64(i), 46 + 1e-4*math.Sin(float64(i)/30)})
		s.RadiusM = append(s.RadiusM, math.Inf(1))
	}
	b, err := s.pack()
	if err != nil || len(b) > 11*s.Count() {
		t.Errorf("%d bytes for %d stations, %v", len(b), s.Count(), err)
	}
	t.Logf("%.1f bytes a station", float64(len(b))/float64(s.Count()))
	if got, err := unpack(b); err != nil || got.Count() != 1000 {
		t.Errorf("%v", err)
	}
}

// Catalogues made before what smoothing took off was kept are read as ever; their
// bounds, which were wider by themselves, lie beside them.
func TestAProfilePackedBeforeIsRead(t *testing.T) {
	s := Stretch{StepM: 10, GroundM: []float64{1, 2}, ElevationM: []float64{1, 2}, State: make([]routes.StationState, 2),
		Points: []orb.Point{{11, 46}, {11.1, 46}}, RadiusM: []float64{80, 90}, Beside: Beside{RouteM: 10, Bound: routes.ErrorModel{EndM: 9}}}
	b, err := s.pack()
	if err != nil {
		t.Fatal(err)
	}
	// by hand: the older layout is the same without the zeros that stand for no ease
	old := []byte{packedMark, packedBefore}
	end := bytes.IndexByte(b, '{')
	b = b[2:]
	end -= 2
	old = append(old, b[:17]...) // from, step, count
	rest := b[17:end]
	half := len(rest) / 2
	for rest[half-1] != 0 {
		half++
	}
	old = append(append(append(old, rest[:half-1]...), rest[half:len(rest)-1]...), b[end:]...)
	got, err := unpack(old)
	if err != nil || got.EaseM != nil || got.Count() != 2 || got.RadiusM[1] != 90 || got.Beside.Bound.EndM != 9 {
		t.Fatalf("%+v, %v", got, err)
	}
	if p := got.Profile(); p.EaseM != nil || p.EasePct(0, 10) != 0 {
		t.Errorf("%v", p.EaseM)
	}
}

func FuzzProfile(f *testing.F) {
	s := Stretch{FromM: 5, StepM: 10, GroundM: []float64{1, nan, 3}, ElevationM: []float64{1, 2, nan}, State: []routes.StationState{0, 4, 5},
		Points: []orb.Point{{11, 46}, {11.1, 46}, {11.2, 46}}, RadiusM: []float64{120, math.Inf(1), 30}, EaseM: []float64{0, -1.5, 0.25}}
	b, err := s.pack()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := unpack(b)
		if err != nil {
			return
		}
		if s.Count() > len(b) {
			t.Fatalf("%d stations from %d bytes", s.Count(), len(b))
		}
		again, err := s.pack()
		if err != nil {
			t.Fatal(err)
		}
		back, err := unpack(again)
		if err != nil || back.Count() != s.Count() {
			t.Fatalf("%v", err)
		}
	})
}

// The box of a filter against a plain walk along the line in small steps.
func TestBoxMeetsLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := []catalog.Vertex{}
		for range rapid.IntRange(2, 5).Draw(t, "n") {
			line = append(line, catalog.Vertex{LonDeg: rapid.Float64Range(-5, 5).Draw(t, "x"), LatDeg: rapid.Float64Range(-5, 5).Draw(t, "y")})
		}
		b := Box{WestDeg: rapid.Float64Range(-6, 5).Draw(t, "w"), SouthDeg: rapid.Float64Range(-6, 5).Draw(t, "s")}
		b.EastDeg, b.NorthDeg = b.WestDeg+rapid.Float64Range(0.1, 3).Draw(t, "dx"), b.SouthDeg+rapid.Float64Range(0.1, 3).Draw(t, "dy")
		const steps = 2000
		inside, near := false, false
		for i := 1; i < len(line); i++ {
			for k := 0; k <= steps; k++ {
				u := float64(k) / steps
				p := terrain.Point{LonDeg: line[i-1].LonDeg + u*(line[i].LonDeg-line[i-1].LonDeg), LatDeg: line[i-1].LatDeg + u*(line[i].LatDeg-line[i-1].LatDeg)}
				inside = inside || b.holds(p)
				wider := Box{b.WestDeg - 0.02, b.SouthDeg - 0.02, b.EastDeg + 0.02, b.NorthDeg + 0.02}
				near = near || wider.holds(p)
			}
		}
		if got := b.meets(line); inside && !got || got && !near {
			t.Fatalf("meets says %v, walked in %v, near %v", got, inside, near)
		}
	})
}

func TestBoxAcrossTheAntimeridian(t *testing.T) {
	c, _ := fresh(t)
	rs := survey("Date Line", 1)
	for i := range rs.Entries[0].Line {
		x := 179.99 + 0.005*float64(i)
		rs.Entries[0].Line[i].LonDeg = math.Remainder(x, 360)
	}
	save(t, c, rs, SaveOptions{})
	for _, tc := range []struct {
		b    Box
		want int
	}{
		{Box{179, 39, -179, 41}, 1}, {Box{179.995, 39, 180, 41}, 1}, {Box{-180, 39, -179.99, 41}, 1},
		{Box{0, 39, 10, 41}, 0}, {Box{-10, 39, 10, 41}, 0}, {Box{170, 50, -170, 60}, 0},
	} {
		if l, err := c.Descents(ctx, Filter{BBox: &tc.b}); err != nil || len(l) != tc.want {
			t.Errorf("%v: %d, %v", tc.b, len(l), err)
		}
	}
}

func TestSlugs(t *testing.T) {
	for name, want := range map[string]string{
		"Kestrel Road": "kestrel-road", "  Grüner  Weg! ": "gruner-weg", "O'Brien’s Hill": "obriens-hill", "SR-20 / US 40": "sr-20-us-40",
		"日本": "", "--": "", "Ægir Øst": "aegir-ost",
	} {
		if got := slugOf(name); got != want {
			t.Errorf("%q gives %q, want %q", name, got, want)
		}
	}
	if got := distance("kestrel", "kestral", 3); got != 1 {
		t.Error(got)
	}
	if got := distance("abc", "xyz123", 2); got != 3 {
		t.Error(fmt.Sprint(got))
	}
}
