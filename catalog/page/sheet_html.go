package page

import (
	"bytes"
	"embed"
	"encoding/base64"
	"html/template"
	"io"
	"math"

	"gradeline/catalog/plot"
)

//go:embed assets
var pageFiles embed.FS

var sheetTemplate = template.Must(template.ParseFS(pageFiles, "assets/sheet.html"))

// SheetHTML writes the driver's page as one HTML file that needs nothing else:
// the same words as SheetPDF, laid out for one printed page.
func SheetHTML(w io.Writer, s Sheet, paper Paper) error {
	page := s.page()
	fig, err := plot.SheetProfile(s.numberedView(page), s.Units)
	if err != nil {
		return err
	}
	// The printed page is set as small as the PDF needs to be, and a little
	// smaller, for browsers set lines wider.
	scale := smallestScale
	if d, err := fitSheet(s, page, paper, fig); err == nil {
		scale = d.mag
	}
	img, err := svgData(fig)
	if err != nil {
		return err
	}
	return sheetTemplate.Execute(w, struct {
		sheetPage
		Paper string
		Scale float64
		Image template.URL
	}{page, paper.String(), math.Floor(scale*95) / 100, img})
}

// svgData makes a figure a data address. A picture loaded so runs no script
// and loads nothing.
func svgData(f plot.Figure) (template.URL, error) {
	var b bytes.Buffer
	if err := f.SVG(&b); err != nil {
		return "", err
	}
	return template.URL("data:image/svg+xml;base64," + base64.StdEncoding.EncodeToString(b.Bytes())), nil
}
