package page

import (
	"fmt"
	"html/template"
	"io"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/table"
	"gradeline/catalog/wording"
)

var tableTemplate = template.Must(template.ParseFS(pageFiles, "assets/table.html"))

type tableCell struct {
	Text   string
	IsLoud bool
}

// TableHTML writes a table with a figure under it as one self-contained HTML file.
func TableHTML(w io.Writer, t table.Table, f plot.Figure, isInvented bool) error {
	img, err := svgData(f)
	if err != nil {
		return err
	}
	out := struct {
		Title, Banner string
		Header        []string
		Rows          [][]tableCell
		Image         template.URL
		Alt           string
		Notes         []string
	}{Title: wording.Plain(t.Title), Header: t.Header, Image: img, Alt: f.Alt()}
	if isInvented {
		out.Banner = wording.InventedBanner
	}
	for _, row := range t.Rows {
		cells := make([]tableCell, len(row))
		for i, v := range row {
			text := wording.Plain(fmt.Sprint(v))
			cells[i] = tableCell{text, text == "NOT HELD" || text == catalog.DryRoadOnly || text == "unknown"}
		}
		out.Rows = append(out.Rows, cells)
	}
	for _, n := range t.Notes {
		if n = wording.Plain(n); !slices.Contains([]string{"", wording.InventedBanner}, n) {
			out.Notes = append(out.Notes, n)
		}
	}
	return tableTemplate.Execute(w, out)
}
