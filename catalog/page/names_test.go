package page

import (
	"errors"
	"io"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/routes"
	"gradeline/terrain"
)

// A name as long as a road file may hold is refused by every page, not drawn and not cut.
func TestAnEndlessNameIsRefused(t *testing.T) {
	for _, change := range []func(*routes.Descent, string){
		func(d *routes.Descent, s string) { d.Name = s }, func(d *routes.Descent, s string) { d.Route = s }, func(d *routes.Descent, s string) { d.ID = s },
	} {
		for n, isRefused := range map[int]bool{20: false, 301: true, 1 << 20: true} {
			e := specimen.Entry(routes.Forward)
			change(&e.Descent, strings.Repeat("x", n))
			sheet := Sheet{Entry: e, Class: e.Holds[0].Class}
			for name, err := range map[string]error{
				"HTML": SheetHTML(io.Discard, sheet, Letter), "PDF": SheetPDF(io.Discard, sheet, Letter), "report": ReportHTML(io.Discard, Report{Title: "t", Entries: []ReportEntry{{Entry: e}}, Units: catalog.US}),
			} {
				if errors.Is(err, terrain.ErrInput) != isRefused || err != nil && len(err.Error()) > 400 {
					t.Errorf("%s with a name of %d characters: %.200v", name, n, err)
				}
			}
		}
	}
}

func TestPageNames(t *testing.T) {
	for name, want := range map[string]bool{"a.html": true, "b/A.HTM": true, "c.Pdf": true, "": false, "pdf": false, "a.gpx": false, "a.pdf.gz": false} {
		if IsPageName(name) != want {
			t.Errorf("%q: %v", name, !want)
		}
	}
}
