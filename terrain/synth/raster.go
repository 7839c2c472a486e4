package synth

import (
	"fmt"
	"math"

	"gradeline/terrain"
)

// sensor turns the fine surface into a raster: its lattice of cells, the averaging, the noise and
// the holes.
type sensor struct {
	g           *ground
	cellM       float64
	ratio       int // fine samples across a cell
	west, north float64
	cols, rows  int
	corridorM   float64 // NaN beyond it; +Inf: heights everywhere
	crs         string
	noise       *normals
	salt        uint64
	white, corr float64 // sd, metres
	corrField   field
	voids       []void
	wholeMetres bool
	stepM       float64
	stepX       [2]float64
}

type void struct{ x, y, radiusM float64 }

// maxGridCells is the largest number of cells of one grid.
const maxGridCells = 60e6

// CorridorM is the distance from the road up to which a grid holds heights; a cell whose centre is
// farther away than this plus a block's width is NaN.
func CorridorM(cellM float64) float64 { return math.Min(60+9*cellM, 450) }

// NoiseSigmaM is the usual height noise of a cell size, metres: 0.15, 1, 2.5 and
// 4 m at 1, 10, 30 and 90 m (own choice, near the published errors of lidar, 1/3
// arc-second and radar terrain models), log-linear between. Its correlated part
// has integral length NoiseTauM.
func NoiseSigmaM(cellM float64) float64 { return logTable(cellM, [4]float64{0.15, 1, 2.5, 4}) }

// NoiseTauM is the correlation length of the noise's correlated part, metres.
func NoiseTauM(cellM float64) float64 { return logTable(cellM, [4]float64{40, 60, 120, 300}) }

// whiteShare is the white part of the noise's variance.
const whiteShare = 0.3

func logTable(cellM float64, v [4]float64) float64 {
	c := [4]float64{1, 10, 30, 90}
	i := 0
	for i < 2 && cellM > c[i+1] {
		i++
	}
	t := clamp(math.Log(cellM/c[i])/math.Log(c[i+1]/c[i]), -0.5, 1.5)
	return v[i] * math.Pow(v[i+1]/v[i], t)
}

// fineRatio is the number of fine samples across a cell.
func fineRatio(cellM float64) int {
	switch {
	case cellM < 1.5:
		return 1
	case cellM < 12:
		return int(math.Ceil(cellM / 2.5))
	case cellM < 45:
		return int(math.Ceil(cellM / 5))
	}
	return int(math.Ceil(cellM / 7.5))
}

func (r *Road) sensor(cellM float64) (*sensor, error) {
	o := r.options
	o.CellM = cellM
	if err := o.check(); err != nil || cellM == 0 {
		if err == nil {
			err = &terrain.Fault{Kind: terrain.ErrInput, What: "a raster needs a cell size", Fix: "choose one from 0.5 to 200 m"}
		}
		return nil, err
	}
	scale := 1.0
	if o.NoiseScale != 0 {
		scale = math.Max(0, o.NoiseScale)
	}
	corridorM := CorridorM(cellM) + math.Abs(o.LateralConstM) + o.VertexEveryM/4 // a line off its road needs ground too
	seed := o.Seed ^ uint64(o.Mission)<<56
	s := newSensor(seed, r.ground, cellM, scale, roadBox([]*alignment{r.align}, corridorM+2*cellM))
	s.corridorM = corridorM
	s.crs = r.CRS
	s.wholeMetres = o.WholeMetres
	s.stepM = o.DatumStepM
	perKM := 1 / 12.0
	if o.VoidsPerKM != 0 {
		perKM = math.Max(0, o.VoidsPerKM)
	}
	d := newDice(seed, streamVoids+math.Float64bits(cellM))
	a := r.align
	for x := d.ExpFloat64() / perKM * 1000; perKM > 0 && x < a.lengthM(); x += d.ExpFloat64() / perKM * 1000 {
		i := min(int(x/planStepM), len(a.x)-1)
		s.voids = append(s.voids, void{a.x[i] + 60*d.NormFloat64(), a.y[i] + 60*d.NormFloat64(), d.logNormal(50, 0.9, 12, 400)})
	}
	return s, nil
}

func newSensor(seed uint64, g *ground, cellM, noiseScale float64, b box) *sensor {
	d := newDice(seed, streamRaster+math.Float64bits(cellM))
	s := &sensor{g: g, cellM: cellM, ratio: fineRatio(cellM), corridorM: math.Inf(1)}
	s.west = math.Floor(b.west/cellM)*cellM - d.Float64()*cellM
	s.north = math.Ceil(b.north/cellM)*cellM + d.Float64()*cellM
	s.cols = int(math.Ceil((b.east - s.west) / cellM))
	s.rows = int(math.Ceil((s.north - b.south) / cellM))
	s.stepX = [2]float64{s.west + (b.east-s.west)/3, s.west + (b.east-s.west)*2/3}
	s.noise = newNormals(d)
	s.salt = d.Uint64()
	sd := noiseScale * NoiseSigmaM(cellM)
	s.white, s.corr = sd*math.Sqrt(whiteShare), sd*math.Sqrt(1-whiteShare)
	s.corrField = newField(d, s.noise, NoiseTauM(cellM))
	return s
}

// Grid makes one raster of the road's surroundings: its whole bounding box with
// NaN beyond CorridorM. At 1 m that is tens of millions of cells; see Tiles.
func (r *Road) Grid(cellM float64) (*terrain.Grid, error) {
	s, err := r.sensor(cellM)
	if err != nil {
		return nil, err
	}
	if n := float64(s.cols) * float64(s.rows); n > maxGridCells {
		return nil, &terrain.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("one grid of %.0f million cells is too large", n/1e6),
			Fix: "use Tiles, or a larger cell"}
	}
	return s.render(0, 0, s.cols, s.rows), nil
}

// Tiles makes the same raster as Grid in tiles of sideCells cells, each with two
// more on every side shared with its neighbours; tiles that hold no height are
// left out.
func (r *Road) Tiles(cellM float64, sideCells int) ([]*terrain.Grid, error) {
	const overlap = 2
	s, err := r.sensor(cellM)
	if err != nil {
		return nil, err
	}
	if sideCells < 16 || sideCells > 8192 {
		return nil, &terrain.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("tiles of %d cells", sideCells), Fix: "choose 16 to 8192"}
	}
	var out []*terrain.Grid
	half := float64(sideCells) * cellM / 2
	for row := 0; row < s.rows; row += sideCells {
		for col := 0; col < s.cols; col += sideCells {
			x, y := s.west+float64(col)*cellM+half, s.north-float64(row)*cellM-half
			if _, d := s.g.index.candidates(x, y, 0, s.corridorM+1.5*half, nil); math.IsInf(d, 1) {
				continue
			}
			t := s.render(max(0, col-overlap), max(0, row-overlap), min(s.cols, col+sideCells+overlap), min(s.rows, row+sideCells+overlap))
			if !allVoid(t.ElevationM) {
				out = append(out, t)
			}
		}
	}
	return out, nil
}

func allVoid(v []float32) bool {
	for _, z := range v {
		if z == z {
			return false
		}
	}
	return true
}
