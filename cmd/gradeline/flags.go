package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/vehicle"
	"gradeline/cmd/commandline"
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

func fleetFlag() cli.Flag {
	return &cli.StringFlag{Name: "fleet", Usage: "only the weight classes that you run, as a `LIST` of ids with commas; without it every class", EnvVars: []string{"GRADELINE_FLEET"}}
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
		return u, usageError(err.Error())
	}
	return u, nil
}

// loadClasses reads --classes, or the built-in ones.
func loadClasses(c *cli.Context) ([]vehicle.Class, error) {
	path := c.String("classes")
	if path == "" {
		return holding.DefaultClasses()
	}
	f, err := openFile(path, "give a TOML file; create one with gradeline classes template")
	if err != nil {
		return nil, err
	}
	defer f.Close()
	classes, _, err := vehicle.ParseClasses(filepath.Base(path), f)
	return classes, err
}

// weightClasses are the classes that --class asks for: one, several with commas, or all.
func weightClasses(c *cli.Context) ([]vehicle.Class, error) {
	if c.String("class") == "all" {
		return loadClasses(c)
	}
	var out []vehicle.Class
	for _, id := range strings.Split(c.String("class"), ",") {
		k, err := classByID(c, strings.TrimSpace(id))
		if err != nil {
			return nil, err
		}
		if !slices.ContainsFunc(out, func(o vehicle.Class) bool { return o.ID == k.ID }) {
			out = append(out, k)
		}
	}
	return out, nil
}

// fleet reads the classes that --fleet asks for; without it all of them.
func fleet(c *cli.Context) ([]vehicle.Class, error) {
	classes, err := loadClasses(c)
	if err != nil || c.String("fleet") == "" {
		return classes, err
	}
	ids := strings.Split(c.String("fleet"), ",")
	for i := range ids {
		ids[i] = strings.TrimSpace(ids[i])
	}
	chosen, err := vehicle.Fleet(classes, ids)
	if err != nil {
		return nil, usagef("--fleet: %v", err)
	}
	return chosen, nil
}

// weightClass is the class that --class asks for.
func weightClass(c *cli.Context) (vehicle.Class, error) {
	return classByID(c, c.String("class"))
}

// classByID is one of the classes by its id.
func classByID(c *cli.Context, id string) (vehicle.Class, error) {
	classes, err := loadClasses(c)
	if err != nil {
		return vehicle.Class{}, err
	}
	var ids []string
	for _, k := range classes {
		if k.ID == id {
			return k, nil
		}
		ids = append(ids, k.ID)
	}
	if id == "" {
		return vehicle.Class{}, usagef("--class is needed; the classes are %s", commandline.Listed(ids))
	}
	return vehicle.Class{}, usagef("there is no class %q%s; the classes are %s", id, commandline.DidYouMean(id, ids), commandline.Listed(ids))
}

// unwrapPath drops the path from an os error: the message names the file already.
func unwrapPath(err error) error {
	if pe, ok := err.(*os.PathError); ok {
		return pe.Err
	}
	return err
}
