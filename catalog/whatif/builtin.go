package whatif

import (
	"reflect"

	"gradeline/catalog/holding"
	"gradeline/catalog/vehicle"
)

// AreBuiltIn reports whether every class is built in, with the same figures: the program in a page knows no
// others.
func AreBuiltIn(classes []vehicle.Class) bool {
	own, err := holding.DefaultClasses()
	if err != nil {
		return false
	}
	known := map[string]*vehicle.Class{}
	for i := range own {
		known[own[i].ID] = &own[i]
	}
	for i := range classes {
		if k := known[classes[i].ID]; k == nil || !reflect.DeepEqual(*k, classes[i]) {
			return false
		}
	}
	return true
}
