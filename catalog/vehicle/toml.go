package vehicle

import (
	"bytes"
	_ "embed" // the templates
	"fmt"
	"io"

	"gradeline/catalog"
)

// Faults are all faults of one class file, in the order of its lines.
type Faults []*catalog.Fault

// Error is the first fault on one line, with the number of others.
func (f Faults) Error() string {
	if len(f) == 1 {
		return f[0].Error()
	}
	return fmt.Sprintf("%s (and %d more)", f[0].Error(), len(f)-1)
}

// Unwrap returns every fault.
func (f Faults) Unwrap() []error {
	errs := make([]error, len(f))
	for i, x := range f {
		errs[i] = x
	}
	return errs
}

// ParseClasses reads a class file in TOML. It returns the classes and every
// figure that the file left out with the default used for it. An unknown key,
// a wrong type or an impossible figure is a fault; the error is then a Faults
// that holds each with its line, and no class is returned. At most 1 MiB, 200
// classes; counts of gears, axles and curve points are capped.
func ParseClasses(name string, r io.Reader) ([]Class, []Default, error) {
	raw, err := io.ReadAll(io.LimitReader(r, mostBytes+1))
	if err != nil {
		return nil, nil, &catalog.Fault{Kind: catalog.ErrClass, File: name, What: "cannot be read", Err: err, Fix: "check the file"}
	}
	if len(raw) > mostBytes {
		return nil, nil, &catalog.Fault{Kind: catalog.ErrClass, File: name, What: "longer than 1 MiB", Fix: "name a file of weight classes"}
	}
	raw = bytes.TrimPrefix(raw, []byte("\ufeff"))
	rep := &reporter{file: name, lines: linesByKey(raw)}
	var file fileTOML
	if !rep.decode(raw, &file) {
		rep.sort()
		return nil, nil, rep.faults
	}
	if len(file.Class) == 0 && len(rep.faults) == 0 {
		rep.faultAt(1, "holds no class", "add a [[class]]; `gradeline classes template` shows one")
	}
	if len(file.Class) > mostClasses {
		rep.faultAt(0, fmt.Sprintf("holds %d classes", len(file.Class)), fmt.Sprintf("keep to %d", mostClasses))
		return nil, nil, rep.faults
	}
	var classes []Class
	var defaults []Default
	seen := map[string]bool{}
	for i := range file.Class {
		rep.class = i
		c := classFromTOML(&file.Class[i], rep)
		if seen[c.ID] && c.ID != "" {
			rep.fault("id", fmt.Sprintf("the id %q is used twice", c.ID), "give each class its own")
		}
		seen[c.ID] = true
		classes = append(classes, c)
		defaults = append(defaults, c.Defaults...)
	}
	if len(rep.faults) > 0 {
		rep.sort()
		return nil, nil, rep.faults
	}
	return classes, defaults, nil
}

//go:embed template.toml
var templateMetric string

//go:embed template_us.toml
var templateUS string

// Template is a commented class file that parses, for a carrier to fill in: the same truck
// in either unit system.
func Template(u catalog.Units) string {
	if u == catalog.US {
		return templateUS
	}
	return templateMetric
}
