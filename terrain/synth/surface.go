package synth

import (
	"context"
	"fmt"
	"math"

	"gradeline/terrain"
)

// memorySurface reads one grid in a road's own projection, so that a test of code that uses
// terrain.Surface needs no raster library.
type memorySurface struct {
	proj tmerc
	grid *terrain.Grid
}

// Surface returns a terrain.Surface over a grid that this road made: bilinear between
// cell centres, void where any of the four is void, outside where a tap would be off
// the grid.
func (r *Road) Surface(g *terrain.Grid) terrain.Surface { return &memorySurface{r.proj, g} }

func (m *memorySurface) Sample(ctx context.Context, points []terrain.Point, out []terrain.Sample) error {
	if len(points) != len(out) {
		return &terrain.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%d points but room for %d samples", len(points), len(out)),
			Fix: "pass slices of one length"}
	}
	for i, p := range points {
		if i%4096 == 0 {
			if err := ctx.Err(); err != nil {
				return err
			}
		}
		out[i] = m.sample(p)
	}
	return nil
}

func (m *memorySurface) sample(p terrain.Point) terrain.Sample {
	g := m.grid
	x, y := m.proj.xyFromLonLat(p.LonDeg, p.LatDeg)
	u, v := (x-g.WestX)/g.StepX-0.5, (g.NorthY-y)/g.StepY-0.5
	if !(u >= 0 && v >= 0 && u <= float64(g.Cols-1) && v <= float64(g.Rows-1)) || g.Cols < 2 || g.Rows < 2 {
		return terrain.Sample{ElevationM: math.NaN(), Source: -1, Miss: terrain.Outside}
	}
	s := terrain.Sample{ElevationM: bilinear(g.ElevationM, g.Cols, g.Rows, u, v), CellM: float32(g.StepX)}
	if math.IsNaN(s.ElevationM) {
		s.Miss = terrain.Void
	}
	return s
}

func (m *memorySurface) Sources() []terrain.Raster {
	g := m.grid
	return []terrain.Raster{{Name: "invented", CellM: g.StepX, CRS: g.CRS, VertDatum: "invented",
		VertUnit: terrain.Metre, VertUnitFrom: "option", Cols: g.Cols, Rows: g.Rows}}
}

func (m *memorySurface) Warnings() []string { return nil }

// XYFromPoint projects a point into the plane of the road's grids, metres.
func (r *Road) XYFromPoint(p terrain.Point) (x, y float64) {
	return r.proj.xyFromLonLat(p.LonDeg, p.LatDeg)
}

// PointFromXY is the inverse of XYFromPoint.
func (r *Road) PointFromXY(x, y float64) terrain.Point {
	lon, lat := r.proj.lonLatFromXY(x, y)
	return terrain.Point{LonDeg: lon, LatDeg: lat}
}
