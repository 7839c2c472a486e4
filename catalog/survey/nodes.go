package survey

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/stationing"
)

// Routes that meet at a node have the same height there. Where their grade lines differ by more
// than their bounds, one of them assumes a structure that does not exist or misses one that does.
// The heights do not show which.

const (
	// nodeLeastM is as much as two grade lines at one node may always differ: the lines are drawn
	// and sampled separately (our own choice).
	nodeLeastM = 3.0
	// nodeReachM is the distance from the node within which neither line is reliable; farther where
	// a stretch without ground begins within it (our own choice, as for other stretches in doubt).
	nodeReachM = 500.0
)

// nodeHeight is the height of a route's grade line at a node: one of its ends, or a place on it
// where another road of its network ends.
type nodeHeight struct {
	LonDeg     float64 `json:"lon_deg"`
	LatDeg     float64 `json:"lat_deg"`
	StationM   float64 `json:"station_m"`
	ElevationM float64 `json:"elevation_m"`
	ErrM       float64 `json:"err_m"`
	FromM      float64 `json:"from_m"` // of the stretch that is in doubt where the height is contradicted
	ToM        float64 `json:"to_m"`
	IsFirm     bool    `json:"firm"` // it rests on ground that can be relied on
}

// routeNodes are the heights of a route at its nodes.
type routeNodes struct {
	Route   string       `json:"route"`
	Road    string       `json:"network_road"` // its id in the road network; empty where it is in none
	Heights []nodeHeight `json:"heights"`
}

// nodeHeights are the heights of a profile at its ends and at further places on the line, without
// those that have none.
func nodeHeights(p *routes.Profile, places []nodePlace) []nodeHeight {
	first, last := p.PointAt(0), p.PointAt(p.LengthM)
	var out []nodeHeight
	for _, k := range append([]nodePlace{{first[0], first[1], 0}, {last[0], last[1], p.LengthM}}, places...) {
		z, e := heightNear(p, k.stationM)
		if math.IsNaN(z) || math.IsInf(e, 0) {
			continue
		}
		from, to := doubtAround(p, k.stationM)
		out = append(out, nodeHeight{k.lonDeg, k.latDeg, k.stationM, z, e, from, to, isFirm(p, k.stationM)})
	}
	return out
}

const (
	runOnM        = 100.0 // a line that ends on a structure has no height on its last metres
	runOnErrSlope = 0.12  // the line may bend there: as much as a road's steepest grade, a wide bound
)

// heightNear is the height of a profile at a station with its 95 % half-width; where it has none,
// the height of the nearest station within runOnM, with the bound of a road that falls or climbs
// from there.
func heightNear(p *routes.Profile, atM float64) (elevationM, errM float64) {
	for d := 0.0; d <= runOnM; d += p.StepM {
		for _, s := range []float64{atM - d, atM + d} {
			if s < 0 || s > p.LengthM {
				continue
			}
			if z := p.ElevationAtM(s); !math.IsNaN(z) {
				return z, p.ElevationErrM(s) + runOnErrSlope*d
			}
		}
	}
	return math.NaN(), math.Inf(1)
}

// nodePlace is a node by its place and station.
type nodePlace struct{ lonDeg, latDeg, stationM float64 }

// doubtAround is the stretch that a wrong height at a station puts in doubt: nodeReachM on both
// sides, and all of what does not rest on ground there.
func doubtAround(p *routes.Profile, atM float64) (fromM, toM float64) {
	fromM, toM = math.Max(0, atM-nodeReachM), math.Min(p.LengthM, atM+nodeReachM)
	i, k := int(math.Round(p.IndexFromStationM(fromM))), int(math.Round(p.IndexFromStationM(toM)))
	for ; i > 0 && i < len(p.State) && p.State[i] != routes.Measured; i-- {
		fromM = p.StationM(i - 1)
	}
	for ; k >= 0 && k < len(p.State)-1 && p.State[k] != routes.Measured; k++ {
		toM = p.StationM(k + 1)
	}
	return math.Max(0, fromM), math.Min(p.LengthM, toM)
}

// innerNodes are the vertices of a route at which it meets another road of its network.
func innerNodes(r *routes.Route, lengthM float64, isNode func(orb.Point) bool) []nodePlace {
	var out []nodePlace
	sumM := 0.0
	for i := 1; i < len(r.Line); i++ {
		if sumM += stationing.DistanceM(r.Line[i-1], r.Line[i]); i < len(r.Line)-1 && isNode(r.Line[i]) {
			out = append(out, nodePlace{r.Line[i][0], r.Line[i][1], sumM})
		}
	}
	for i := range out { // the route's own length is the one that stations go by
		out[i].stationM *= lengthM / sumM
	}
	return out
}

// nodeCheck compares the heights of routes that share a node. It keeps a few bytes for each node.
type nodeCheck struct {
	first  map[uint64]nodeFirst
	routes []string
	gaps   []string
}

// nodeFirst is the first route at a node.
type nodeFirst struct {
	elevationM, errM, stationM, fromM, toM float32
	route                                  int32
}

func nodeFirstOf(e *nodeHeight, route int) nodeFirst {
	return nodeFirst{float32(e.ElevationM), float32(e.ErrM), float32(e.StationM), float32(e.FromM), float32(e.ToM), int32(route)}
}

// contradiction is a stretch of a route whose height another route contradicts.
type contradiction struct {
	route   string
	stretch routes.Doubt
}

// nodeKey is a place to 1e-7 degrees, a centimetre: the precision of map data.
func nodeKey(lonDeg, latDeg float64) uint64 {
	return uint64(uint32(int32(math.Round(lonDeg*1e7))))<<32 | uint64(uint32(int32(math.Round(latDeg*1e7))))
}

// add compares a route's nodes with those of the routes before it, and returns what is in doubt.
func (c *nodeCheck) add(route string, nodes []nodeHeight) []contradiction {
	if route == "" { // it could not be surveyed
		return nil
	}
	var out []contradiction
	if c.first == nil {
		c.first = map[uint64]nodeFirst{}
	}
	c.routes = append(c.routes, route)
	for i := range nodes {
		e := &nodes[i]
		key := nodeKey(e.LonDeg, e.LatDeg)
		if f, isKnown := c.first[key]; isKnown {
			out = append(out, c.compare(c.routes[f.route], f, route, e)...)
			continue
		}
		c.first[key] = nodeFirstOf(e, len(c.routes)-1)
	}
	return out
}

// compare compares the heights of two routes at one node. Where they contradict each other it notes
// the gap, and returns the stretches of both that are in doubt.
func (c *nodeCheck) compare(other string, f nodeFirst, route string, e *nodeHeight) []contradiction {
	apart := math.Abs(e.ElevationM - float64(f.elevationM))
	if !isApart(apart, e.ErrM, float64(f.errM)) {
		return nil
	}
	c.gaps = append(c.gaps, fmt.Sprintf("%s at %.0f m and %s at %.0f m meet at %.6f, %.6f, but their grade lines differ by %.1f m (%.1f and %.1f m): tag the structures there or check the roads; neither is reliable near it",
		other, f.stationM, route, e.StationM, e.LonDeg, e.LatDeg, apart, f.elevationM, e.ElevationM))
	why := func(of string) string {
		return fmt.Sprintf("its grade line and that of %s differ by %.1f m where they meet", of, apart)
	}
	return []contradiction{{other, routes.Doubt{FromM: float64(f.fromM), ToM: float64(f.toM), Why: why(route)}},
		{route, routes.Doubt{FromM: e.FromM, ToM: e.ToM, Why: why(other)}}}
}
