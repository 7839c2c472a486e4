package survey

import (
	"slices"
	"testing"
)

func TestPathsAreSortedIntoTerrainAndRoads(t *testing.T) {
	dir := t.TempDir()
	terrain, roads := SortPaths([]string{"a.tif"}, []string{"b.TIF", dir, "roads.geojson", "-"})
	if !slices.Equal(terrain, []string{"a.tif", "b.TIF", dir}) || !slices.Equal(roads, []string{"roads.geojson", "-"}) {
		t.Error(terrain, roads)
	}
	if terrain, roads := SortPaths(nil, []string{"b.tif", dir}); len(terrain) != 0 || len(roads) != 2 {
		t.Error("without --terrain nothing is terrain:", terrain, roads)
	}
}
