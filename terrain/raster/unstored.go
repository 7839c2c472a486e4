package raster

import (
	"fmt"

	"github.com/airbusgeo/godal"
)

// voidUnstored sets the blocks that a GeoTIFF does not store to NaN. GDAL reads them
// as 0 where the file declares no no-data value.
func (s *Surface) voidUnstored(t *tile, hd *handle, buf []float32, c, r, w, h int64) {
	if t.Driver != "GTiff" || t.VRT || t.Mask != maskNone || len(t.NoData) > 0 || s.opts.FlatIsGround {
		return
	}
	bw, bh := int64(t.BlockW), int64(t.BlockH)
	voided := false
	for by := r / bh; by <= (r+h-1)/bh; by++ {
		for bx := c / bw; bx <= (c+w-1)/bw; bx++ {
			x0, y0 := max(c, bx*bw)-c, max(r, by*bh)-r
			x1, y1 := min(c+w, (bx+1)*bw)-c, min(r+h, (by+1)*bh)-r
			if !isZero(buf, w, x0, y0, x1, y1) || hd.band.Metadata(fmt.Sprintf("BLOCK_OFFSET_%d_%d", bx, by), godal.Domain("TIFF")) != "" {
				continue
			}
			voided = true
			for y := y0; y < y1; y++ {
				row := buf[y*w+x0 : y*w+x1]
				for k := range row {
					row[k] = nan32
				}
			}
		}
	}
	if voided {
		s.warn.add(t.path, "lacks blocks (a sparse file) and declares no no-data value; treated as voids. Say --flat-is-ground if they are ground at 0")
	}
}

// isZero reports whether a window of rows of w cells is all 0.
func isZero(buf []float32, w, x0, y0, x1, y1 int64) bool {
	for y := y0; y < y1; y++ {
		for _, v := range buf[y*w+x0 : y*w+x1] {
			if v != 0 {
				return false
			}
		}
	}
	return true
}
