package raster

import (
	"fmt"
	"math"
)

// Many programs fill a hole with 0 and do not declare it. But ground at exactly 0 m is also the sea
// and its shore, which is next to low ground somewhere. So a patch of zeros is a hole if all its
// neighbours are higher than holeAboveM, which is steeper than any longer shore at the cell size.
const (
	holeAboveM = 300.0
	holeSlope  = 3.0 // and higher than this number of cell sizes
	leastHole  = 4   // cells of the patch, and cells that border on it
)

func holeAboveFromCell(cellM float64) float64 { return math.Max(holeAboveM, holeSlope*cellM) }

// holeFinder is the working memory of one block.
type holeFinder struct {
	seen  []bool
	patch []int32
}

// voidZeros sets the patches of zeros in a block of w columns that are holes to NaN and returns the
// number of their cells. It does not look beyond the block: a block of zeros only is not changed.
func (f *holeFinder) voidZeros(buf []float32, w int64, above float32) int {
	if !hasCliff(buf, w, above) {
		return 0
	}
	if cap(f.seen) < len(buf) {
		f.seen = make([]bool, len(buf))
	}
	f.seen = f.seen[:len(buf)]
	clear(f.seen)
	voided := 0
	width, height := int32(w), int32(int64(len(buf))/w)
	for start, v := range buf {
		if v != 0 || f.seen[start] {
			continue
		}
		border, isLow := f.follow(buf, int32(start), width, height, above)
		if isLow || len(f.patch) < leastHole || border < leastHole {
			continue
		}
		for _, k := range f.patch {
			buf[k] = nan32
		}
		voided += len(f.patch)
	}
	return voided
}

// follow collects the patch of zeros around a cell. It returns how many neighbours are higher than
// above, and whether any is lower.
func (f *holeFinder) follow(buf []float32, start, width, height int32, above float32) (border int, isLow bool) {
	f.patch = append(f.patch[:0], start)
	f.seen[start] = true
	for n := 0; n < len(f.patch); n++ {
		c, r := f.patch[n]%width, f.patch[n]/width
		for _, d := range [4][2]int32{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
			x, y := c+d[0], r+d[1]
			if x < 0 || y < 0 || x >= width || y >= height {
				continue
			}
			k := y*width + x
			switch z := buf[k]; {
			case z == 0 && !f.seen[k]:
				f.seen[k] = true
				f.patch = append(f.patch, k)
			case z == 0 || z != z:
			case z > above:
				border++
			default:
				isLow = true
			}
		}
	}
	return border, isLow
}

// hasCliff reports whether a zero is next to a value higher than above.
func hasCliff(buf []float32, w int64, above float32) bool {
	for i, v := range buf {
		if v != 0 {
			continue
		}
		k := int64(i)
		if k%w > 0 && buf[k-1] > above || k%w < w-1 && buf[k+1] > above || k >= w && buf[k-w] > above || k+w < int64(len(buf)) && buf[k+w] > above {
			return true
		}
	}
	return false
}

func zerosWarning(above float64) string {
	return fmt.Sprintf("holds patches of exactly 0 m next to heights above %.0f m and does not declare 0 as no-data; treated as voids, "+
		"except in stored blocks of zeros only: declare it (gdal_edit.py -a_nodata 0) unless it has ground at sea level", above)
}
