package raster

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/airbusgeo/godal"

	"gradeline/terrain"
)

// crsText holds the parts of a raster's CRS.
type crsText struct {
	Horizontal string // WKT 1 of the horizontal part; empty if there is none
	Name       string // "EPSG:26913", or the CRS's own name
	Datum      string // the vertical datum's name, or "unknown"
	Unit       terrain.VerticalUnit
	UnitOdd    string // name of a vertical unit that is not known here
}

// crsTextFromWKT splits a WKT 1 text. Of a compound CRS only the horizontal part is used, so that
// no vertical conversion is ever made silently.
func crsTextFromWKT(wkt string) (crsText, error) {
	c := crsText{Datum: "unknown"}
	c.Horizontal = horizontalWKT(wkt)
	if c.Horizontal == "" {
		return c, nil
	}
	sr, err := godal.NewSpatialRefFromWKT(c.Horizontal)
	if err != nil {
		return c, err
	}
	defer sr.Close()
	if name, code := sr.AuthorityName(""), sr.AuthorityCode(""); name != "" && code != "" {
		c.Name = name + ":" + code
	} else if n, ok := sr.AttrValue("PROJCS", 0); ok {
		c.Name = n
	} else if n, ok := sr.AttrValue("GEOGCS", 0); ok {
		c.Name = n
	}
	if !strings.HasPrefix(wkt, "COMPD_CS") {
		return c, nil
	}
	full, err := godal.NewSpatialRefFromWKT(wkt)
	if err != nil {
		return c, err
	}
	defer full.Close()
	if d, ok := full.AttrValue("VERT_CS|VERT_DATUM", 0); ok && d != "" && !strings.EqualFold(d, "unknown") {
		c.Datum = d
	}
	if f, ok := full.AttrValue("VERT_CS|UNIT", 1); ok {
		if c.Unit = unitFromFactor(f); c.Unit == terrain.UnitUnknown {
			c.UnitOdd, _ = full.AttrValue("VERT_CS|UNIT", 0)
		}
	}
	return c, nil
}

// horizontalWKT cuts the projected or geographic part out of a WKT 1 text.
func horizontalWKT(wkt string) string {
	start := strings.Index(wkt, "PROJCS[")
	if start < 0 {
		start = strings.Index(wkt, "GEOGCS[")
	}
	if start < 0 {
		return ""
	}
	depth, quoted := 0, false
	for i := start; i < len(wkt); i++ {
		switch c := wkt[i]; {
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '[':
			depth++
		case c == ']':
			if depth--; depth == 0 {
				return wkt[start : i+1]
			}
		}
	}
	return ""
}

// unitFromFactor reads the metres per unit of a WKT UNIT node.
func unitFromFactor(factor string) terrain.VerticalUnit {
	f, err := strconv.ParseFloat(factor, 64)
	if err != nil {
		return terrain.UnitUnknown
	}
	for _, u := range []terrain.VerticalUnit{terrain.Metre, terrain.Foot, terrain.USSurveyFoot} {
		// The two feet differ by 2 parts in a million; texts carry at least 9 digits.
		if math.Abs(f/u.MetresPer()-1) < 2e-7 {
			return u
		}
	}
	return terrain.UnitUnknown
}

// unitFromBandText reads GDAL's free-text band unit.
func unitFromBandText(s string) terrain.VerticalUnit {
	switch strings.ToLower(strings.TrimSpace(strings.ReplaceAll(s, "_", " "))) {
	case "m", "metre", "meter", "metres", "meters":
		return terrain.Metre
	case "ft", "foot", "feet", "international foot", "international feet":
		return terrain.Foot
	case "us-ft", "ftus", "us survey foot", "us survey feet", "u.s. survey foot", "us foot", "foot us":
		return terrain.USSurveyFoot
	}
	return terrain.UnitUnknown
}

// place computes the bounds in degrees and the ground size of a cell.
func (h *header) place() error {
	p, err := newProjection(h.CRS.Horizontal)
	if err != nil {
		return err
	}
	defer p.close()
	x, y := h.outline()
	if err := p.toLonLat(x, y); err != nil {
		return err
	}
	b, err := boundsOf(x, y)
	if err != nil {
		return err
	}
	if !p.identity {
		b = h.widen(b, p)
	}
	h.Bounds = b
	midLon, midLat := x[len(x)-1], y[len(y)-1]
	if math.IsNaN(midLon) {
		midLon, midLat = (b[0]+b[2])/2, (b[1]+b[3])/2
	}
	ix, iy := cellKey(midLon, midLat)
	h.CellM = groundCellM(p.cell(ix, iy).metric, h.Geo)
	return nil
}

// outline returns points along the raster's sides, in its own coordinates, and its middle as the
// last one.
func (h *header) outline() (x, y []float64) {
	const n = 20 // points along each side
	x, y = make([]float64, 0, 4*n), make([]float64, 0, 4*n)
	add := func(c, r float64) {
		x = append(x, h.Geo[0]+c*h.Geo[1]+r*h.Geo[2])
		y = append(y, h.Geo[3]+c*h.Geo[4]+r*h.Geo[5])
	}
	w, t := float64(h.Cols), float64(h.Rows)
	for i := 0; i <= n; i++ {
		f := float64(i) / n
		add(f*w, 0)
		add(f*w, t)
		add(0, f*t)
		add(w, f*t)
	}
	add(w/2, t/2)
	return x, y
}

// boundsOf is west, south, east and north of the points that have a longitude.
func boundsOf(lon, lat []float64) (b [4]float64, err error) {
	west, south, east, north := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for i := range lon {
		if !math.IsNaN(lon[i]) {
			west, east = math.Min(west, lon[i]), math.Max(east, lon[i])
			south, north = math.Min(south, lat[i]), math.Max(north, lat[i])
		}
	}
	if west > east {
		return b, fmt.Errorf("no corner has a longitude and latitude")
	}
	if south < -90.1 || north > 90.1 || west < -360.1 || east > 540 {
		return b, fmt.Errorf("its corners are at longitude %g to %g, latitude %g to %g", west, east, south, north)
	}
	return [4]float64{west, south, east, north}, nil
}

// widen makes the bounds of a projected raster safe. Its sides bulge between the points, which 2 %
// of the size covers; at the poles and the date line all longitudes are included.
func (h *header) widen(b [4]float64, p *projection) [4]float64 {
	west, south, east, north := b[0], b[1], b[2], b[3]
	mx, my := .02*(east-west)+1e-4, .02*(north-south)+1e-4
	west, south, east, north = west-mx, math.Max(-90, south-my), east+mx, math.Min(90, north+my)
	if east-west > 180 {
		west, east = -180, 180
	}
	w, t := float64(h.Cols), float64(h.Rows)
	px, py := []float64{0, 0}, []float64{90, -90}
	p.exactly(px, py)
	for i, lat := range []float64{90, -90} {
		if c, r := pixelOf(h.Geo, px[i], py[i]); c >= 0 && c <= w && r >= 0 && r <= t {
			west, east = -180, 180
			south, north = math.Min(south, lat), math.Max(north, lat)
		}
	}
	return [4]float64{west, south, east, north}
}

// pixelOf inverts a geotransform: fractional column and row from the corner.
func pixelOf(g [6]float64, x, y float64) (col, row float64) {
	det := g[1]*g[5] - g[2]*g[4]
	dx, dy := x-g[0], y-g[3]
	return (dx*g[5] - dy*g[2]) / det, (dy*g[1] - dx*g[4]) / det
}

// groundCellM is the mean of a cell's two sides on the ground.
func groundCellM(m [4]float64, g [6]float64) float64 {
	return (math.Hypot(m[0]*g[1]+m[1]*g[4], m[2]*g[1]+m[3]*g[4]) + math.Hypot(m[0]*g[2]+m[1]*g[5], m[2]*g[2]+m[3]*g[5])) / 2
}
