package grade

import "gradeline/routes"

// A route that is partly on coarser cells has separate bounds there. Example: a third of a route on
// 30 m cells, the rest on 1 m cells. With the bounds of the median cell, .32 of heights and .87 of
// 500 m means were within them there. A stretch shorter than coarserLeastM has none: its grade line
// depends on its neighbours, and the cells of one raster differ a little.
const (
	coarserLeastM = extrapolateMaxM
	coarserFrom   = 1.5
)

// coarser returns the stretches on cells clearly coarser than the median; finer cells for less than
// coarserLeastM don't end one.
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
