package plot

import (
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
)

// TilePNG draws the shade as a tile of a map, without the outermost cell on each side, which only
// serves its neighbours' slope. There is a contour every contourM metres, each fifth one darker;
// none for 0. A void is transparent.
func (h *Hillshade) TilePNG(w io.Writer, contourM float64) error {
	if err := h.check(); err != nil {
		return err
	}
	img := image.NewNRGBA(image.Rect(0, 0, h.Cols-2, h.Rows-2))
	for r := 1; r < h.Rows-1; r++ {
		for c := 1; c < h.Cols-1; c++ {
			s := h.shade(r, c)
			if math.IsNaN(s) {
				continue
			}
			v := 150 + 105*s
			switch h.contour(r, c, contourM) {
			case 1:
				v *= 0.86
			case 2:
				v *= 0.7
			}
			g := uint8(math.Round(v))
			img.SetNRGBA(c-1, r-1, color.NRGBA{g, g, g, 255})
		}
	}
	return png.Encode(w, img)
}

// contour is 1 where a contour runs between a cell and its eastern or southern neighbour, 2 where
// it is a fifth one, else 0.
func (h *Hillshade) contour(row, col int, everyM float64) int {
	if !(everyM > 0) {
		return 0
	}
	mid := math.Floor(h.ElevationM[row*h.Cols+col] / everyM)
	kind := 0
	for _, at := range []int{row*h.Cols + col + 1, (row+1)*h.Cols + col} {
		other := math.Floor(h.ElevationM[at] / everyM)
		if math.IsNaN(other) || other == mid {
			continue
		}
		kind = max(kind, 1)
		if math.Floor(mid/5) != math.Floor(other/5) {
			kind = 2
		}
	}
	return kind
}
