package survey

import (
	"context"

	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

const (
	placesPerRoute = 40
	mostPlaces     = 2000 // of all routes
)

// StepCheck collects places on the roads at which the rasters are compared with each
// other. A survey over rasters with different heights has gaps: the figures near their
// joins cannot be trusted.
type StepCheck struct{ places []terrain.Point }

// placesOf are a few places of a route, longitude and latitude.
func placesOf(p *routes.Profile) [][2]float64 {
	var out [][2]float64
	for i := 0; i < len(p.Points); i += max(1, len(p.Points)/placesPerRoute) {
		out = append(out, p.Points[i])
	}
	return out
}

// Add includes a route.
func (c *StepCheck) Add(p *routes.Profile) { c.addPlaces(placesOf(p)) }

// addPlaces adds places until there are enough.
func (c *StepCheck) addPlaces(places [][2]float64) {
	for _, p := range places[:min(len(places), mostPlaces-len(c.places))] {
		c.places = append(c.places, terrain.Point{LonDeg: p[0], LatDeg: p[1]})
	}
}

// Steps names the rasters with different heights for the same ground. Rasters that
// could not be compared are reported in the same way: that is a gap too.
func (c *StepCheck) Steps(ctx context.Context, surface *raster.Surface) []string {
	steps, err := surface.Steps(ctx, c.places)
	if err != nil {
		steps = append(steps, "the rasters could not be compared with each other: "+wording.OneLine(err.Error()))
	}
	return steps
}
