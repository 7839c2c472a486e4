package main

import (
	"math"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/store"
	"gradeline/routes"
)

// descentView draws on the grade line that the catalogue keeps with a descent;
// where it keeps none, on the line of the entry.
func descentView(c *cli.Context, cat *store.Catalog, e *catalog.Entry, h *catalog.Hold) (plot.ProfileView, error) {
	st, err := cat.Profile(c.Context, e.Descent.ID)
	if isNotFound(err) {
		return plot.ViewFromEntry(e, h), nil
	}
	if err != nil {
		return plot.ProfileView{}, err
	}
	return stretchView(e, h, st), nil
}

// stretchView draws on a grade line that is read already.
func stretchView(e *catalog.Entry, h *catalog.Hold, st *store.Stretch) plot.ProfileView {
	v := plot.ViewFromEntry(e, h)
	n := st.Count()
	v.StationM, v.GroundM, v.ElevationM = make([]float64, n), make([]float64, n), make([]float64, n)
	v.State = make([]routes.StationState, n)
	for i := range n {
		k := i
		if v.Direction == routes.Backward {
			k = n - 1 - i
		}
		v.StationM[i], v.GroundM[i], v.ElevationM[i], v.State[i] = st.StationM(k), st.GroundM[k], st.ElevationM[k], st.State[k]
	}
	v.Bound, v.Structures, v.ErrPct = st.BoundOver(e.Descent.StartM, e.Descent.EndM), st.Beside.Structures, st.MeanErrPct
	return trimmed(v)
}

// trimmed drops stations at the ends of a view where no grade line is known.
func trimmed(v plot.ProfileView) plot.ProfileView {
	a, b := 0, len(v.ElevationM)
	for a < b && math.IsNaN(v.ElevationM[a]) {
		a++
	}
	for b > a && math.IsNaN(v.ElevationM[b-1]) {
		b--
	}
	v.StationM, v.GroundM, v.ElevationM, v.State = v.StationM[a:b], v.GroundM[a:b], v.ElevationM[a:b], v.State[a:b]
	return v
}
