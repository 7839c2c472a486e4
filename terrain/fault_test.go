package terrain

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestAFaultIsOneLineWithPlaceAndRemedy(t *testing.T) {
	station := 1234.5
	f := &Fault{Kind: ErrVoid, File: "dem.tif", Feature: "feature 3", StationM: &station, Point: &Point{LonDeg: 11, LatDeg: 46},
		What: "no height", Fix: "give a coarser raster beneath", Err: errors.New("first\nsecond")}
	want := "dem.tif: feature 3: station 1234 m: at longitude 11.000000, latitude 46.000000: no height (first second); give a coarser raster beneath"
	if f.Error() != want {
		t.Errorf("%q", f.Error())
	}
	if !errors.Is(f, ErrVoid) || errors.Is(f, ErrOutside) {
		t.Error("the kind is not found")
	}
	if e := (&Fault{Kind: ErrNoCRS}).Error(); e != ErrNoCRS.Error() {
		t.Errorf("%q", e)
	}
}

// NIST Special Publication 811 (2008), appendix B.6, from memory.
func TestVerticalUnits(t *testing.T) {
	for name, m := range map[string]float64{"m": 1, "ft": 0.3048, "us-ft": 0.304800609601219} {
		u, err := ParseVerticalUnit(name)
		if err != nil || math.Abs(u.MetresPer()-m) > 1e-15 || u.String() != name {
			t.Errorf("%s: %v, %v, %v", name, u, u.MetresPer(), err)
		}
	}
	for _, bad := range []string{"", "feet", "M", "unknown"} {
		if _, err := ParseVerticalUnit(bad); !errors.Is(err, ErrUnit) || !strings.Contains(err.Error(), "us-ft") {
			t.Errorf("%q: %v", bad, err)
		}
	}
	if UnitUnknown.MetresPer() != 0 {
		t.Error("an unknown unit converts")
	}
}

func TestPointsOnEarth(t *testing.T) {
	for _, p := range []Point{{0, 0}, {180, 90}, {-180, -90}} {
		if !p.Valid() {
			t.Errorf("%v is refused", p)
		}
	}
	for _, p := range []Point{{181, 0}, {0, 91}, {math.NaN(), 0}, {0, math.Inf(1)}} {
		if p.Valid() {
			t.Errorf("%v passes", p)
		}
	}
}
