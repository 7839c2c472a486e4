package synth

import (
	"math"

	"gradeline/terrain"
)

// render makes the cells [col0, col1) × [row0, row1) of the sensor's lattice.
func (s *sensor) render(col0, row0, col1, row1 int) *terrain.Grid {
	g := &terrain.Grid{
		Cols: col1 - col0, Rows: row1 - row0,
		WestX: s.west + float64(col0)*s.cellM, NorthY: s.north - float64(row0)*s.cellM,
		StepX: s.cellM, StepY: s.cellM, CRS: s.crs, VertDatumLabel: "invented",
	}
	g.ElevationM = make([]float32, g.Cols*g.Rows)
	nan := float32(math.NaN())
	for i := range g.ElevationM {
		g.ElevationM[i] = nan
	}
	// blocks of about 64 fine samples, aligned to the lattice so that tiles agree
	side := max(1, 64/s.ratio)
	f := newFine(s, side)
	for row := row0 / side * side; row < row1; row += side {
		for col := col0 / side * side; col < col1; col += side {
			if f.fill(col, row) {
				f.average(g, col0, row0, col1, row1)
			}
		}
	}
	return g
}

// fine is a block of the fine surface with the margin that averaging needs.
type fine struct {
	s             *sensor
	side, margin  int
	n             int // samples across
	col, row      int
	z             []float64
	weight        []float64 // tent over one cell, from -margin
	near, nearSub []int32
	octaves       []octave
}

func newFine(s *sensor, side int) *fine {
	f := &fine{s: s, side: side, margin: s.ratio / 2}
	f.n = side*s.ratio + 2*f.margin
	f.z = make([]float64, f.n*f.n)
	r := float64(s.ratio)
	sum := 0.0
	for i := -f.margin; i < s.ratio+f.margin; i++ {
		w := math.Max(0, 1-math.Abs((float64(i)+0.5)/r-0.5))
		f.weight = append(f.weight, w)
		sum += w
	}
	for i := range f.weight {
		f.weight[i] /= sum
	}
	f.octaves = s.g.octavesFor(s.cellM / r)
	return f
}

// fill evaluates the block whose first cell is (col, row); false if it is beyond
// the corridor.
func (f *fine) fill(col, row int) bool {
	s := f.s
	f.col, f.row = col, row
	step := s.cellM / float64(s.ratio)
	x0 := s.west + float64(col)*s.cellM - float64(f.margin)*step
	y0 := s.north - float64(row)*s.cellM + float64(f.margin)*step
	half := float64(f.n) * step / 2
	// as far as needed; +Inf means farther
	limit := reachM + 2*half
	if !math.IsInf(s.corridorM, 1) {
		limit = math.Max(limit, s.corridorM+half)
	}
	var d float64
	f.near, d = s.g.index.candidates(x0+half, y0-half, 0, limit, f.near)
	if d > s.corridorM+half { // both infinite where all heights are wanted
		return false
	}
	roadNear := d < reachM+2*half
	const sub = 8
	for j := 0; j < f.n; j += sub {
		for i := 0; i < f.n; i += sub {
			w, h := min(sub, f.n-i), min(sub, f.n-j)
			cx, cy := x0+(float64(i)+float64(w)/2)*step, y0-(float64(j)+float64(h)/2)*step
			radius := math.Hypot(float64(w), float64(h)) / 2 * step
			f.nearSub = f.nearSub[:0]
			if roadNear {
				f.nearSub, _ = s.g.index.candidates(cx, cy, radius, reachM+radius, f.nearSub)
			}
			for b := j; b < j+h; b++ {
				y := y0 - (float64(b)+0.5)*step
				for a := i; a < i+w; a++ {
					f.z[b*f.n+a] = s.g.valueAt(x0+(float64(a)+0.5)*step, y, f.octaves, f.nearSub)
				}
			}
		}
	}
	return true
}

// average writes the block's cells in the wanted rectangle.
func (f *fine) average(g *terrain.Grid, col0, row0, col1, row1 int) {
	s := f.s
	for row := max(f.row, row0); row < min(f.row+f.side, row1); row++ {
		for col := max(f.col, col0); col < min(f.col+f.side, col1); col++ {
			top, left := (row-f.row)*s.ratio, (col-f.col)*s.ratio
			z := 0.0
			for j, wy := range f.weight {
				line := f.z[(top+j)*f.n+left:]
				v := 0.0
				for i, wx := range f.weight {
					v += wx * line[i]
				}
				z += wy * v
			}
			g.ElevationM[(row-row0)*g.Cols+col-col0] = s.spoil(z, col, row)
		}
	}
}

// spoil adds noise, datum steps, rounding and voids to a cell.
func (s *sensor) spoil(z float64, col, row int) float32 {
	x, y := s.west+(float64(col)+0.5)*s.cellM, s.north-(float64(row)+0.5)*s.cellM
	for _, v := range s.voids {
		if pow2(x-v.x)+pow2(y-v.y) < pow2(v.radiusM) {
			return float32(math.NaN())
		}
	}
	if s.white > 0 {
		z += s.white*s.noise.white(s.salt, col, row) + s.corr*s.corrField.valueAt(x, y)
	}
	for _, at := range s.stepX {
		if x > at {
			z += s.stepM
		}
	}
	if s.wholeMetres {
		z = math.Round(z)
	}
	return float32(z)
}
