package handout

import (
	"embed"
	"encoding/base64"
	"html/template"
	"io"
)

//go:embed handout.html
var files embed.FS

var page = template.Must(template.New("handout.html").Funcs(template.FuncMap{
	"kind": func(b Block) string {
		switch b.(type) {
		case Heading:
			return "heading"
		case Paragraph:
			return "paragraph"
		case List:
			return "list"
		case Table:
			return "table"
		case Picture:
			return "picture"
		}
		return "blanks"
	},
	"svg": func(p Picture) template.URL {
		return template.URL("data:image/svg+xml;base64," + base64.StdEncoding.EncodeToString(p.SVG))
	},
}).ParseFS(files, "handout.html"))

// HTML writes the document as one HTML file that opens offline and runs no script.
func HTML(w io.Writer, d Document) error { return page.Execute(w, d) }
