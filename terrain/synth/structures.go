package synth

import (
	"math"
	"sort"
)

// structureShare of bridges among structures.
const bridgeShare = 0.62

// drawStructures places bridges and tunnels, apart from each other and from the ends of the line.
// At the ends of a structure the ground's slope against the road is at least 35 %: a long low hill
// over a tunnel is not drawn, since an untagged line would rightly lead over it. Tunnels are placed
// where the grade changes least, as they are built; no measurement from above can show a grade
// change inside one.
func drawStructures(d dice, p params, road *profile, lengthM float64) []span {
	n := 0
	for x := p.structuresPerM * lengthM; x > 0; x-- { // integer part, then chance
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
		if s.tunnel {
			s.from = placeTunnel(d, road, out, l, lengthM)
		} else {
			s.from = d.between(structureMarginM, lengthM-structureMarginM-l)
		}
		s.to = s.from + l
		if isClear(s.from, s.to, out) {
			out = append(out, s)
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].from < out[j].from })
	return out
}

const (
	structureMarginM = 250.0 // from the line's ends
	structureApartM  = 120.0
	tunnelSpreadPct  = 3.0 // greatest spread of grades inside a tunnel
)

func isClear(from, to float64, others []span) bool {
	for _, o := range others {
		if to+structureApartM >= o.from && o.to+structureApartM >= from {
			return false
		}
	}
	return from > structureMarginM
}

// placeTunnel returns the best of a dozen places for a tunnel of length l by the
// spread of grades inside; 0 if none will do.
func placeTunnel(d dice, road *profile, others []span, l, lengthM float64) float64 {
	best, at := tunnelSpreadPct, 0.0
	for range 12 {
		from := d.between(structureMarginM, lengthM-structureMarginM-l)
		lo, hi := math.Inf(1), math.Inf(-1)
		for u := from; u <= from+l; u += 20 {
			_, g := road.heightAt(u)
			lo, hi = math.Min(lo, g), math.Max(hi, g)
		}
		if hi-lo < best && isClear(from, from+l, others) {
			best, at = hi-lo, from
		}
	}
	return at
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
