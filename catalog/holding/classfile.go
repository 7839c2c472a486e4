package holding

import (
	"path/filepath"

	"gradeline/catalog/vehicle"
	"gradeline/catalog/wholefile"
)

// LoadClasses reads the weight classes of a TOML file; an empty path is the built-in ones. Faults
// are those of vehicle.ParseClasses, and terrain.ErrRead for a file that cannot be opened.
func LoadClasses(path string) ([]vehicle.Class, error) {
	if path == "" {
		return DefaultClasses()
	}
	f, err := wholefile.Open(path, "name a TOML file; create one with gradeline classes template")
	if err != nil {
		return nil, err
	}
	defer f.Close()
	classes, _, err := vehicle.ParseClasses(filepath.Base(path), f)
	return classes, err
}
