package debrief

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/routes/recorded"
)

const leastPassM = 500.0

// roadOf is the line of a descent and what is known of it before and after, with the
// distances from the crest in travel.
func roadOf(p *routes.Profile, d *routes.Descent) (*recorded.Line, error) {
	points, distanceM := make([]orb.Point, p.Count()), make([]float64, p.Count())
	for i := range points {
		points[i], distanceM[i] = p.Points[i], d.TravelFromStationM(math.Min(p.StationM(i), p.LengthM))
	}
	if d.Direction == routes.Backward {
		slices.Reverse(points)
		slices.Reverse(distanceM)
	}
	line, ok := recorded.NewLine(points, distanceM, p.PointAt((d.StartM+d.EndM)/2))
	if !ok {
		return nil, &catalog.Fault{Kind: catalog.ErrImpossible, Feature: "descent " + d.ID, What: "the line of its road is not stored", Fix: "survey the road again"}
	}
	return line, nil
}
