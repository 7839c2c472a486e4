package main

import (
	"math"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/store"
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
	return plot.ViewFromProfile(st, e, h, math.Inf(1)), nil
}
