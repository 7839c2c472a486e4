package survey

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// rasterEndings are file names that no road line has.
var rasterEndings = []string{".tif", ".tiff", ".hgt", ".vrt", ".asc", ".img", ".bil", ".flt", ".dem"}

// SortPaths divides paths into terrain and roads. terrain is what was named as terrain. If there is
// any, rasters and folders among the other paths are terrain too, because a shell turns dem/*.tif
// into several paths.
func SortPaths(terrain, paths []string) (terrainPaths, roadPaths []string) {
	terrainPaths = slices.Clone(terrain)
	for _, p := range paths {
		info, err := os.Stat(p)
		isRaster := slices.Contains(rasterEndings, strings.ToLower(filepath.Ext(p)))
		if len(terrain) > 0 && (isRaster || err == nil && info.IsDir()) {
			terrainPaths = append(terrainPaths, p)
			continue
		}
		roadPaths = append(roadPaths, p)
	}
	return terrainPaths, roadPaths
}
