package grade

import (
	"fmt"
	"math"
)

// Limits for a line that follows no road. A route in long tunnels has few long departures; a line
// across country has many, or slopes that no road has for long. The number of untagged structures
// found does not separate them: on 1 m cells a real stack of hairpins has 1.5 per km over 29 % of
// it, on 30 m cells a line 100 m off its road has 0.3 over 6 %.
const (
	unreliableShare     = 0.35 // of the ground under the line, far from the grade line …
	unreliableRunsPerKM = 1.2  // … in that many stretches
	unreliableAny       = 0.75 // … or this much in any number
	unreliableSteep     = 0.12 // grade, continued over …
	unreliableSteepPart = 0.25 // … this share of the line
	unreliableNoise     = 3.0  // residuals' sd over the usual noise of the cell size, on any line
	// Local roughness over the usual (localRatio), where it has this number of windows: stretches
	// of 5 km have up to 1.5 times that of a complete road. At 1 m one stretch of 2 km has 2.69,
	// lines 100 m off at least 4.4.
	unreliableRoughFrom                      = 30      // above 3 m cells, beyond roughest
	unreliableRougher, unreliableRougherFrom = 3.0, 16 // at any cell size
)

// roughest is the largest local roughness over the usual at which ground of a cell size
// still counts as a road's. With 1.8 times the noise 24 tuning roads have 1.82/2.41/
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

// residualLimit is the largest residuals' sd over the usual noise at which a line of
// unreliableRougherFrom windows still counts as on its road. It recognises a line next to
// its road better than roughness does, since a fit follows some of the noise: roads with
// short steep parts, benches or ordinary ones have .97/1.16/1.03 at most at 10/30/90 m
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

// unreliable says in words why the grade line does not follow a road; empty where it does. ratio is
// the residuals' sd over the usual noise.
func (r *recoverer) unreliable(ratio float64) string {
	p := &r.p
	km := float64(p.n) * p.stepM / 1000
	offShare, steepShare := r.shares()
	switch {
	case offShare > unreliableAny || offShare > unreliableShare && float64(len(r.runs)) > unreliableRunsPerKM*km:
		return fmt.Sprintf("%.0f %% of the ground under the line is far from any road's grade line: the line may be drawn next to the road, cross water, or follow no road", 100*offShare)
	case steepShare > unreliableSteepPart:
		return fmt.Sprintf("%.0f %% of the line is steeper than %.0f %%: steps, a track or a line across country rather than a road", 100*steepShare, 100*unreliableSteep)
	case ratio > unreliableNoise:
		return roughWords(ratio)
	}
	local, windows := localRatio(p, r.buf)
	switch {
	case ratio > residualLimit(p.cellM) && windows >= unreliableRougherFrom:
		return fmt.Sprintf("the ground under the line departs from any road's grade line %.1f times as far as is usual at this cell size: the line may be drawn next to the road", ratio)
	case local > unreliableRougher && windows >= unreliableRougherFrom,
		local > roughest(p.cellM) && windows >= unreliableRoughFrom && p.cellM > flatFirstMaxCellM:
		return roughWords(local)
	}
	return ""
}

// shares are the share of the ground that is far from the grade line, and the share of the line
// that is steeper than a road.
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
	return fmt.Sprintf("the ground under the line is %.1f times rougher than is usual at this cell size", times)
}
