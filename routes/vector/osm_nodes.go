package vector

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// nodeTable holds the places of the nodes that are wanted, by number.
// OpenStreetMap keeps places to 1e-7 degree, so 32 bits hold a coordinate.
type nodeTable struct {
	ids      []int64 // ascending
	lon, lat []int32 // 1e-7 degree; noPlace where not found yet
	next     int     // where the next node is likely to be: files are sorted by number
}

const (
	noPlace  = math.MinInt32
	degreeE7 = 1e7
)

// want reserves room for the nodes of the ways.
func (t *nodeTable) want(ways []osmWay) {
	n := 0
	for i := range ways {
		n += len(ways[i].refs)
	}
	t.ids = make([]int64, 0, n)
	for i := range ways {
		t.ids = append(t.ids, ways[i].refs...)
	}
	slices.Sort(t.ids)
	t.ids = slices.Clip(slices.Compact(t.ids))
	t.lon, t.lat = make([]int32, len(t.ids)), make([]int32, len(t.ids))
	for i := range t.lon {
		t.lon[i] = noPlace
	}
}

func (t *nodeTable) index(id int64) (int, bool) {
	if t.next < len(t.ids) && t.ids[t.next] == id {
		return t.next, true
	}
	return slices.BinarySearch(t.ids, id)
}

// set stores a node's place. It reports a place that is not a longitude and latitude, or a second
// place for the same node.
func (t *nodeTable) set(id int64, lonDeg, latDeg float64) (isKnown, isRepeated, isOut bool) {
	i, ok := t.index(id)
	if !ok {
		return false, false, false
	}
	t.next = i + 1
	// Exactly 0, 0 means a node without a place.
	if !(math.Abs(lonDeg) <= 180 && math.Abs(latDeg) <= 90) || lonDeg == 0 && latDeg == 0 {
		return true, false, true
	}
	lon, lat := int32(math.Round(lonDeg*degreeE7)), int32(math.Round(latDeg*degreeE7))
	if t.lon[i] != noPlace {
		return true, t.lon[i] != lon || t.lat[i] != lat, false
	}
	t.lon[i], t.lat[i] = lon, lat
	return true, false, false
}

// nodePart is a run of a way's nodes whose places are known.
type nodePart struct {
	line orb.LineString
	ids  []int64
}

// parts splits a way where nodes are missing.
func (t *nodeTable) parts(refs []int64) (out []nodePart, isWhole bool) {
	isWhole = true
	var p nodePart
	end := func() {
		if len(p.ids) >= 2 {
			out = append(out, p)
		}
		p = nodePart{}
	}
	for _, id := range refs {
		i, ok := slices.BinarySearch(t.ids, id)
		if !ok || t.lon[i] == noPlace {
			isWhole = false
			end()
			continue
		}
		p.line = append(p.line, orb.Point{float64(t.lon[i]) / degreeE7, float64(t.lat[i]) / degreeE7})
		p.ids = append(p.ids, id)
	}
	end()
	return out, isWhole
}
