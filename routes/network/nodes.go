package network

import (
	"math"
	"strings"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// nodeTable gives each place where lines may meet a number: that of the road data,
// or one for each place to 1e-7 degree (about a centimetre), where the data has none.
type nodeTable struct {
	byPlace map[[2]int32]int32
	byID    map[int64]int32
	points  []orb.Point
}

func newNodeTable() *nodeTable {
	return &nodeTable{byPlace: map[[2]int32]int32{}, byID: map[int64]int32{}}
}

func placeKey(p orb.Point) [2]int32 {
	lon := p[0]
	if lon == 180 {
		lon = -180 // one meridian
	}
	return [2]int32{int32(math.Round(lon * 1e7)), int32(math.Round(p[1] * 1e7))}
}

// number returns the node of vertex i of a feature.
func (t *nodeTable) number(f *routes.Feature, i int) int32 {
	if f.NodeIDs != nil {
		id := f.NodeIDs[i]
		n, ok := t.byID[id]
		if !ok {
			n = t.add(f.Line[i])
			t.byID[id] = n
		}
		return n
	}
	key := placeKey(f.Line[i])
	n, ok := t.byPlace[key]
	if !ok {
		n = t.add(f.Line[i])
		t.byPlace[key] = n
	}
	return n
}

func (t *nodeTable) add(p orb.Point) int32 {
	t.points = append(t.points, p)
	return int32(len(t.points) - 1)
}

// senseOf is +1 for a road that is one-way as drawn, -1 against it, 0 for both ways.
func senseOf(tags map[string]string) int {
	switch strings.ToLower(strings.TrimSpace(tags["oneway"])) {
	case "yes", "1", "true":
		return 1
	case "-1", "reverse":
		return -1
	}
	return 0
}

// IsTravelled reports whether a line's oneway tag allows travel along its drawing, or
// against it.
func IsTravelled(tags map[string]string, isReversed bool) bool {
	sense := senseOf(tags)
	return sense == 0 || (sense < 0) == isReversed
}

func isRoundabout(tags map[string]string) bool {
	j := tags["junction"]
	return j == "roundabout" || j == "circular"
}

// classRank orders highway classes; a link counts as its road. Unknown ones are in
// the middle, so that data without classes has one class.
func classRank(tags map[string]string) int {
	switch strings.TrimSuffix(tags["highway"], "_link") {
	case "motorway":
		return 0
	case "trunk":
		return 1
	case "primary":
		return 2
	case "secondary":
		return 3
	case "tertiary":
		return 4
	case "":
		return 3
	}
	return 5
}

// texts splits a tag with several values.
func texts(v string) []string {
	var out []string
	for _, s := range strings.Split(v, ";") {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

func share(a, b []string) bool {
	for _, x := range a {
		for _, y := range b {
			if strings.EqualFold(x, y) {
				return true
			}
		}
	}
	return false
}

// plane converts differences of degrees near a latitude to metres, with enough precision for angles
// and comparisons of length.
type plane struct{ eastM, northM float64 }

func planeAt(latDeg float64) plane {
	const degreeM = 111_195 // of a sphere of 6,371 km
	return plane{degreeM * math.Cos(latDeg*math.Pi/180), degreeM}
}

func (m plane) vector(a, b orb.Point) (x, y float64) {
	east := b[0] - a[0]
	if math.Abs(east) > 180 {
		east = math.Remainder(east, 360)
	}
	return east * m.eastM, (b[1] - a[1]) * m.northM
}

func lineM(line orb.LineString) float64 {
	sum := 0.0
	for i := 1; i < len(line); i++ {
		x, y := planeAt(line[i][1]).vector(line[i-1], line[i])
		sum += math.Hypot(x, y)
	}
	return sum
}

// canonical is positive for travel that goes east rather than west; a slope keeps
// roads that run due north or south from being drawn.
func canonical(x, y float64) float64 { return x + 0.37*y }
