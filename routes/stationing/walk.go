package stationing

import (
	"math"

	"github.com/paulmach/orb"
)

// legM is the length up to which a segment that is straight in longitude and latitude
// is divided evenly: over 1 km the point halfway is off by at most 4 cm at 60° of
// latitude, growing with the square of the length.
const legM = 1000.0

// walker finds places along a line for ascending stations. Between
// vertices the line is straight in longitude and latitude; a segment longer
// than legM is divided into legs, whose lengths are brought to the geodesic
// length of the segment.
type walker struct {
	line    orb.LineString
	vertexM []float64
	seg     int       // segment from vertex seg to seg+1
	legs    []float64 // stations of the ends of the legs of seg; nil for one leg
	leg     int
}

func newWalker(line orb.LineString, vertexM []float64) *walker {
	w := &walker{line: line, vertexM: vertexM, seg: -1}
	w.enter(0)
	return w
}

func (w *walker) enter(seg int) {
	w.seg, w.leg, w.legs = seg, 0, nil
	from, to := w.vertexM[seg], w.vertexM[seg+1]
	n := int(math.Ceil((to - from) / legM))
	if n < 2 {
		return
	}
	w.legs = make([]float64, n+1)
	a, b := w.line[seg], w.line[seg+1]
	prev, sum := a, 0.0
	for i := 1; i <= n; i++ {
		p := between(a, b, float64(i)/float64(n))
		sum += DistanceM(prev, p)
		w.legs[i], prev = sum, p
	}
	for i := range w.legs {
		w.legs[i] = from + w.legs[i]*(to-from)/sum
	}
	w.legs[n] = to
}

// pointAt returns the place at a station, the line's ends for stations beyond it.
func (w *walker) pointAt(stationM float64) orb.Point {
	for w.seg+2 < len(w.line) && stationM > w.vertexM[w.seg+1] {
		w.enter(w.seg + 1)
	}
	a, b := w.line[w.seg], w.line[w.seg+1]
	from, to := w.vertexM[w.seg], w.vertexM[w.seg+1]
	switch {
	case stationM <= from:
		return a
	case stationM >= to:
		return b
	case w.legs == nil:
		return between(a, b, (stationM-from)/(to-from))
	}
	for stationM > w.legs[w.leg+1] {
		w.leg++
	}
	n := len(w.legs) - 1
	t := (stationM - w.legs[w.leg]) / (w.legs[w.leg+1] - w.legs[w.leg])
	return between(a, b, (float64(w.leg)+t)/float64(n))
}
