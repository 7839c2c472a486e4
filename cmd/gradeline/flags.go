package main

import (
	"errors"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
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
	return &cli.StringFlag{Name: "catalog", Value: defaultCatalog, Usage: "catalogue `FILE`, or the address of a database, as in postgres://ada@db.example/hills or service=hills", EnvVars: []string{"GRADELINE_CATALOG"}}
}

func classesFlag() cli.Flag {
	return &cli.StringFlag{Name: "classes", Usage: "weight classes in a TOML `FILE` instead of the built-in ones", EnvVars: []string{"GRADELINE_CLASSES"}}
}

func fleetFlag() cli.Flag {
	return &cli.StringFlag{Name: "fleet", Usage: "only the weight classes of your fleet, as a `LIST` of ids with commas, or all; survey stores it in the catalogue for the other commands", EnvVars: []string{"GRADELINE_FLEET"}}
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

// weatherFlags set the weather that advice is for.
func weatherFlags(temperature string) []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "temperature", Usage: "`AIR` " + temperature + "; default 0C..40C"},
		&cli.StringFlag{Name: "tailwind", Usage: "strongest wind from behind as a `SPEED`, as in 20mph or 0km/h; default 5 m/s (11 mph)"},
	}
}

// weatherOfADay describes --temperature of a command whose answer is for a day.
const weatherOfADay = "of the day as in 5C..20C; one temperature is its hottest, or below freezing its coldest"

// weather reads weatherFlags; nil where neither is set.
func weather(c *cli.Context, isOfOneDay bool) (*catalog.Weather, error) {
	if !c.IsSet("temperature") && !c.IsSet("tailwind") {
		return nil, nil
	}
	w, err := holding.ReadWeather(c.String("temperature"), c.String("tailwind"), isOfOneDay)
	if err != nil {
		return nil, usageError("--temperature and --tailwind: " + err.Error())
	}
	return w, nil
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
	return holding.LoadClasses(c.String("classes"))
}

// weightClasses are the classes of --class: one, several with commas, or all.
func weightClasses(c *cli.Context) ([]vehicle.Class, error) {
	classes, err := loadClasses(c)
	if err != nil {
		return nil, err
	}
	chosen, err := vehicle.ChooseClasses(classes, c.String("class"))
	return chosen, wrongClass(err)
}

// surveyFleet reads the classes that --fleet names, without it those of the catalogue's fleet, else
// all. ids is the fleet to store in the catalogue; nil changes nothing.
func surveyFleet(c *cli.Context) (chosen []vehicle.Class, ids *[]string, err error) {
	classes, err := loadClasses(c)
	if err != nil {
		return nil, nil, err
	}
	chosen, ids, err = answer.SurveyFleet(c.Context, c.String("catalog"), c.String("fleet"), classes)
	if errors.Is(err, catalog.ErrClass) {
		err = usageError(err.Error())
	}
	return chosen, ids, err
}

// weightClass is the class of --class.
func weightClass(c *cli.Context) (vehicle.Class, error) {
	classes, err := loadClasses(c)
	if err != nil {
		return vehicle.Class{}, err
	}
	k, err := vehicle.ClassByID(classes, c.String("class"))
	if err != nil {
		return vehicle.Class{}, wrongClass(err)
	}
	return *k, nil
}

// wrongClass makes a class that is not known a usage error, with what may have been meant.
func wrongClass(err error) error {
	var unknown *vehicle.UnknownClassError
	switch {
	case !errors.As(err, &unknown):
		return err
	case unknown.ID == "":
		return usagef("--class is needed; the classes are %s", commandline.Listed(unknown.Known))
	}
	return usagef("there is no class %q%s; the classes are %s", unknown.ID, commandline.DidYouMean(unknown.ID, unknown.Known), commandline.Listed(unknown.Known))
}
