package main

import (
	"errors"
	"fmt"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/survey"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wholefile"
	"gradeline/cmd/commandline"
	"gradeline/routes/vector"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

func (s *session) surveyCommand() *cli.Command {
	return &cli.Command{
		Name: "survey", Usage: "find the descents of road lines, work out the advice for every weight class, store both",
		ArgsUsage: "ROUTES...",
		Flags: append(append(append(terrainFlags(), networkFlags()...),
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
			jsonFlag(), unitsFlag(), forceFlag()), spreadFlags()...),
		Action: s.survey,
	}
}

// terrainFlags set the terrain of a command and how it is read.
func terrainFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringSliceFlag{Name: "terrain", Usage: "elevation raster, folder of tiles or VRT; `PATH` may be given several times"},
		&cli.StringFlag{Name: "vertical-unit", Usage: "`UNIT` of the heights where the file does not state it: m, ft or us-ft"},
		&cli.BoolFlag{Name: "flat-is-ground", Usage: "ground of exactly one height is real, not a fill value for missing terrain"},
		&cli.BoolFlag{Name: "surface-model", Usage: "the heights include trees and roofs"},
		&cli.StringFlag{Name: "accuracy", Usage: "stated vertical `ACCURACY` (one standard deviation), as in 0.8m"},
		&cli.StringFlag{Name: "cache", Value: "96", Usage: "memory for decoded blocks in `MIB`"},
		&cli.IntFlag{Name: "workers", Usage: "routes at once; default as many as there are cores"},
		&cli.BoolFlag{Name: "remote", Usage: "allow terrain and routes at network addresses"},
		&cli.DurationFlag{Name: "remote-timeout", Value: 30 * time.Second, Usage: "`TIME` to wait for an address that does not answer"},
	}
}

// inputs sorts a command's paths into terrain and routes.
func inputs(c *cli.Context) (terrainPaths, routePaths []string) {
	return survey.SortPaths(c.StringSlice("terrain"), c.Args().Slice())
}

// openTerrain opens the surface that terrainFlags describe.
func openTerrain(c *cli.Context) (*raster.Surface, error) {
	paths, _ := inputs(c)
	if len(paths) == 0 {
		return nil, noTerrain(c)
	}
	o, err := rasterOptions(c)
	if err != nil {
		return nil, err
	}
	return raster.Open(c.Context, paths, o)
}

func noTerrain(c *cli.Context) error {
	return usagef("%s needs --terrain with an elevation raster, as in --terrain dem.tif", c.Command.Name)
}

// rasterOptions reads the options for terrain.
func rasterOptions(c *cli.Context) (raster.Options, error) {
	o := raster.Options{AllowRemote: c.Bool("remote"), Workers: c.Int("workers"), FlatIsGround: c.Bool("flat-is-ground")}
	if u := c.String("vertical-unit"); u != "" {
		unit, err := terrain.ParseVerticalUnit(u)
		if err != nil {
			return raster.Options{}, usageError("--vertical-unit: " + err.Error())
		}
		o.VertUnit = unit
	}
	var err error
	if o.CacheBytes, err = cacheBytes(c); err != nil {
		return raster.Options{}, err
	}
	if o.RemoteTimeout = c.Duration("remote-timeout"); o.RemoteTimeout <= 0 {
		return raster.Options{}, usagef("--remote-timeout %v: write a time, as in 30s", o.RemoteTimeout)
	}
	return o, nil
}

// cacheBytes reads --cache.
func cacheBytes(c *cli.Context) (int64, error) {
	var mib int64
	if n, err := fmt.Sscanf(c.String("cache"), "%d", &mib); n != 1 || err != nil || mib < 8 || mib > 1<<20 {
		return 0, usagef("--cache %q: use a number of MiB from 8 up", c.String("cache"))
	}
	return mib << 20, nil
}

// surveyOptions reads the survey's options other than terrain and routes.
func (s *session) surveyOptions(c *cli.Context, classes []vehicle.Class) (survey.Options, error) {
	u, err := units(c)
	if err != nil {
		return survey.Options{}, err
	}
	if c.Int("workers") < 0 {
		return survey.Options{}, usagef("--workers %d: use a number from 1 up", c.Int("workers"))
	}
	o := survey.Options{Classes: classes, Units: u, SurfaceModel: c.Bool("surface-model"), Workers: c.Int("workers")}
	if text := c.String("memory"); text != "" {
		if o.MemoryBytes, err = survey.ParseMemory(text); err != nil {
			return o, usageError("--memory: " + err.Error())
		}
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

// roadOptions reads the options for road files.
func (s *session) roadOptions(c *cli.Context) vector.Options {
	return vector.Options{OnProgress: s.newProgress("reading roads").share, Layer: c.String("layer"), AllowRemote: c.Bool("remote"), Stdin: s.in}
}

// networkFlags choose the part of a network.
func networkFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "roads", Usage: "highway classes of an OpenStreetMap extract, each with its links, as a `LIST` with commas; default " + strings.Join(vector.DefaultRoads, ",")},
		&cli.StringFlag{Name: "box", Usage: "only roads of an extract that touch the box `W,S,E,N`, degrees"},
	}
}

// networkOptions adds the values of networkFlags.
func networkOptions(c *cli.Context, o vector.Options) (vector.Options, error) {
	if text := c.String("roads"); text != "" {
		o.Roads = strings.Split(text, ",")
		if err := vector.CheckRoads(o.Roads); err != nil {
			return o, usagef("--roads: %v", err)
		}
	}
	if text := c.String("box"); text != "" {
		box, err := vector.ParseBox(text)
		if err != nil {
			return o, usagef("--box: %v", err)
		}
		o.Box = box
	}
	return o, nil
}

// surveySetup reads the command line.
func (s *session) surveySetup(c *cli.Context) (survey.Setup, error) {
	var setup survey.Setup
	if err := commandline.CountArgs(c, 1, -1, "at least one file of routes"); err != nil {
		return setup, err
	}
	if setup.Terrain, setup.Roads = inputs(c); len(setup.Roads) == 0 {
		return setup, usagef("survey needs at least one file of routes in addition to the terrain")
	}
	classes, kept, err := surveyFleet(c)
	if err != nil {
		return setup, err
	}
	if setup.Options, err = s.surveyOptions(c, classes); err != nil {
		return setup, err
	}
	if len(setup.Terrain) == 0 && len(c.StringSlice("drives")) == 0 {
		return setup, noTerrain(c)
	}
	if len(setup.Terrain) == 0 {
		s.say("%s", survey.AloneWords)
	}
	if setup.Raster, err = rasterOptions(c); err != nil {
		return setup, err
	}
	if setup.Part, err = shardOf(c, setup.Roads); err != nil {
		return setup, err
	}
	if setup.Lines, err = networkOptions(c, s.roadOptions(c)); err != nil {
		return setup, err
	}
	setup.Fleet = kept
	setup.AsDrawn, setup.Catalog, setup.Tool = c.Bool("as-drawn"), c.String("catalog"), "gradeline "+version
	setup.DrivePaths = c.StringSlice("drives")
	if setup.DrivesAreBarometric, err = drivesAreBarometric(c); err != nil {
		return setup, err
	}
	setup.By, setup.Invented, setup.AcceptMoves = c.String("by"), c.Bool("invented"), c.Bool("accept-moves")
	setup.Credit = strings.TrimSpace(c.String("terrain-credit"))
	setup.DryRun, setup.Afresh = c.Bool("dry-run"), c.Bool("afresh")
	setup.KeepAll, setup.KeepProfile = c.Bool("json"), c.String("profile") != "" && !setup.DryRun
	if file := c.String("profile"); setup.KeepProfile {
		if err = notAnInput(c, file); err == nil {
			err = wholefile.CheckTarget(file, c.Bool("force"))
		}
	}
	return setup, err
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

func (s *session) survey(c *cli.Context) error {
	switch {
	case c.Bool("spread"):
		return s.spread(c)
	case c.Bool("watch"):
		return s.watch(c)
	}
	setup, err := s.surveySetup(c)
	if err != nil {
		return err
	}
	bar := s.newProgress("surveying, routes done")
	setup.OnRoute, setup.Waiting = bar.step, s.tellWaiting(bar.end)
	job, err := survey.Begin(c.Context, setup)
	if err != nil {
		return err
	}
	defer job.Close()
	if setup.MemoryBytes > 0 {
		debug.SetMemoryLimit(survey.HeapBytes(setup.MemoryBytes, setup.Raster.CacheBytes))
		s.say("%s", job.Memory())
	}
	if n, began := job.Earlier(); n > 0 {
		s.say("continues the survey that began %s and was interrupted: %d routes were finished with the same terrain, roads, classes and rules; --afresh surveys them again",
			began.Format("2006-01-02 15:04 MST"), n)
	}
	err = job.Run(c.Context)
	bar.end()
	if err != nil {
		if e := job.NotKept(); e != nil && !errors.Is(err, e) {
			s.say("gradeline: %v", e)
		}
		return err
	}
	err = s.surveyAnswer(c, job, setup.Units)
	if err != nil && !errors.Is(err, errGaps) {
		job.KeepForLater()
		s.say("gradeline: the finished routes are kept; run the same command again to continue")
	}
	return err
}

// surveyAnswer writes the profile file, the table or the JSON object, and names warnings
// and gaps.
func (s *session) surveyAnswer(c *cli.Context, job *survey.Job, u catalog.Units) error {
	if file := c.String("profile"); file != "" && !c.Bool("dry-run") {
		if err := wholefile.WriteFile(file, c.Bool("force"), job.WriteProfile); err != nil {
			return err
		}
	}
	var err error
	if c.Bool("json") {
		err = answer.SurveyJSON(s.out, job)
	} else {
		err = answer.SurveyText(s.out, job, u)
	}
	if err != nil {
		return err
	}
	for _, l := range answer.NetworkText(job.Network()) {
		s.say("%s", l)
	}
	for _, w := range job.Warnings() {
		s.say("warning: %s", w)
	}
	isWhole := true
	for gap, err := range job.Gaps() {
		if err != nil {
			return err
		}
		isWhole = false
		s.say("gap: %s", gap)
	}
	if !isWhole {
		return errGaps
	}
	return nil
}
