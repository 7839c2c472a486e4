package vehicle

import (
	"bytes"
	_ "embed" // the templates
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/pelletier/go-toml/v2"

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
	rep := &reporter{file: name, lines: linesByKey(raw)}
	var file fileTOML
	err = toml.NewDecoder(bytes.NewReader(raw)).DisallowUnknownFields().Decode(&file)
	var strict *toml.StrictMissingError
	var decode *toml.DecodeError
	switch {
	case errors.As(err, &strict):
		for _, e := range strict.Errors {
			row, _ := e.Position()
			rep.faultAt(row, fmt.Sprintf("%q is not a key of a class file", keyText(e.Key()))+nearKey(e.Key()), "see `gradeline classes template` for the keys")
		}
	case errors.As(err, &decode):
		row, _ := decode.Position()
		what, fix := wrongKind(decode.Error())
		if key := keyText(decode.Key()); key != "" {
			what = key + ": " + what
		}
		rep.faultAt(row, what, fix)
		return nil, nil, rep.faults
	case err != nil:
		rep.faultAt(0, err.Error(), "correct the TOML")
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

// wrongKind puts a decoder's fault about the kind of a value into words for the person who wrote it;
// other faults stay as they are.
func wrongKind(fault string) (what, fix string) {
	found, goType, isKind := strings.Cut(fault, " into struct field ")
	if !isKind {
		return fault, "correct the TOML"
	}
	_, goType, _ = strings.Cut(goType, " of type ")
	found = strings.TrimPrefix(found, "toml: cannot decode TOML ")
	switch strings.TrimLeft(goType, "*") {
	case "string":
		return "a bare " + found + " where a text in quotes belongs", `write a quantity with its unit, as in mass_max = "80000 lb", or use the key that ends in the unit, as mass_max_kg`
	case "float64":
		return "a " + found + " where a bare number belongs", "write the number in the unit at the end of the key, or the quantity with its unit under the key without that end, as in mass_max"
	}
	return "a " + found + " does not belong here", "see `gradeline classes template` for what does"
}
