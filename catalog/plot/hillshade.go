package plot

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"

	"gradeline/catalog"
	"gradeline/terrain"
)

// Hillshade is a grid of heights sampled from the user's own surface, evenly
// spaced in longitude and latitude. Row 0 is the northern edge, values sit at
// cell centres, NaN is a void. EastDeg may pass 180 where the grid crosses the
// antimeridian.
type Hillshade struct {
	WestDeg, SouthDeg, EastDeg, NorthDeg float64
	Cols, Rows                           int
	ElevationM                           []float64
}

// mostShadeCells limits the size; more cells would only enlarge the page.
const mostShadeCells = 4 << 20

func (h *Hillshade) check() error {
	what := ""
	switch {
	case h.Cols < 2 || h.Rows < 2 || h.Cols > mostShadeCells/h.Rows:
		what = "a hillshade needs from 2 × 2 to 4 million cells"
	case len(h.ElevationM) != h.Cols*h.Rows:
		what = "the number of the hillshade's heights does not match its rows and columns"
	case !(h.WestDeg < h.EastDeg && h.SouthDeg < h.NorthDeg && h.WestDeg >= -180 && h.EastDeg <= 540 && h.EastDeg-h.WestDeg <= 360 && h.SouthDeg >= -90 && h.NorthDeg <= 90):
		what = "the hillshade's box is not a box on Earth"
	}
	if what == "" {
		return nil
	}
	return &catalog.Fault{Kind: terrain.ErrInput, What: what, Fix: "sample the surface over the routes' box"}
}

// png draws the shade: light from the north-west (azimuth 315°) at 45°, by the
// usual cartographic practice, slope and aspect by the third-order differences
// of Horn (1981, "Hill shading and the reflectance map"; formula from memory).
// Greys stay light, so that lines and labels are legible on top. A void is transparent.
func (h *Hillshade) png() ([]byte, error) {
	img := image.NewNRGBA(image.Rect(0, 0, h.Cols, h.Rows))
	for r := range h.Rows {
		for c := range h.Cols {
			if s := h.shade(r, c); !math.IsNaN(s) {
				v := uint8(math.Round(150 + 105*s))
				img.SetNRGBA(c, r, color.NRGBA{v, v, v, 255})
			}
		}
	}
	var b bytes.Buffer
	err := png.Encode(&b, img)
	return b.Bytes(), err
}

// shade is the share of the light that a cell reflects, 0 to 1; NaN where the cell is a void. A
// missing neighbour counts as level with it.
func (h *Hillshade) shade(row, col int) float64 {
	mid := h.ElevationM[row*h.Cols+col]
	z := func(dr, dc int) float64 {
		r, c := row+dr, col+dc
		if r < 0 || r >= h.Rows || c < 0 || c >= h.Cols || math.IsNaN(h.ElevationM[r*h.Cols+c]) {
			return mid
		}
		return h.ElevationM[r*h.Cols+c]
	}
	const mPerDeg = 111320 // accurate enough for a shade
	lat := h.NorthDeg - (float64(row)+0.5)*(h.NorthDeg-h.SouthDeg)/float64(h.Rows)
	dx := (h.EastDeg - h.WestDeg) / float64(h.Cols) * mPerDeg * math.Max(0.01, math.Cos(lat*math.Pi/180))
	dy := (h.NorthDeg - h.SouthDeg) / float64(h.Rows) * mPerDeg
	p := (z(-1, 1) + 2*z(0, 1) + z(1, 1) - z(-1, -1) - 2*z(0, -1) - z(1, -1)) / (8 * dx) // rise to the east
	q := (z(-1, -1) + 2*z(-1, 0) + z(-1, 1) - z(1, -1) - 2*z(1, 0) - z(1, 1)) / (8 * dy) // rise to the north
	// The light comes from (−1, 1, √2)/2; the surface's normal is (−p, −q, 1).
	s := (p - q + math.Sqrt2) / (2 * math.Sqrt(1+p*p+q*q))
	return math.Max(0, math.Min(1, s))
}
