package survey

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"sort"

	"gradeline/routes"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// Two rasters of one ground differ by their noise and by what their cells
// average away: up to 3 m and 15 % of the coarser cell in the median, our own
// choice. A geoid stands 10 to 50 m off the ellipsoid, which is what this is for.
const (
	stepM        = 3.0
	stepPerCell  = 0.15
	stepLeast    = 20   // places both rasters cover, fewer say nothing
	stepMost     = 2000 // places looked at
	stepPerRoute = 40
)

// overlap collects places on the roads at which the given rasters are compared.
type overlap struct {
	paths  []string
	opts   raster.Options
	points []terrain.Point
}

// places are a few places of a route, longitude and latitude.
func (o *overlap) places(p *routes.Profile) [][2]float64 {
	if len(o.paths) < 2 || len(p.Points) == 0 {
		return nil
	}
	var out [][2]float64
	for i := 0; i < len(p.Points); i += max(1, len(p.Points)/stepPerRoute) {
		out = append(out, p.Points[i])
	}
	return out
}

// add takes places in until there are enough.
func (o *overlap) add(places [][2]float64) {
	for _, p := range places[:min(len(places), stepMost-len(o.points))] {
		o.points = append(o.points, terrain.Point{LonDeg: p[0], LatDeg: p[1]})
	}
}

// steps names pairs of rasters that stand on different heights where both cover
// the roads.
func (o *overlap) steps(ctx context.Context) ([]string, error) {
	if len(o.paths) < 2 || len(o.points) < stepLeast {
		return nil, nil
	}
	samples := make([][]terrain.Sample, len(o.paths))
	for i, path := range o.paths {
		s, err := raster.Open(ctx, []string{path}, o.opts)
		if err != nil {
			return nil, err
		}
		samples[i] = make([]terrain.Sample, len(o.points))
		err = s.Sample(ctx, o.points, samples[i])
		s.Close()
		if err != nil {
			return nil, err
		}
	}
	var out []string
	for i := range samples {
		for j := i + 1; j < len(samples); j++ {
			if m, limit, n := medianStep(samples[i], samples[j]); n >= stepLeast && math.Abs(m) > limit {
				out = append(out, fmt.Sprintf("%s and %s: heights differ by %+.1f m in the median over %d places on the roads; do both stand on the same vertical datum? The figures near their join cannot be trusted",
					filepath.Base(o.paths[i]), filepath.Base(o.paths[j]), m, n))
			}
		}
	}
	return out, nil
}

// medianStep is the median of b less a where both have a height, what it may be, and of how many places.
func medianStep(a, b []terrain.Sample) (medianM, limitM float64, n int) {
	var d []float64
	var cellM float64
	for i := range a {
		if a[i].Miss == terrain.Hit && b[i].Miss == terrain.Hit {
			d = append(d, b[i].ElevationM-a[i].ElevationM)
			cellM = math.Max(cellM, math.Max(float64(a[i].CellM), float64(b[i].CellM)))
		}
	}
	if len(d) == 0 {
		return 0, 0, 0
	}
	sort.Float64s(d)
	return d[len(d)/2], stepM + stepPerCell*cellM, len(d)
}
