package survey

import (
	"fmt"
	"math"

	"gradeline/routes"
)

// Routes that end at the same place end at the same height. Where their grade lines differ by more
// than their bounds, one of them assumes a structure that does not exist or misses one that does.
// The heights do not show which.

// nodeLeastM is as much as two grade lines at one node may always differ: the lines are drawn and
// sampled separately (our own choice).
const nodeLeastM = 3.0

// endHeight is the height of a route's grade line at one of its ends.
type endHeight struct {
	LonDeg     float64 `json:"lon_deg"`
	LatDeg     float64 `json:"lat_deg"`
	StationM   float64 `json:"station_m"`
	ElevationM float64 `json:"elevation_m"`
	ErrM       float64 `json:"err_m"`
}

// routeEnds are the heights at both ends of a route.
type routeEnds struct {
	Route   string      `json:"route"`
	Heights []endHeight `json:"heights"`
}

// endHeights are those of a profile, without an end that has no height.
func endHeights(p *routes.Profile) []endHeight {
	var out []endHeight
	for _, s := range []float64{0, p.LengthM} {
		z, at := p.ElevationAtM(s), p.PointAt(s)
		if e := p.ElevationErrM(s); !math.IsNaN(z) && !math.IsInf(e, 0) {
			out = append(out, endHeight{at[0], at[1], s, z, e})
		}
	}
	return out
}

// nodeCheck compares the heights of routes that end at the same place. It keeps a few bytes for
// each end.
type nodeCheck struct {
	first  map[uint64]nodeFirst
	routes []string
	gaps   []string
}

// nodeFirst is the first route that ended at a node.
type nodeFirst struct {
	elevationM, errM, stationM float32
	route                      int32
}

// nodeKey is a place to 1e-7 degrees, a centimetre: the precision of map data.
func nodeKey(lonDeg, latDeg float64) uint64 {
	return uint64(uint32(int32(math.Round(lonDeg*1e7))))<<32 | uint64(uint32(int32(math.Round(latDeg*1e7))))
}

// add compares a route's ends with those of the routes before it.
func (c *nodeCheck) add(route string, ends []endHeight) {
	if len(ends) == 0 {
		return
	}
	if c.first == nil {
		c.first = map[uint64]nodeFirst{}
	}
	c.routes = append(c.routes, route)
	for _, e := range ends {
		key := nodeKey(e.LonDeg, e.LatDeg)
		f, known := c.first[key]
		if !known {
			c.first[key] = nodeFirst{float32(e.ElevationM), float32(e.ErrM), float32(e.StationM), int32(len(c.routes) - 1)}
			continue
		}
		apart := math.Abs(e.ElevationM - float64(f.elevationM))
		if apart > math.Max(nodeLeastM, math.Hypot(e.ErrM, float64(f.errM))) {
			c.gaps = append(c.gaps, fmt.Sprintf("%s at %.0f m and %s at %.0f m meet at %.6f, %.6f, but their grade lines differ by %.1f m (%.1f and %.1f m): tag the structures there or look at the roads; neither can be relied on near it",
				c.routes[f.route], f.stationM, route, e.StationM, e.LonDeg, e.LatDeg, apart, f.elevationM, e.ElevationM))
		}
	}
}
