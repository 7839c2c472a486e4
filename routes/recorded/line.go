package recorded

import (
	"math"

	"github.com/paulmach/orb"

	"gradeline/routes/stationing"
)

// Line is the line of a road in a local plane, with distances along it.
type Line struct {
	plane     plane
	x, y      []float64
	distanceM []float64
	boxes     []box
}

// NewLine makes a line from points (longitude and latitude, degrees) and the distance
// along the road of each, metres, which rise or fall from point to point. Points with
// NaN are left out. middle is the point where the local plane touches the ellipsoid.
// NewLine returns false where fewer than two points are left.
func NewLine(points []orb.Point, distanceM []float64, middle orb.Point) (*Line, bool) {
	l := &Line{plane: planeAt(middle)}
	for i, p := range points {
		if math.IsNaN(p[0] + p[1]) {
			continue
		}
		x, y := l.plane.xy(p[0], p[1])
		l.x, l.y = append(l.x, x), append(l.y, y)
		l.distanceM = append(l.distanceM, distanceM[i])
	}
	if len(l.x) < 2 {
		return nil, false
	}
	l.boxed()
	return l, true
}

// plane is a local plane in metres about a point.
type plane struct {
	middle        orb.Point
	eastM, northM float64 // metres a degree
}

func planeAt(p orb.Point) plane {
	const d = 0.005
	return plane{p,
		stationing.DistanceM([2]float64{p[0] - d, p[1]}, [2]float64{p[0] + d, p[1]}) / (2 * d),
		stationing.DistanceM([2]float64{p[0], p[1] - d}, [2]float64{p[0], p[1] + d}) / (2 * d)}
}

func (p plane) xy(lonDeg, latDeg float64) (x, y float64) {
	lon := math.Remainder(lonDeg-p.middle[0], 360)
	return lon * p.eastM, (latDeg - p.middle[1]) * p.northM
}
