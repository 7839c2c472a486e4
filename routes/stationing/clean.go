package stationing

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

const (
	spikeM     = 25.0 // longest out-and-back that counts as a drawing error
	spikeSideM = 1.0  // how far apart its two legs may lie
	spikeTurn  = 170 * math.Pi / 180
)

// cleanLine drops repeated vertices, the second of two vertices where pieces
// meet (first are the pieces' first vertices), stray vertices and digitising spikes;
// the notes say where, for spikes of over a metre how many. The function it returns
// spreads the stations of the clean line over the raw vertices; a dropped one gets
// that of the vertex kept before it.
func cleanLine(raw orb.LineString, first []int) (line orb.LineString, notes []string, spread func([]float64) []float64) {
	joint := make(map[int]bool, len(first))
	for _, i := range first[1:] {
		joint[i] = true
	}
	keep := make([]int, 0, len(raw)) // raw index of each vertex kept
	for i := range raw {
		if n := len(keep); n > 0 {
			tol := repeatM
			if joint[i] {
				tol = meetM
			}
			if near(raw[keep[n-1]], raw[i], tol) {
				// The far end stays where it was drawn, unless that is on the vertex before.
				if i == len(raw)-1 && n > 1 && raw[i] != raw[keep[n-1]] && !near(raw[keep[n-2]], raw[i], repeatM) {
					keep[n-1] = i
				}
				continue
			}
		}
		keep = append(keep, i)
	}
	keep, notes = dropStrays(raw, keep)
	keep, spikes := dropSpikes(raw, keep)
	if spikes > 0 {
		notes = append(notes, fmt.Sprintf("at %d place(s) its line goes up to %.0f m out and back over itself: left out as drawing errors", spikes, spikeM))
	}
	line = make(orb.LineString, len(keep))
	for k, i := range keep {
		line[k] = raw[i]
	}
	return line, notes, func(stationsM []float64) []float64 {
		out := make([]float64, len(raw))
		k := 0
		for i := range raw {
			for k+1 < len(keep) && keep[k+1] <= i {
				k++
			}
			out[i] = stationsM[k]
		}
		return out
	}
}

// near avoids the geodesic for vertices that are clearly apart.
func near(a, b orb.Point, tolM float64) bool {
	if a == b {
		return true
	}
	e, n := metricAt(a[1]).deltaM(a, b)
	return math.Hypot(e, n) <= tolM
}

// dropSpikes removes out-and-back drawing errors of up to spikeM. A longer retrace is a road driven
// there and back, and stays complete.
func dropSpikes(raw orb.LineString, keep []int) (out []int, spikes int) {
	if len(keep) < 3 {
		return keep, 0
	}
	out = keep[:1:1]
	for k := 1; k < len(keep); k++ {
		out = append(out, keep[k])
		for len(out) >= 3 {
			n := len(out)
			abM, bcM, isBack := turnsBack(raw[out[n-3]], raw[out[n-2]], raw[out[n-1]])
			if !isBack || min(abM, bcM) > spikeM || isReturn(raw, out[:n-1], keep[k:]) {
				break
			}
			if min(abM, bcM) > spikeSideM {
				spikes++
			}
			out = append(out[:n-2], keep[k])
			if near(raw[out[n-3]], raw[keep[k]], repeatM) {
				out = out[:n-2]
			}
		}
	}
	if len(out) < 2 {
		return keep, 0
	}
	return out, spikes
}

// turnsBack measures the legs at b and says whether the line goes back at b
// over itself.
func turnsBack(a, b, c orb.Point) (abM, bcM float64, isBack bool) {
	m := metricAt(b[1])
	e1, n1 := m.deltaM(a, b)
	e2, n2 := m.deltaM(b, c)
	abM, bcM = math.Hypot(e1, n1), math.Hypot(e2, n2)
	if abM == 0 || bcM == 0 {
		return abM, bcM, false
	}
	cross, dot := e1*n2-n1*e2, e1*e2+n1*n2
	turn := math.Abs(math.Atan2(cross, dot))
	side := math.Abs(cross) / max(abM, bcM)
	return abM, bcM, turn >= spikeTurn && side <= spikeSideM
}

// isReturn says whether the way on from the last vertex of out goes back along
// out for more than spikeM: then it is not an error.
func isReturn(raw orb.LineString, out, on []int) bool {
	i := len(out) - 1 // the way back from the turn, vertex by vertex
	p := raw[out[i]]
	backM, legM := 0.0, 0.0 // the way back to out[i-1], and the way on to the current vertex
	for _, j := range on {
		legM += lengthM(p, raw[j])
		p = raw[j]
		for i > 0 && backM+lengthM(raw[out[i]], raw[out[i-1]]) < legM {
			backM += lengthM(raw[out[i]], raw[out[i-1]])
			i--
		}
		if i == 0 {
			return false
		}
		t := (legM - backM) / lengthM(raw[out[i]], raw[out[i-1]])
		if !near(p, between(raw[out[i]], raw[out[i-1]], t), spikeSideM) {
			return false
		}
		if legM > spikeM {
			return true
		}
	}
	return false
}

// lengthM is the distance of two vertices, good to a millimetre in 100 m.
func lengthM(a, b orb.Point) float64 {
	e, n := metricAt((a[1]+b[1])/2).deltaM(a, b)
	return math.Hypot(e, n)
}
