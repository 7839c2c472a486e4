package synth

import (
	"math"
	"sort"
)

// structureShare of bridges among structures.
const bridgeShare = 0.62

// A structure stands where the ground leaves what a road could follow: at its ends
// the ground's slope against the road is 35 % or more. A long low hill over a
// tunnel, which an untagged line would rightly be taken over, is not drawn.

// drawStructures places bridges and tunnels, apart from each other and from the
// ends of the line.
func drawStructures(d dice, p params, lengthM float64) []span {
	const margin, apart = 250.0, 120.0
	n := 0
	for x := p.structuresPerM * lengthM; x > 0; x-- { // whole part, then chance
		if x >= 1 || d.Float64() < x {
			n++
		}
	}
	var out []span
	for tries := 0; len(out) < n && tries < 40*n; tries++ {
		s := span{tunnel: d.Float64() >= bridgeShare, skew: d.logBetween(0.6, 1.6)}
		var l float64
		if s.tunnel {
			l = d.logNormal(420, 0.85, 80, 3000)
			s.departureM = clamp(l*d.logBetween(0.1, 0.33), 12, 300)
		} else {
			l = d.logNormal(90, 0.8, 25, 800)
			s.departureM = -math.Min(d.logBetween(4, 90), 0.36*l)
		}
		s.power = math.Max(2.5, d.between(0.35, 0.9)*l/(2*math.Abs(s.departureM)))
		if l > lengthM/4 {
			continue
		}
		s.from = d.between(margin, lengthM-margin-l)
		s.to = s.from + l
		clear := true
		for _, o := range out {
			clear = clear && (s.to+apart < o.from || o.to+apart < s.from)
		}
		if clear && s.from > margin {
			out = append(out, s)
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].from < out[j].from })
	return out
}

// departure returns how far natural ground is from the road because of a
// structure at station s, and whether s is on one.
func (a *alignment) departure(s float64) (departureM float64, on bool) {
	for _, t := range a.structures {
		if s > t.from && s < t.to {
			u := math.Pow((s-t.from)/(t.to-t.from), t.skew)
			return t.departureM * (1 - math.Pow(math.Abs(2*u-1), t.power)), true
		}
	}
	return 0, false
}
