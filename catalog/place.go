package catalog

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
)

// ParsePoint reads "10.4,46.9": longitude, then latitude, in degrees. Other text is an ErrQuantity,
// which says so where the two seem to be swapped.
func ParsePoint(text string) (orb.Point, error) {
	v, ok := degrees(text, 2)
	switch {
	case !ok:
		return orb.Point{}, &Fault{Kind: ErrQuantity, What: fmt.Sprintf("%q is not a point", text), Fix: "write longitude,latitude in degrees, as in 10.4,46.9"}
	case math.Abs(v[1]) > 90 && math.Abs(v[0]) <= 90:
		return orb.Point{}, &Fault{Kind: ErrQuantity, What: fmt.Sprintf("%q has a latitude beyond 90 degrees", text), Fix: fmt.Sprintf("longitude comes first: %g,%g", v[1], v[0])}
	case math.Abs(v[1]) > 90:
		return orb.Point{}, &Fault{Kind: ErrQuantity, What: fmt.Sprintf("%q has a latitude beyond 90 degrees", text), Fix: "write longitude,latitude in degrees, as in 10.4,46.9"}
	}
	return orb.Point{v[0], v[1]}, nil
}

// ParseBox reads "-105.5,39.1,-104.8,39.9": west, south, east, north in degrees. West may
// be greater than east: the box then crosses the antimeridian. Other text is an ErrQuantity.
func ParseBox(text string) (westDeg, southDeg, eastDeg, northDeg float64, err error) {
	v, ok := degrees(text, 4)
	if !ok {
		return 0, 0, 0, 0, &Fault{Kind: ErrQuantity, What: fmt.Sprintf("%q is not a box", text), Fix: "write west,south,east,north in degrees, as in -105.5,39.1,-104.8,39.9"}
	}
	if v[1] > v[3] || v[1] < -90 || v[3] > 90 {
		return 0, 0, 0, 0, &Fault{Kind: ErrQuantity, What: fmt.Sprintf("%q: south must not be north of north, and both within 90 degrees", text), Fix: "are longitude and latitude swapped?"}
	}
	return v[0], v[1], v[2], v[3], nil
}

// degrees reads n angles within 180 degrees with commas between.
func degrees(text string, n int) ([]float64, bool) {
	fields := strings.Split(text, ",")
	if len(fields) != n {
		return nil, false
	}
	v := make([]float64, n)
	for i, f := range fields {
		x, err := strconv.ParseFloat(strings.TrimSpace(f), 64)
		if err != nil || !(x >= -180 && x <= 180) {
			return nil, false
		}
		v[i] = x
	}
	return v, true
}
