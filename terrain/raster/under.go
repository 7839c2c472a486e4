package raster

import (
	"math"

	"gradeline/terrain"
)

// underPadM is how far from a line a raster still counts as under it: further than cross-sections and
// the lines beside a road reach. Our own choice.
const underPadM = 1000.0

const metresADeg = 111_000.0 // of latitude, about

// SourcesUnder describes the rasters that a line of longitudes and latitudes in degrees comes near, in the
// order of Sources.
func (s *Surface) SourcesUnder(line [][2]float64) []terrain.Raster {
	var out []terrain.Raster
	for i, t := range s.tiles {
		if comesNear(line, box4(t.Bounds)) {
			out = append(out, s.sources[i])
		}
	}
	return out
}

// comesNear reports whether the box of some segment of a line, with the pad around it, meets a box of degrees.
func comesNear(line [][2]float64, box [4]float64) bool {
	midDeg := (box[0] + box[2]) / 2
	for k := range line {
		a, b := line[max(0, k-1)], line[k]
		turnDeg := 360 * math.Round((midDeg-b[0])/360) // to the turn of the box
		south, north := math.Min(a[1], b[1]), math.Max(a[1], b[1])
		padDeg := underPadM / metresADeg
		padLonDeg := padDeg / math.Max(0.01, math.Cos(math.Max(math.Abs(south), math.Abs(north))*math.Pi/180))
		west, east := math.Min(a[0], b[0])+turnDeg, math.Max(a[0], b[0])+turnDeg
		if east-west > 180 { // the segment crosses longitude 180°
			west, east = east-360, west
			if midDeg-east > 180 {
				west, east = west+360, east+360
			}
		}
		if _, ok := meet([4]float64{west - padLonDeg, south - padDeg, east + padLonDeg, north + padDeg}, box); ok {
			return true
		}
	}
	return false
}
