package grade

import (
	"fmt"
	"math"
)

// When a line follows no road. A route in long tunnels has few long departures;
// a line across country has many, or slopes that no road keeps up.
const (
	unreliableShare     = 0.35 // of the ground under the line, far from the grade line …
	unreliableRunsPerKM = 1.2  // … in that many stretches
	unreliableAny       = 0.75 // … or this much in any number
	unreliableSteep     = 0.12 // grade, kept up over …
	unreliableSteepPart = 0.25 // … this share of the line
	unreliableNoise     = 3.0  // times the usual noise of the cell size
)

// unreliable says in plain words why the grade line does not stand on a road;
// empty where it does. ratio is the residuals' sd over the usual noise.
func (r *recoverer) unreliable(ratio float64) string {
	p := &r.p
	s := math.Max(p.sigmaM, sigmaFloorM)
	ground, off, steep := 0, 0, 0
	for i, w := range p.w {
		if i > 0 && math.Abs(r.x[i]-r.x[i-1]) > unreliableSteep*p.stepM {
			steep++
		}
		if w == 0 {
			continue
		}
		ground++
		if math.Abs(p.y[i]-r.x[i]) > gmEnd*s*p.rel[i] {
			off++
		}
	}
	km := float64(p.n) * p.stepM / 1000
	share := float64(off) / float64(max(1, ground))
	switch {
	case share > unreliableAny || share > unreliableShare && float64(len(r.runs)) > unreliableRunsPerKM*km:
		return fmt.Sprintf("%.0f %% of the ground under the line is far from any road's grade line: the line may be drawn beside the road, cross water, or follow no road", 100*share)
	case float64(steep) > unreliableSteepPart*float64(p.n):
		return fmt.Sprintf("%.0f %% of the line is steeper than %.0f %%: steps, a track or a line across country rather than a road", 100*float64(steep)/float64(p.n), 100*unreliableSteep)
	case ratio > unreliableNoise:
		return fmt.Sprintf("the ground under the line is %.1f times rougher than this cell size usually is", ratio)
	}
	return ""
}
