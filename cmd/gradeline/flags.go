package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/vehicle"
)

// defaultCatalog is the file used when neither --catalog nor the environment names one.
const defaultCatalog = "gradeline.gpkg"

func jsonFlag() cli.Flag {
	return &cli.BoolFlag{Name: "json", Usage: "answer with one JSON object in SI units"}
}

func unitsFlag() cli.Flag {
	return &cli.StringFlag{Name: "units", Value: "metric", Usage: "`SYSTEM` for people: us or metric", EnvVars: []string{"GRADELINE_UNITS"}}
}

func catalogFlag() cli.Flag {
	return &cli.StringFlag{Name: "catalog", Value: defaultCatalog, Usage: "catalogue `FILE`", EnvVars: []string{"GRADELINE_CATALOG"}}
}

func classesFlag() cli.Flag {
	return &cli.StringFlag{Name: "classes", Usage: "weight classes in a TOML `FILE` instead of the built-in ones", EnvVars: []string{"GRADELINE_CLASSES"}}
}

func classFlag() cli.Flag {
	return &cli.StringFlag{Name: "class", Usage: "weight class `ID`; gradeline classes list shows them"}
}

func outFlag() cli.Flag {
	return &cli.StringFlag{Name: "o", Usage: "write to `FILE` instead of standard output"}
}

func forceFlag() cli.Flag {
	return &cli.BoolFlag{Name: "force", Usage: "overwrite the output file"}
}

func units(c *cli.Context) (catalog.Units, error) {
	u, err := catalog.ParseUnits(c.String("units"))
	if err != nil {
		return u, usageError{err.Error()}
	}
	return u, nil
}

// loadClasses reads --classes, or the built-in ones.
func loadClasses(c *cli.Context) ([]vehicle.Class, error) {
	path := c.String("classes")
	if path == "" {
		return holding.DefaultClasses()
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, &catalog.Fault{Kind: catalog.ErrClass, File: path, What: "cannot be opened", Err: unwrapPath(err), Fix: "give a TOML file; create one with gradeline classes template"}
	}
	defer f.Close()
	classes, _, err := vehicle.ParseClasses(filepath.Base(path), f)
	return classes, err
}

// weightClass is the class that --class asks for.
func weightClass(c *cli.Context) (vehicle.Class, error) {
	classes, err := loadClasses(c)
	if err != nil {
		return vehicle.Class{}, err
	}
	id := c.String("class")
	var ids []string
	for _, k := range classes {
		if k.ID == id {
			return k, nil
		}
		ids = append(ids, k.ID)
	}
	if id == "" {
		return vehicle.Class{}, usagef("--class is needed; the classes are %s", listed(ids))
	}
	return vehicle.Class{}, usagef("there is no class %q%s; the classes are %s", id, didYouMean(id, ids), listed(ids))
}

func listed(words []string) string {
	out := ""
	for i, w := range words {
		switch {
		case i == 0:
		case i == len(words)-1:
			out += " and "
		default:
			out += ", "
		}
		out += w
	}
	return out
}

// unwrapPath drops the path from an os error: the message names the file already.
func unwrapPath(err error) error {
	if pe, ok := err.(*os.PathError); ok {
		return pe.Err
	}
	return err
}

// quantityFlag reads a flag that carries its unit; ok is false when it was not given.
func quantityFlag(c *cli.Context, name string, read func(string) (float64, error)) (si float64, ok bool, err error) {
	if !c.IsSet(name) {
		return 0, false, nil
	}
	v, err := read(c.String(name))
	if err != nil {
		return 0, false, usageError{fmt.Sprintf("--%s %s", name, err)}
	}
	return v, true, nil
}

// quantityReader reads flags that carry their units; err is the first that failed.
type quantityReader struct {
	c   *cli.Context
	err error
}

// given reads a flag; ok is false when it was not given.
func (q *quantityReader) given(name string, read func(string) (float64, error)) (si float64, ok bool) {
	if q.err != nil {
		return 0, false
	}
	si, ok, q.err = quantityFlag(q.c, name, read)
	return si, ok
}

// needed reads a flag that must be given.
func (q *quantityReader) needed(name string, read func(string) (float64, error), example string) float64 {
	si, ok := q.given(name, read)
	if q.err == nil && !ok {
		q.err = usagef("%s needs --%s, as in --%s %s", q.c.Command.Name, name, name, example)
	}
	return si
}
