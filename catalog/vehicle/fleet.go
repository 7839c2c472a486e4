package vehicle

import (
	"fmt"
	"slices"

	"gradeline/catalog"
)

// Fleet selects the classes that a carrier runs, by id, in the order of the classes. No id means
// every class. An unknown id, or one that appears twice, is an error that is catalog.ErrClass.
func Fleet(classes []Class, ids []string) ([]Class, error) {
	if len(ids) == 0 {
		return classes, nil
	}
	var out []Class
	var known []string
	for _, k := range classes {
		known = append(known, k.ID)
		if slices.Contains(ids, k.ID) {
			out = append(out, k)
		}
	}
	for i, id := range ids {
		if !slices.Contains(known, id) {
			return nil, &catalog.Fault{Kind: catalog.ErrClass, What: fmt.Sprintf("there is no class %q", id), Fix: fmt.Sprintf("the classes are %v", known)}
		}
		if slices.Contains(ids[:i], id) {
			return nil, &catalog.Fault{Kind: catalog.ErrClass, What: fmt.Sprintf("class %q is named twice", id), Fix: "name each class once"}
		}
	}
	return out, nil
}
