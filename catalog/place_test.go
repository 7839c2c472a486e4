package catalog_test

import (
	"errors"
	"gradeline/catalog"
	"strings"
	"testing"
)

// What is read as a box or a point is inside the globe, or wrong use.
func FuzzPlaces(f *testing.F) {
	for _, s := range []string{"10.9,46.9,11.6,47.4", "1,2", "NaN,0", "170,-10,-170,10", "1e400,0", "0x1p-2, 3", ",,,", "1,2,3,4,5"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if westDeg, southDeg, eastDeg, northDeg, err := catalog.ParseBox(text); err != nil {
			if !errors.Is(err, catalog.ErrQuantity) {
				t.Fatalf("%v is not wrong use", err)
			}
		} else if !(westDeg >= -180 && westDeg <= 180 && eastDeg >= -180 && eastDeg <= 180 && southDeg >= -90 && northDeg <= 90 && southDeg <= northDeg) {
			t.Fatalf("%q: %v %v %v %v", text, westDeg, southDeg, eastDeg, northDeg)
		}
		if p, err := catalog.ParsePoint(text); err != nil {
			if !errors.Is(err, catalog.ErrQuantity) {
				t.Fatalf("%v is not wrong use", err)
			}
		} else if !(p[0] >= -180 && p[0] <= 180 && p[1] >= -90 && p[1] <= 90) {
			t.Fatalf("%q: %v", text, p)
		}
	})
}

// Longitude comes first, as in RFC 7946, section 3.1.1.
func TestSwappedCoordinatesAreNamed(t *testing.T) {
	if p, err := catalog.ParsePoint(" -105.5, 39.1"); err != nil || p[0] != -105.5 || p[1] != 39.1 {
		t.Errorf("%v, %v", p, err)
	}
	for text, part := range map[string]string{"39.1,-105.5": "longitude comes first: -105.5,39.1", "10.4": "not a point", "170,100": "beyond 90", "10.4,x": "not a point"} {
		if _, err := catalog.ParsePoint(text); !errors.Is(err, catalog.ErrQuantity) || !strings.Contains(err.Error(), part) {
			t.Errorf("%s: %v, want %q", text, err, part)
		}
	}
}
