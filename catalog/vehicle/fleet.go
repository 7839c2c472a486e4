package vehicle

import (
	"fmt"
	"slices"
	"strings"

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

// UnknownClassError is a class that was asked for and is not among those that are known; without an ID
// none was named. It is catalog.ErrClass.
type UnknownClassError struct {
	ID    string
	Known []string
}

func (e *UnknownClassError) Error() string {
	what := fmt.Sprintf("there is no class %q", e.ID)
	if e.ID == "" {
		what = "no class is named"
	}
	return what + "; the classes are " + strings.Join(e.Known, ", ")
}

// Unwrap gives the kind of fault.
func (e *UnknownClassError) Unwrap() error { return catalog.ErrClass }

// ClassByID returns the class with that id, or an *UnknownClassError.
func ClassByID(classes []Class, id string) (*Class, error) {
	var known []string
	for i := range classes {
		if classes[i].ID == id {
			return &classes[i], nil
		}
		known = append(known, classes[i].ID)
	}
	return nil, &UnknownClassError{ID: id, Known: known}
}

// EveryClass is the list of ids that stands for all classes.
const EveryClass = "all"

// ChooseClasses reads a list of class ids with commas, in its order and each once, or EveryClass. An id
// that no class has is an *UnknownClassError.
func ChooseClasses(classes []Class, list string) ([]Class, error) {
	if list == EveryClass {
		return classes, nil
	}
	var out []Class
	for _, id := range strings.Split(list, ",") {
		k, err := ClassByID(classes, strings.TrimSpace(id))
		if err != nil {
			return nil, err
		}
		if !slices.ContainsFunc(out, func(o Class) bool { return o.ID == k.ID }) {
			out = append(out, *k)
		}
	}
	return out, nil
}
