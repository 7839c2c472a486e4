package raster

import (
	"math"
	"slices"

	"gradeline/terrain"
)

// underPadM is how far from a line a raster still counts as under it: further than cross-sections and
// the lines beside a road reach. Our own choice.
const underPadM = 1000.0

// SourcesUnder describes the rasters that any of some lines comes near, in the order of Sources.
func (s *Surface) SourcesUnder(lines ...[]terrain.Point) []terrain.Raster {
	var out []terrain.Raster
	var near []*nearLine
	for _, line := range lines {
		near = append(near, newNearLine(line))
	}
	for i, t := range s.tiles {
		box := box4(t.Bounds)
		if slices.ContainsFunc(near, func(n *nearLine) bool { return n.comesNear(box) }) {
			out = append(out, s.sources[i])
		}
	}
	return out
}

// nearLine is a line as the boxes of its segments with the pad around them, and the box of all.
// Longitudes go on beyond 180°.
type nearLine struct {
	segments [][4]float64
	whole    [4]float64
}

func newNearLine(line []terrain.Point) *nearLine {
	n := &nearLine{whole: [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}}
	lonDeg := 0.0
	for k := range line {
		from, lat := lonDeg, line[max(0, k-1)].LatDeg
		lonDeg = line[k].LonDeg
		if k == 0 {
			lonDeg = math.Mod(lonDeg, 360)
			from = lonDeg
		}
		lonDeg += 360 * math.Round((from-lonDeg)/360) // the short way round
		south, north := math.Min(lat, line[k].LatDeg), math.Max(lat, line[k].LatDeg)
		eastM, northM := metresPerDegree(math.Max(math.Abs(south), math.Abs(north)))
		padLonDeg, padDeg := math.Min(360, underPadM/eastM), underPadM/northM
		box := [4]float64{math.Min(from, lonDeg) - padLonDeg, south - padDeg, math.Max(from, lonDeg) + padLonDeg, north + padDeg}
		n.segments = append(n.segments, box)
		n.whole = [4]float64{math.Min(n.whole[0], box[0]), math.Min(n.whole[1], box[1]), math.Max(n.whole[2], box[2]), math.Max(n.whole[3], box[3])}
	}
	return n
}

// comesNear reports whether the line comes near a box of degrees.
func (n *nearLine) comesNear(box [4]float64) bool {
	if box[3] < n.whole[1] || box[1] > n.whole[3] {
		return false
	}
	for ; box[2] > n.whole[0]; box[0], box[2] = box[0]-360, box[2]-360 { // to the first turn that may meet
	}
	for ; box[0] < n.whole[2]; box[0], box[2] = box[0]+360, box[2]+360 {
		if _, ok := meet(n.whole, box); !ok {
			continue
		}
		for _, segment := range n.segments {
			if _, ok := meet(segment, box); ok {
				return true
			}
		}
	}
	return false
}
