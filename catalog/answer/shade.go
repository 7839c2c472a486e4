package answer

import (
	"context"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/terrain"
)

// shadeAround samples the surface over the descents' extent and a margin.
func shadeAround(ctx context.Context, surface terrain.Surface, es []catalog.Entry) (*plot.Hillshade, error) {
	const most = 700 // cells a side: what a screen shows
	h := &plot.Hillshade{WestDeg: 180, SouthDeg: 90, EastDeg: -180, NorthDeg: -90}
	for i := range es {
		for _, v := range es[i].Line {
			h.WestDeg, h.EastDeg = math.Min(h.WestDeg, v.LonDeg), math.Max(h.EastDeg, v.LonDeg)
			h.SouthDeg, h.NorthDeg = math.Min(h.SouthDeg, v.LatDeg), math.Max(h.NorthDeg, v.LatDeg)
		}
	}
	if h.EastDeg-h.WestDeg > 90 {
		return nil, nil // across the antimeridian or half the world: no map would help
	}
	stretch := math.Cos((h.SouthDeg + h.NorthDeg) / 2 * math.Pi / 180)
	margin := 0.15 * math.Max(h.NorthDeg-h.SouthDeg, (h.EastDeg-h.WestDeg)*stretch)
	h.SouthDeg, h.NorthDeg = h.SouthDeg-margin, h.NorthDeg+margin
	h.WestDeg, h.EastDeg = h.WestDeg-margin/stretch, h.EastDeg+margin/stretch
	stepDeg := math.Max(h.NorthDeg-h.SouthDeg, (h.EastDeg-h.WestDeg)*stretch) / most
	h.Rows = max(2, int((h.NorthDeg-h.SouthDeg)/stepDeg))
	h.Cols = max(2, int((h.EastDeg-h.WestDeg)*stretch/stepDeg))
	points := make([]terrain.Point, 0, h.Rows*h.Cols)
	for r := range h.Rows {
		for c := range h.Cols {
			points = append(points, terrain.Point{
				LonDeg: h.WestDeg + (float64(c)+0.5)/float64(h.Cols)*(h.EastDeg-h.WestDeg),
				LatDeg: h.NorthDeg - (float64(r)+0.5)/float64(h.Rows)*(h.NorthDeg-h.SouthDeg),
			})
		}
	}
	samples := make([]terrain.Sample, len(points))
	if err := surface.Sample(ctx, points, samples); err != nil {
		return nil, err
	}
	for _, x := range samples {
		h.ElevationM = append(h.ElevationM, x.ElevationM)
	}
	return h, nil
}
