package main

import (
	"slices"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/survey"
	"gradeline/catalog/vehicle"
	"gradeline/cmd/commandline"
)

// surveyFlags are those of a survey.
func surveyFlags() []cli.Flag {
	return append(append(append(append(terrainFlags(), networkFlags()...), weatherFlags("of the season as in -10C..35C; one temperature is its hottest, or below freezing its coldest")...),
		catalogFlag(), classesFlag(), fleetFlag(),
		&cli.BoolFlag{Name: "as-drawn", Usage: "keep each line as its own route; without it, lines that share end nodes and name no route are joined into through roads"},
		&cli.StringFlag{Name: "profile", Usage: "write the recovered grade line as CSV to `FILE`"},
		&cli.StringFlag{Name: "layer", Usage: "`LAYER` of a route file that has several"},
		&cli.StringSliceFlag{Name: "drives", Usage: "recorded drives whose heights improve the grade lines: GPX, FIT, NMEA, CSV or folders of them; `PATH` may be given several times"},
		driveHeightsFlag(),
		&cli.StringFlag{Name: "min-mean", Value: "4%", Usage: "least mean `DOWNGRADE` of a descent"},
		&cli.StringFlag{Name: "min-length", Value: "800m", Usage: "least `LENGTH` of a descent"},
		&cli.StringFlag{Name: "by", Usage: "`NAME` for the catalogue's history"},
		&cli.BoolFlag{Name: "accept-moves", Usage: "store new figures also for reviewed descents that moved beyond their bounds"},
		&cli.BoolFlag{Name: "dry-run", Usage: "report the changes, write nothing"},
		&cli.StringFlag{Name: "terrain-credit", Usage: "`WORDS` that the terrain's licence requires, printed on every page and map"},
		&cli.BoolFlag{Name: "invented", Usage: "mark the entries as an invented demonstration"},
		&cli.StringFlag{Name: "shard", Usage: "survey only the `PART` i/n of the routes, as in 2/8; merge joins the catalogues of the parts"},
		&cli.StringFlag{Name: "memory", Usage: "limit of the memory as a `SIZE`, as in 512MiB; where it has no room for a worker on each core, fewer are used"},
		&cli.BoolFlag{Name: "afresh", Usage: "survey every route, also those that an interrupted run has finished"},
		jsonFlag(), unitsFlag(), forceFlag()), spreadFlags()...)
}

// surveyOptions reads the survey's options other than terrain and routes.
func (s *session) surveyOptions(c *cli.Context, classes []vehicle.Class) (survey.Options, error) {
	u, err := units(c)
	if err != nil {
		return survey.Options{}, err
	}
	o := survey.Options{Classes: classes, Units: u, SurfaceModel: c.Bool("surface-model")}
	if o.Workers, err = commandline.Count(c, "workers"); err != nil {
		return o, err
	}
	if o.MemoryBytes, err = memoryBytes(c); err != nil {
		return o, err
	}
	if o.AccuracyM, _, err = commandline.Quantity(c, "accuracy", catalog.LengthM); err != nil {
		return o, err
	}
	if o.Descent.MinMeanPct, err = catalog.DowngradePct(c.String("min-mean")); err != nil {
		return o, usageError("--min-mean " + err.Error())
	}
	if o.Descent.MinLengthM, err = catalog.LengthM(c.String("min-length")); err != nil {
		return o, usageError("--min-length " + err.Error())
	}
	o.Descent = o.Descent.WithDefaults()
	return o, nil
}

// memoryBytes reads --memory; 0 where it is not given.
func memoryBytes(c *cli.Context) (int64, error) {
	text := c.String("memory")
	if text == "" {
		return 0, nil
	}
	n, err := survey.ParseMemory(text)
	if err != nil {
		return 0, usageError("--memory: " + err.Error())
	}
	return n, nil
}

// shardOf reads --shard.
func shardOf(c *cli.Context, roads []string) (survey.Part, error) {
	text := c.String("shard")
	if text == "" {
		return survey.Part{}, nil
	}
	part, err := survey.ParsePart(text)
	if err != nil {
		return part, usagef("--shard %v", err)
	}
	if slices.Contains(roads, "-") {
		return part, usagef("--shard reads the routes twice; name a file instead of standard input")
	}
	return part, nil
}
