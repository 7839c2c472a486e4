package holding

import (
	"bytes"
	"io/fs"
	"path"
	"sync"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/data"
)

const (
	classFolder  = "classes"
	severityFile = "classes/heat/grade-severity.toml"
)

// DefaultClasses returns the embedded weight classes, in the order of their
// files' names and of the classes in them.
func DefaultClasses() ([]vehicle.Class, error) {
	names, err := fs.Glob(data.Classes, path.Join(classFolder, "*.toml"))
	if err != nil || len(names) == 0 {
		return nil, &catalog.Fault{Kind: catalog.ErrClass, File: classFolder, What: "contains no class file", Err: err, Fix: "rebuild the program"}
	}
	var all []vehicle.Class
	for _, name := range names {
		raw, err := data.Classes.ReadFile(name)
		if err != nil {
			return nil, &catalog.Fault{Kind: catalog.ErrClass, File: name, What: "cannot be read", Err: err, Fix: "rebuild the program"}
		}
		classes, _, err := vehicle.ParseClasses(name, bytes.NewReader(raw))
		if err != nil {
			return nil, err
		}
		all = append(all, classes...)
	}
	return all, nil
}

// Severity returns the embedded constants of the grade-severity model.
var Severity = sync.OnceValues(func() (vehicle.GradeSeverity, error) {
	raw, err := data.Classes.ReadFile(severityFile)
	if err != nil {
		return vehicle.GradeSeverity{}, err
	}
	return vehicle.ParseGradeSeverity(severityFile, bytes.NewReader(raw))
})
