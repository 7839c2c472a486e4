package raster

import (
	"math"
	"strconv"
	"sync"

	"github.com/airbusgeo/godal"

	"gradeline/terrain"
)

const (
	cellDeg     = 0.01    // side of a local approximation cell, degrees
	maxCells    = 1 << 15 // cells kept per CRS, about 8 MB
	cellErrorM  = 1e-4    // a cell with a larger error is not used
	equatorDegM = 111319.49079327357
)

// projection converts WGS 84 longitude and latitude to one CRS.
//
// Inside cells of 0.01 degrees it uses a biquadratic through nine PROJ points,
// compared with PROJ at four others; where they differ by more than 0.1 mm every
// point goes through PROJ itself.
type projection struct {
	wkt           string
	identity      bool
	geographic    bool
	metresPerUnit float64

	mu   sync.Mutex
	free []*transformer

	cmu   sync.RWMutex
	cells map[uint64]*localCell
}

type transformer struct {
	src, dst *godal.SpatialRef
	trn      *godal.Transform
}

func (t *transformer) close() {
	t.trn.Close()
	t.src.Close()
	t.dst.Close()
}

// localCell is the biquadratic of one cell: x = sum cx[3i+j] s^i t^j with s, t in
// [0, 1] along longitude and latitude.
type localCell struct {
	lon0, lat0 float64
	cx, cy     [9]float64
	exact      bool       // use PROJ
	metric     [4]float64 // metres east and north per CRS unit in x and y
}

func newProjection(wkt string) (*projection, error) {
	p := &projection{wkt: wkt, cells: map[uint64]*localCell{}, metresPerUnit: 1}
	wgs84, err := godal.NewSpatialRefFromEPSG(4326)
	if err != nil {
		return nil, err
	}
	defer wgs84.Close()
	sr, err := godal.NewSpatialRefFromWKT(wkt)
	if err != nil {
		return nil, err
	}
	defer sr.Close()
	p.identity, p.geographic = sr.IsSame(wgs84), sr.Geographic()
	node := "PROJCS|UNIT"
	if p.geographic {
		node = "GEOGCS|UNIT"
	}
	if f, ok := sr.AttrValue(node, 1); ok {
		if v, err := strconv.ParseFloat(f, 64); err == nil && v > 0 {
			p.metresPerUnit = v
		}
	}
	if p.geographic { // the factor is in radians
		p.metresPerUnit *= equatorDegM * 180 / math.Pi
	}
	t, err := p.acquire()
	if err != nil {
		return nil, err
	}
	p.release(t)
	return p, nil
}

func (p *projection) acquire() (*transformer, error) {
	p.mu.Lock()
	if n := len(p.free); n > 0 {
		t := p.free[n-1]
		p.free = p.free[:n-1]
		p.mu.Unlock()
		return t, nil
	}
	p.mu.Unlock()
	src, err := godal.NewSpatialRefFromEPSG(4326)
	if err != nil {
		return nil, err
	}
	dst, err := godal.NewSpatialRefFromWKT(p.wkt)
	if err != nil {
		src.Close()
		return nil, err
	}
	trn, err := godal.NewTransform(src, dst)
	if err != nil {
		src.Close()
		dst.Close()
		return nil, err
	}
	return &transformer{src, dst, trn}, nil
}

func (p *projection) release(t *transformer) {
	p.mu.Lock()
	p.free = append(p.free, t)
	p.mu.Unlock()
}

func (p *projection) close() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, t := range p.free {
		t.close()
	}
	p.free = nil
}

// exactly transforms in place through PROJ; a point that cannot be projected becomes NaN.
func (p *projection) exactly(x, y []float64) {
	if len(x) == 0 || p.identity {
		return
	}
	t, err := p.acquire()
	if err != nil {
		for i := range x {
			x[i], y[i] = math.NaN(), math.NaN()
		}
		return
	}
	ok := make([]bool, len(x))
	t.trn.TransformEx(x, y, nil, ok) // the error says the same as ok
	p.release(t)
	for i := range x {
		if !ok[i] || math.IsInf(x[i], 0) || math.IsInf(y[i], 0) {
			x[i], y[i] = math.NaN(), math.NaN()
		}
	}
}

func cellKey(lonDeg, latDeg float64) (ix, iy int32) {
	return int32(math.Floor(lonDeg / cellDeg)), int32(math.Floor(latDeg / cellDeg))
}

// cell returns the local approximation around a point. It depends on the cell
// only, so results don't depend on which point asked first.
func (p *projection) cell(ix, iy int32) *localCell {
	key := uint64(uint32(ix))<<32 | uint64(uint32(iy))
	p.cmu.RLock()
	c := p.cells[key]
	p.cmu.RUnlock()
	if c != nil {
		return c
	}
	c = p.fit(ix, iy)
	p.cmu.Lock()
	if len(p.cells) >= maxCells {
		clear(p.cells)
	}
	p.cells[key] = c
	p.cmu.Unlock()
	return c
}

func (p *projection) fit(ix, iy int32) *localCell {
	c := &localCell{lon0: float64(ix) * cellDeg, lat0: float64(iy) * cellDeg}
	if p.identity {
		east, north := metresPerDegree(c.lat0 + cellDeg/2)
		c.metric = [4]float64{east, 0, 0, north}
		return c
	}
	s := [13]float64{0, 0, 0, .5, .5, .5, 1, 1, 1, .25, .25, .75, .75}
	t := [13]float64{0, .5, 1, 0, .5, 1, 0, .5, 1, .25, .75, .25, .75}
	var x, y [13]float64
	for k := range s {
		x[k], y[k] = c.lon0+s[k]*cellDeg, math.Min(90, c.lat0+t[k]*cellDeg)
	}
	p.exactly(x[:], y[:])
	c.cx, c.cy = biquadratic(x[:9]), biquadratic(y[:9])
	limit := cellErrorM / p.metresPerUnit
	for k := 9; k < 13; k++ {
		px, py := c.projectedAt(s[k], t[k])
		if !(math.Abs(px-x[k]) <= limit && math.Abs(py-y[k]) <= limit) {
			c.exact = true
		}
	}
	// The Jacobian at the middle, from the middle points of the sides.
	xs, ys := (x[7]-x[1])/cellDeg, (y[7]-y[1])/cellDeg
	xt, yt := (x[5]-x[3])/cellDeg, (y[5]-y[3])/cellDeg
	det := xs*yt - xt*ys
	east, north := metresPerDegree(c.lat0 + cellDeg/2)
	c.metric = [4]float64{east * yt / det, -east * xt / det, -north * ys / det, north * xs / det}
	for _, m := range c.metric {
		if math.IsNaN(m) || math.IsInf(m, 0) {
			c.metric = [4]float64{p.metresPerUnit, 0, 0, p.metresPerUnit}
		}
	}
	return c
}

// biquadratic returns the coefficients through v[3i+j] at s = i/2, t = j/2.
func biquadratic(v []float64) (c [9]float64) {
	// Newton form on 0, 1/2, 1: c0 = v0, c1 = -3v0+4v1-v2, c2 = 2v0-4v1+2v2.
	line := func(a, b, d float64) (float64, float64, float64) {
		return a, -3*a + 4*b - d, 2*a - 4*b + 2*d
	}
	var m [9]float64
	for i := 0; i < 3; i++ {
		m[3*i], m[3*i+1], m[3*i+2] = line(v[3*i], v[3*i+1], v[3*i+2])
	}
	for j := 0; j < 3; j++ {
		c[j], c[3+j], c[6+j] = line(m[j], m[3+j], m[6+j])
	}
	return c
}

// projectedAt is the place in the raster's CRS of a place in the cell; s and t are shares of its
// sides.
func (c *localCell) projectedAt(s, t float64) (x, y float64) {
	a, b := &c.cx, &c.cy
	x = a[0] + t*(a[1]+t*a[2]) + s*(a[3]+t*(a[4]+t*a[5])+s*(a[6]+t*(a[7]+t*a[8])))
	y = b[0] + t*(b[1]+t*b[2]) + s*(b[3]+t*(b[4]+t*b[5])+s*(b[6]+t*(b[7]+t*b[8])))
	return x, y
}

// metresPerDegree returns the length of a degree of longitude and of latitude on
// WGS 84 (radii of curvature in the prime vertical and the meridian; Snyder, Map
// Projections: A Working Manual, USGS PP 1395, 1987, p. 24-25, from memory).
func metresPerDegree(latDeg float64) (eastM, northM float64) {
	const a, e2 = 6378137.0, 0.0066943799901413165
	sin, cos := math.Sincos(latDeg * math.Pi / 180)
	w := 1 - e2*sin*sin
	n := a / math.Sqrt(w)
	return n * cos * math.Pi / 180, n * (1 - e2) / w * math.Pi / 180
}

// toLonLat converts CRS points back to WGS 84 in place; NaN where that is impossible.
func (p *projection) toLonLat(x, y []float64) error {
	if p.identity {
		return nil
	}
	src, err := godal.NewSpatialRefFromWKT(p.wkt)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := godal.NewSpatialRefFromEPSG(4326)
	if err != nil {
		return err
	}
	defer dst.Close()
	trn, err := godal.NewTransform(src, dst)
	if err != nil {
		return err
	}
	defer trn.Close()
	ok := make([]bool, len(x))
	trn.TransformEx(x, y, nil, ok)
	for i := range x {
		if !ok[i] || !(terrain.Point{LonDeg: x[i], LatDeg: y[i]}).Valid() {
			x[i], y[i] = math.NaN(), math.NaN()
		}
	}
	return nil
}
