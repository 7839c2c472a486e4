package store

import (
	"bytes"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

var nan = math.NaN()

// keptStretch is a road as it was saved, and the stretch that is kept of it with its
// second descent.
func keptStretch(t *testing.T) (RouteSurvey, *routes.Profile) {
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
	if s.OriginM != 9000 || s.StepM != 10 || s.StationM(s.Count()-1) != 17000 {
		t.Errorf("from %v to %v", s.OriginM, s.StationM(s.Count()-1))
	}
	for i := range s.Count() {
		k := int(s.StationM(i) / 10)
		if math.Abs(s.ElevationM[i]-rs.Profile.ElevationM[k]) > heightUnitM/2+1e-9 || s.State[i] != rs.Profile.State[k] {
			t.Fatalf("station %v: %v, %v", s.StationM(i), s.ElevationM[i], s.State[i])
		}
		if math.Abs(s.Points[i][0]-rs.Profile.Points[k][0]) > placeUnitDeg || s.RadiusM[i] != rs.Profile.RadiusM[k] {
			t.Fatalf("station %v: %v, radius %v", s.StationM(i), s.Points[i], s.RadiusM[i])
		}
		if math.Abs(s.EaseM[i]-rs.Profile.EaseM[k]) > groundWasM/2+1e-9 {
			t.Fatalf("station %v: eased by %v, want %v", s.StationM(i), s.EaseM[i], rs.Profile.EaseM[k])
		}
		g, want := s.GroundM[i], rs.Profile.GroundM[k]
		if math.IsNaN(g) != math.IsNaN(want) || math.Abs(g-want) > groundUnitM/2+1e-9 {
			t.Fatalf("station %v: ground %v, want %v", s.StationM(i), g, want)
		}
	}
}

func TestAKeptStretchSaysOfItselfWhatTheWholeProfileSays(t *testing.T) {
	rs, p := keptStretch(t)
	if p.Count() != 801 || p.LengthM != 50000 || !reflect.DeepEqual(p.Bound, rs.Profile.Bound) || len(p.Structures) != 1 || p.CellM != 10 {
		t.Errorf("%d stations, %v m, bound %+v, structures %v", p.Count(), p.LengthM, p.Bound, p.Structures)
	}
	if got, want := p.ElevationAtM(12345), rs.Profile.ElevationAtM(12345); math.Abs(got-want) > heightUnitM {
		t.Errorf("height %v, want %v", got, want)
	}
	if got, want := p.MeanErrPct(12000, 12200), rs.Profile.MeanErrPct(12000, 12200); math.Abs(got-want) > 1e-3 || got < 1.2*p.Bound.MeanErrPct(200, 0) {
		t.Errorf("bound over 200 m %v, want %v", got, want)
	}
	// also over coarser cells
	p.Coarser = []routes.Part{{FromM: 13000, ToM: 13500, Bound: routes.ErrorModel{ElevationM: 9, EaseShare: 1, SpanM: []float64{100, 1000}, SpanPct: []float64{3, 1}}}}
	rs.Profile.Coarser = p.Coarser
	for a := 9500.0; a < 16000; a += 70 {
		if got, want := p.MeanErrPct(a, a+100), rs.Profile.MeanErrPct(a, a+100); math.Abs(got-want) > 2*1.5*groundWasM {
			t.Fatalf("%v m: bound %v of the stretch, %v of the profile", a, got, want)
		}
	}
	if !math.IsNaN(p.ElevationAtM(100)) || !math.IsNaN(p.PointAt(100)[0]) {
		t.Error("something is known outside the stretch")
	}
}

func TestPackingIsTight(t *testing.T) {
	const seed = 5
	r := rand.New(rand.NewPCG(seed, 6))
	s := &routes.Profile{StepM: 10}
	for i := range 1000 {
		s.ElevationM = append(s.ElevationM, 2000-0.6*float64(i)+5*math.Sin(float64(i)/40))
		s.GroundM = append(s.GroundM, s.ElevationM[i]+r.NormFloat64())
		s.State = append(s.State, routes.Measured)
		s.Points = append(s.Points, orb.Point{11 + 1.2e-4*float64(i), 46 + 1e-4*math.Sin(float64(i)/30)})
		s.RadiusM = append(s.RadiusM, math.Inf(1))
	}
	b, err := packProfile(s)
	if err != nil || len(b) > 5*s.Count() {
		t.Errorf("%d bytes for %d stations, %v", len(b), s.Count(), err)
	}
	t.Logf("%.1f bytes a station", float64(len(b))/float64(s.Count()))
	if got, err := unpackProfile(b); err != nil || got.Count() != 1000 {
		t.Errorf("%v", err)
	}
}

// Catalogues made before what smoothing took off was kept are read as ever; their
// bounds, which were wider by themselves, lie beside them.
func TestAProfilePackedBeforeIsRead(t *testing.T) {
	s := &routes.Profile{StepM: 10, GroundM: []float64{1, 2}, ElevationM: []float64{1, 2}, State: make([]routes.StationState, 2),
		Points: []orb.Point{{11, 46}, {11.1, 46}}, RadiusM: []float64{80, 90}, LengthM: 10, Bound: routes.ErrorModel{EndM: 9}}
	b, err := packByStation(s)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := unpackProfile(b); err != nil || !reflect.DeepEqual(got.GroundM, s.GroundM) || !reflect.DeepEqual(got.EaseM, []float64{0, 0}) || got.RadiusM[0] != 80 {
		t.Fatalf("%+v, %v", got, err)
	}
	b = append([]byte{packedMark, packedLayout}, b[6:]...)
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
	got, err := unpackProfile(old)
	if err != nil || got.EaseM != nil || got.Count() != 2 || got.RadiusM[1] != 90 || got.Bound.EndM != 9 {
		t.Fatalf("%+v, %v", got, err)
	}
	if got.EasePct(0, 10) != 0 {
		t.Errorf("%v", got.EasePct(0, 10))
	}
}

func FuzzProfile(f *testing.F) {
	s := &routes.Profile{OriginM: 5, StepM: 10, GroundM: []float64{1, nan, 3}, ElevationM: []float64{1, 2, nan}, State: []routes.StationState{0, 4, 5},
		Points: []orb.Point{{11, 46}, {11.1, 46}, {11.2, 46}}, RadiusM: []float64{120, math.Inf(1), 30}, EaseM: []float64{0, -1.5, 0.25}}
	b, err := packProfile(s)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := unpackProfile(b)
		if err != nil {
			return
		}
		if s.Count() > 64*len(b) {
			t.Fatalf("%d stations from %d bytes", s.Count(), len(b))
		}
		for _, stationM := range []float64{-1, 0, s.OriginM, s.LengthM / 2, s.EndM(), s.LengthM, 1e9} {
			if e := s.ElevationAtM(stationM); stationM < s.OriginM-1 && !math.IsNaN(e) {
				t.Fatalf("height %v before the stretch", e)
			}
			s.PointAt(stationM)
			s.MeanErrPct(0, stationM)
		}
		again, err := packProfile(s)
		if err != nil {
			t.Fatal(err)
		}
		back, err := unpackProfile(again)
		if err != nil || back.Count() != s.Count() {
			t.Fatalf("%v", err)
		}
	})
}

// No flipped bit of a packed profile goes unnoticed.
func TestADamagedProfileIsNoticed(t *testing.T) {
	s := plainProfile(500)
	b, err := packProfile(s)
	if err != nil {
		t.Fatal(err)
	}
	for i := range b {
		for bit := range 8 {
			b[i] ^= 1 << bit
			if _, err := unpackProfile(b); err == nil {
				t.Errorf("bit %d of byte %d", bit, i)
			}
			b[i] ^= 1 << bit
		}
	}
}
