package grade

import "gradeline/routes"

// A route partly on coarser cells has bounds of its own there. With those of the
// median cell, 30 m cells under a third of a route that is else on 1 m ones had bounds
// that held in .32 of heights and .87 of 500 m means. Over less than coarserLeastM the
// grade line hangs on what is beside it, and one raster's own cells differ a little.
const (
	coarserLeastM = extrapolateMaxM
	coarserFrom   = 1.5
)

// coarser gives the stretches on cells notably coarser than the median; finer cells in
// between for less than coarserLeastM don't end one.
func (r *recoverer) coarser(g *routes.Ground) []routes.Part {
	if len(g.CellM) != r.sec.n {
		return nil
	}
	var out []routes.Part
	first, last, most := -1, 0, 0.0
	end := func() {
		if first >= 0 && float64(last-first)*g.StepM >= coarserLeastM {
			sigmaM := r.p.sigmaM * sigmaFromCell(most) / sigmaFromCell(r.sec.cellM)
			out = append(out, routes.Part{FromM: float64(first) * g.StepM, ToM: float64(last) * g.StepM, Bound: errorModel(most, sigmaM)})
		}
		first, most = -1, 0
	}
	for i, c := range g.CellM {
		switch cellM := float64(c); {
		case cellM > coarserFrom*r.sec.cellM:
			if first < 0 {
				first = i
			}
			last, most = i, max(most, cellM)
		case first >= 0 && float64(i-last)*g.StepM >= coarserLeastM:
			end()
		}
	}
	end()
	return out
}
