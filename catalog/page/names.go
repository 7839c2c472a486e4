package page

import (
	"fmt"

	"gradeline/catalog"
	"gradeline/catalog/wording"
	"gradeline/terrain"
)

// checkNames refuses an entry whose names are too long for a page: a page never cuts a name.
func checkNames(e *catalog.Entry) error {
	for _, name := range []string{e.Descent.ID, e.Descent.Name, e.Descent.Route} {
		if n := len([]rune(name)); n > wording.MostNameColumns {
			return &catalog.Fault{Kind: terrain.ErrInput, Feature: wording.Shortened(wording.OneLine(e.Descent.ID), 60),
				What: fmt.Sprintf("its name or route has %d characters, and a page has room for %d", n, wording.MostNameColumns), Fix: "shorten the name in the road file and survey it again"}
		}
	}
	return nil
}
