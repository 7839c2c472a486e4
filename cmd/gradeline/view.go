package main

import (
	"math"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/export"
	"gradeline/catalog/store"
	"gradeline/routes"
)

// descentView draws on the grade line that the catalogue keeps with a descent;
// where it keeps none, on the line of the entry.
func descentView(c *cli.Context, cat *store.Catalog, e *catalog.Entry, h *catalog.Hold) (export.ProfileView, error) {
	v := export.ViewFromEntry(e, h)
	st, err := cat.Profile(c.Context, e.Descent.ID)
	if err != nil {
		if isNotFound(err) {
			return v, nil
		}
		return v, err
	}
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
	v.Bound, v.Structures = st.Beside.Bound, st.Beside.Structures
	return trimmed(v), nil
}

// trimmed drops stations at the ends of a view where no grade line is known.
func trimmed(v export.ProfileView) export.ProfileView {
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
