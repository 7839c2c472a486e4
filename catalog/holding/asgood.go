package holding

import (
	"math"

	"gradeline/routes"
)

// asGoodBounds are the bounds of means over WindowM that a survey of terrain alone states, by cell
// size, metres and points of per cent (the rows of package grade).
var asGoodBounds = [][2]float64{{1, 0.105}, {10, 0.550}, {30, 0.850}, {90, 1.422}}

// asGoodAsCellM is the cell size of terrain that alone gives a bound as narrow: the profile's own, or
// finer where recorded drives have narrowed its bound. They show a steep part that coarse terrain
// hides.
func asGoodAsCellM(p *routes.Profile, bound routes.ErrorModel) float64 {
	e := bound.MeanErrPct(WindowM, 0)
	k := 0
	for k < len(asGoodBounds)-2 && e > asGoodBounds[k+1][1] {
		k++
	}
	a, b := asGoodBounds[k], asGoodBounds[k+1]
	cellM := a[0] * math.Exp(math.Log(b[0]/a[0])*math.Log(e/a[1])/math.Log(b[1]/a[1]))
	if cellM < p.CellM*(1-1e-6) {
		return cellM
	}
	return p.CellM
}

// coarsestOver is the coarsest of such cell sizes between two stations.
func coarsestOver(p *routes.Profile, aM, bM float64) float64 {
	lo, hi := min(aM, bM), max(aM, bM)
	coarsest := asGoodAsCellM(p, p.Bound)
	for i := range p.Coarser {
		if c := &p.Coarser[i]; c.FromM < hi && c.ToM > lo {
			coarsest = max(coarsest, asGoodAsCellM(p, c.Bound))
		}
	}
	return coarsest
}
