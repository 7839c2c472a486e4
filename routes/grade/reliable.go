package grade

import (
	"fmt"
	"math"
)

// When a line follows no road. A route in long tunnels has few long departures;
// a line across country has many, or slopes that no road keeps up. How many untagged
// structures are found tells no more: on 1 m cells a real stack of hairpins shows 1.5
// to the km over 29 % of it, on 30 m cells a line 100 m off its road 0.3 over 6 %.
const (
	unreliableShare     = 0.35 // of the ground under the line, far from the grade line …
	unreliableRunsPerKM = 1.2  // … in that many stretches
	unreliableAny       = 0.75 // … or this much in any number
	unreliableSteep     = 0.12 // grade, kept up over …
	unreliableSteepPart = 0.25 // … this share of the line
	unreliableNoise     = 3.0  // residuals' sd over the usual noise of the cell size, on any line
	// Local roughness over the usual (localRatio), where that many windows measure
	// it: stretches of 5 km have up to 1.5 times what a whole road has. At 1 m one
	// stretch of 2 km has 2.69, lines 100 m off 4.4 at least.
	unreliableRoughFrom                      = 30      // above 3 m cells, beyond roughest
	unreliableRougher, unreliableRougherFrom = 3.0, 16 // at any
)

// roughest is the local roughness over the usual up to which ground of a cell size
// still passes for a road's. With 1.8 times the noise 24 tuning roads have 1.82/2.41/
// 1.71 at most at 10/30/90 m, with 3 times 2.74/3.23/1.91 at least; with the usual
// noise, voids, canopy, narrow benches or no tags 1.37/1.57/1.41 at most.
func roughest(cellM float64) float64 {
	const at10M, at30M, at90M = 2.2, 2.7, 1.8
	t := math.Log(cellM/30) / math.Log(3)
	if t < 0 {
		return at30M + max(-1, t)*(at30M-at10M)
	}
	return at30M + min(1, t)*(at90M-at30M)
}

// residualLimit is the residuals' sd over the usual noise of a cell size up to which a
// line of unreliableRougherFrom windows still passes for one on its road. It tells a line
// beside its road better than roughness does, since a fit takes noise up as well: roads
// with short steep parts, benches or ordinary ones have .97/1.16/1.03 at most at 10/30/90 m
// cells, with 1.8 times the noise 1.33/1.49/1.03; lines 100 m off the road 2.5/2.1/1.3 in
// the median. Finer than 3 m it is not measured.
func residualLimit(cellM float64) float64 {
	const at10M, at30M, at90M = 1.45, 1.6, 1.06
	between := func(fromM, toM, from, to float64) float64 {
		t := max(0, min(1, math.Log(cellM/fromM)/math.Log(toM/fromM)))
		return from + t*(to-from)
	}
	switch {
	case cellM <= 10:
		return between(flatFirstMaxCellM, 10, unreliableNoise, at10M)
	case cellM <= 30:
		return between(10, 30, at10M, at30M)
	}
	return between(30, 90, at30M, at90M)
}

// unreliable says in plain words why the grade line does not stand on a road;
// empty where it does. ratio is the residuals' sd over the usual noise.
func (r *recoverer) unreliable(ratio float64) string {
	p := &r.p
	km := float64(p.n) * p.stepM / 1000
	offShare, steepShare := r.shares()
	switch {
	case offShare > unreliableAny || offShare > unreliableShare && float64(len(r.runs)) > unreliableRunsPerKM*km:
		return fmt.Sprintf("%.0f %% of the ground under the line is far from any road's grade line: the line may be drawn beside the road, cross water, or follow no road", 100*offShare)
	case steepShare > unreliableSteepPart:
		return fmt.Sprintf("%.0f %% of the line is steeper than %.0f %%: steps, a track or a line across country rather than a road", 100*steepShare, 100*unreliableSteep)
	case ratio > unreliableNoise:
		return roughWords(ratio)
	}
	local, windows := localRatio(p, r.buf)
	switch {
	case ratio > residualLimit(p.cellM) && windows >= unreliableRougherFrom:
		return fmt.Sprintf("the ground under the line departs from any road's grade line %.1f times as far as this cell size usually does: the line may be drawn beside the road", ratio)
	case local > unreliableRougher && windows >= unreliableRougherFrom,
		local > roughest(p.cellM) && windows >= unreliableRoughFrom && p.cellM > flatFirstMaxCellM:
		return roughWords(local)
	}
	return ""
}

// shares are how much of the ground is far from the grade line, and how much of the line
// is steeper than a road.
func (r *recoverer) shares() (off, steep float64) {
	p := &r.p
	s := max(p.sigmaM, sigmaFloorM)
	ground, offN, steepN := 0, 0, 0
	for i, w := range p.w {
		if i > 0 && math.Abs(r.x[i]-r.x[i-1]) > unreliableSteep*p.stepM {
			steepN++
		}
		if w == 0 {
			continue
		}
		ground++
		if math.Abs(p.y[i]-r.x[i]) > gmEnd*s*p.rel[i] {
			offN++
		}
	}
	return float64(offN) / float64(max(1, ground)), float64(steepN) / float64(p.n)
}

func roughWords(times float64) string {
	return fmt.Sprintf("the ground under the line is %.1f times rougher than this cell size usually is", times)
}
