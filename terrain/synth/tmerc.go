package synth

import (
	"fmt"
	"math"
)

// tmerc is a transverse Mercator projection on WGS 84 with scale 1 on its central
// meridian and its origin at (lon0, lat0): near the origin a plane metre is a
// geodesic metre within x²/2R², 4e-6 at 18 km.
//
// Krüger's series in the third flattening n to n⁴, which is good to nanometres
// here. Source: C. F. F. Karney, Transverse Mercator with an accuracy of a few
// nanometers, Journal of Geodesy 85 (2011) 475–485, equations (7)–(12), (35) and
// (36), from memory; the tests compare it with PROJ.
type tmerc struct {
	lon0Deg, lat0Deg float64
	m0               float64 // northing of lat0 from the equator, metres
}

const (
	wgs84A = 6378137.0
	wgs84F = 1 / 298.257223563
)

var (
	krugerN = wgs84F / (2 - wgs84F)
	krugerE = math.Sqrt(wgs84F * (2 - wgs84F))
	// rectifying radius A of Karney's (14)
	krugerA = wgs84A / (1 + krugerN) * (1 + pow2(krugerN)/4 + pow2(pow2(krugerN))/64)
	krugerα = series([4][4]float64{
		{1.0 / 2, -2.0 / 3, 5.0 / 16, 41.0 / 180},
		{0, 13.0 / 48, -3.0 / 5, 557.0 / 1440},
		{0, 0, 61.0 / 240, -103.0 / 140},
		{0, 0, 0, 49561.0 / 161280}})
	krugerβ = series([4][4]float64{
		{1.0 / 2, -2.0 / 3, 37.0 / 96, -1.0 / 360},
		{0, 1.0 / 48, 1.0 / 15, -437.0 / 1440},
		{0, 0, 17.0 / 480, -37.0 / 840},
		{0, 0, 0, 4397.0 / 161280}})
)

func pow2(x float64) float64 { return x * x }

// series evaluates polynomials in n, first column n¹.
func series(c [4][4]float64) (out [4]float64) {
	for j := range c {
		p := 1.0
		for k := range c[j] {
			p *= krugerN
			out[j] += c[j][k] * p
		}
	}
	return out
}

func newTmerc(lon0Deg, lat0Deg float64) tmerc {
	t := tmerc{lon0Deg: lon0Deg, lat0Deg: lat0Deg}
	_, t.m0 = t.xyFromLonLat(lon0Deg, lat0Deg)
	return t
}

// proj4 is the same projection for GDAL and PROJ.
func (t tmerc) proj4() string {
	return fmt.Sprintf("+proj=tmerc +lat_0=%.9g +lon_0=%.9g +k=1 +x_0=0 +y_0=0 +datum=WGS84 +units=m +no_defs", t.lat0Deg, t.lon0Deg)
}

func (t tmerc) xyFromLonLat(lonDeg, latDeg float64) (x, y float64) {
	λ := (lonDeg - t.lon0Deg) * math.Pi / 180
	τ := math.Tan(latDeg * math.Pi / 180)
	τʹ := conformalTan(τ)
	ξʹ := math.Atan2(τʹ, math.Cos(λ))
	ηʹ := math.Asinh(math.Sin(λ) / math.Hypot(τʹ, math.Cos(λ)))
	ξ, η := ξʹ, ηʹ
	for j, α := range krugerα {
		k := 2 * float64(j+1)
		ξ += α * math.Sin(k*ξʹ) * math.Cosh(k*ηʹ)
		η += α * math.Cos(k*ξʹ) * math.Sinh(k*ηʹ)
	}
	return krugerA * η, krugerA*ξ - t.m0
}

func (t tmerc) lonLatFromXY(x, y float64) (lonDeg, latDeg float64) {
	ξ, η := (y+t.m0)/krugerA, x/krugerA
	ξʹ, ηʹ := ξ, η
	for j, β := range krugerβ {
		k := 2 * float64(j+1)
		ξʹ -= β * math.Sin(k*ξ) * math.Cosh(k*η)
		ηʹ -= β * math.Cos(k*ξ) * math.Sinh(k*η)
	}
	sh, c := math.Sinh(ηʹ), math.Cos(ξʹ)
	τʹ := math.Sin(ξʹ) / math.Hypot(sh, c)
	λ := math.Atan2(sh, c)
	τ := τʹ / (1 - krugerE*krugerE)
	for i := 0; i < 5; i++ { // Newton, Karney's (19)–(21); three steps reach rounding
		ti := conformalTan(τ)
		dτ := (τʹ - ti) / math.Sqrt(1+ti*ti) * (1 + (1-krugerE*krugerE)*τ*τ) / ((1 - krugerE*krugerE) * math.Sqrt(1+τ*τ))
		τ += dτ
		if math.Abs(dτ) < 1e-15*math.Max(1, math.Abs(τ)) {
			break
		}
	}
	return t.lon0Deg + λ*180/math.Pi, math.Atan(τ) * 180 / math.Pi
}

// conformalTan is the tangent of the conformal latitude, Karney's (7)–(9).
func conformalTan(τ float64) float64 {
	s := math.Sqrt(1 + τ*τ)
	σ := math.Sinh(krugerE * math.Atanh(krugerE*τ/s))
	return τ*math.Sqrt(1+σ*σ) - σ*s
}
