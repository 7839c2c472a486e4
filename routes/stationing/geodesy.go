// Package stationing makes routes of features, measures them on the WGS 84 ellipsoid,
// and samples a surface along and across them. The input is features (Assemble,
// Through) and a terrain.Surface (Sample). The output is routes with stations in metres
// and a routes.Ground: a height in metres, or the reason why there is none, for each
// station and each place across the road. A station without a height is not an error.
// Errors are *routes.Fault: ErrOutside or ErrVoid where no station has one,
// ErrMixedDatum, and ErrInput for a line or a step that cannot be sampled. Direct and
// Inverse agree with the test lines of GeographicLib; angles are degrees.
package stationing

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/tidwall/geodesic"
)

// DistanceM returns the length of the shortest geodesic between two points,
// within 15 nm (C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87, 2013,
// from memory).
func DistanceM(a, b orb.Point) float64 {
	var lengthM float64
	geodesic.WGS84.Inverse(a[1], a[0], b[1], b[0], &lengthM, nil, nil)
	return lengthM
}

// Inverse returns the length of the shortest geodesic from a to b and its
// azimuth at a, degrees clockwise from north, 0 to 360.
func Inverse(a, b orb.Point) (lengthM, azimuthDeg float64) {
	geodesic.WGS84.Inverse(a[1], a[0], b[1], b[0], &lengthM, &azimuthDeg, nil)
	if azimuthDeg < 0 {
		azimuthDeg += 360
	}
	return lengthM, azimuthDeg
}

// Direct returns the point lengthM along the geodesic that leaves a at an
// azimuth, degrees clockwise from north.
func Direct(a orb.Point, azimuthDeg, lengthM float64) orb.Point {
	var p orb.Point
	geodesic.WGS84.Direct(a[1], a[0], azimuthDeg, lengthM, &p[1], &p[0], nil)
	return p
}

// metric is the size of a degree at one place: M and N are the ellipsoid's
// radii of curvature in the meridian and across it. Within 32 m it is good to
// 1 mm up to 80° of latitude.
type metric struct{ eastM, northM float64 } // metres per degree

func metricAt(latDeg float64) metric {
	const a = 6378137.0 // WGS 84 semi-major axis, m, exact
	const f = 1 / 298.257223563
	const e2 = f * (2 - f)
	sin, cos := math.Sincos(latDeg * math.Pi / 180)
	w2 := 1 - e2*sin*sin
	n := a / math.Sqrt(w2)
	m := n * (1 - e2) / w2
	return metric{eastM: n * cos * math.Pi / 180, northM: m * math.Pi / 180}
}

// deltaM is b seen from a in metres east and north, across ±180° too.
func (m metric) deltaM(a, b orb.Point) (eastM, northM float64) {
	return turnDeg(b[0]-a[0]) * m.eastM, (b[1] - a[1]) * m.northM
}

// turnDeg brings a difference or a longitude to −180…180.
func turnDeg(deg float64) float64 {
	if deg >= -180 && deg <= 180 {
		return deg
	}
	return math.Remainder(deg, 360)
}

// between is the point a share t of the way from a to b, straight in longitude
// and latitude (RFC 7946 section 3.1.1).
func between(a, b orb.Point, t float64) orb.Point {
	return orb.Point{turnDeg(a[0] + t*turnDeg(b[0]-a[0])), a[1] + t*(b[1]-a[1])}
}

// stationsM returns the station of each vertex.
func stationsM(line orb.LineString) []float64 {
	out := make([]float64, len(line))
	for i := 1; i < len(line); i++ {
		out[i] = out[i-1] + DistanceM(line[i-1], line[i])
	}
	return out
}
