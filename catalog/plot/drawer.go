package plot

import (
	"io"
	"path/filepath"
	"strings"

	"gradeline/catalog"
)

// Drawer is what draws a view to a file, by the ending of its name: .svg or .png; nil for another. svg and
// png are the two functions of the view, as ProfileSVG and ProfilePNG.
func Drawer[V any](file string, v V, u catalog.Units, svg, png func(io.Writer, V, catalog.Units) error) func(io.Writer) error {
	draw := svg
	switch strings.ToLower(filepath.Ext(file)) {
	case ".svg":
	case ".png":
		draw = png
	default:
		return nil
	}
	return func(w io.Writer) error { return draw(w, v, u) }
}
