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

// SheetHTML writes the driver's page as one self-contained HTML file: the same words as SheetPDF,
// laid out for one printed page.
func SheetHTML(w io.Writer, s Sheet, paper Paper) error {
	// A browser prints the page in the contents and at the scale of the PDF, but for 5 %: in Chromium
	// that leaves at least 5 mm at the foot of full pages, for browsers that set lines wider.
	d, _, err := s.layOut(paper)
	if err != nil {
		return err
	}
	img, err := svgData(d.fig)
	if err != nil {
		return err
	}
	return sheetTemplate.Execute(w, struct {
		sheetPage
		Paper         string
		Scale, Indent float64
		Narrow        bool
		Image         template.URL
	}{d.p, paper.String(), math.Floor(d.mag*95) / 100, math.Max(leastIndent, d.mag), d.p.isFull, img})
}

// svgData makes a data address of a figure. Such a picture runs no script and loads nothing.
func svgData(f plot.Figure) (template.URL, error) {
	var b bytes.Buffer
	if err := f.SVG(&b); err != nil {
		return "", err
	}
	return template.URL("data:image/svg+xml;base64," + base64.StdEncoding.EncodeToString(b.Bytes())), nil
}
