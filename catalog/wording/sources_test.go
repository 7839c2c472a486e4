package wording

import (
	"strings"
	"testing"

	"gradeline/catalog"
)

// A coordinate system without a name is told as that, not as an unknown of no kind;
// a name, a file's name and the figures stay as they are.
func TestSourceLineOfANamelessCoordinateSystem(t *testing.T) {
	const rest = "cell 10 m, heights in m, datum unknown, 0123456789abcdef)"
	line := func(rasters ...string) string { return SourceLine(catalog.Provenance{Rasters: rasters}) }
	for _, name := range []string{"unknown", "Unknown", "unnamed", ""} {
		if got, want := line("dem (unknown).tif ("+name+", "+rest, "b.tif (EPSG:26913, "+rest), "Elevation: dem (unknown).tif (coordinate system without a name, "+rest+" + b.tif (EPSG:26913, "+rest+"."; got != want {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}

// A page leaves the office: where the road file lay there is not on it.
func TestSourceLineNamesNoFolder(t *testing.T) {
	for _, file := range []string{"/home/anna/secret/roads.geojson", `C:\Users\anna\secret\roads.geojson`, "roads.geojson"} {
		got := SourceLine(catalog.Provenance{RouteFile: file})
		if !strings.Contains(got, "road line: roads.geojson") || strings.Contains(got, "secret") {
			t.Errorf("%s: %s", file, got)
		}
	}
}
