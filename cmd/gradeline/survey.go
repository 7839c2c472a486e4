package main

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/descent"
	"gradeline/routes/stationing"
	"gradeline/routes/vector"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

func (s *session) surveyCommand() *cli.Command {
	return &cli.Command{
		Name: "survey", Usage: "find the descents of road lines, take advice for every weight class, store them",
		ArgsUsage: "ROUTES...",
		Flags: append(terrainFlags(),
			catalogFlag(), classesFlag(),
			&cli.StringFlag{Name: "profile", Usage: "write the recovered grade line as CSV to `FILE`"},
			&cli.StringFlag{Name: "layer", Usage: "`LAYER` of a route file that has several"},
			&cli.StringFlag{Name: "min-mean", Value: "4%", Usage: "least mean `DOWNGRADE` of a descent"},
			&cli.StringFlag{Name: "min-length", Value: "800m", Usage: "least `LENGTH` of a descent"},
			&cli.StringFlag{Name: "by", Usage: "`NAME` for the catalogue's history"},
			&cli.BoolFlag{Name: "accept-moves", Usage: "take new figures also for reviewed descents that moved beyond their bounds"},
			&cli.BoolFlag{Name: "dry-run", Usage: "say what would change, write nothing"},
			&cli.BoolFlag{Name: "invented", Usage: "mark the entries as an invented demonstration"},
			&cli.StringFlag{Name: "shard", Usage: "survey only the `PART` i/n of the routes, as in 2/8; merge brings the parts' catalogues together"},
			&cli.BoolFlag{Name: "afresh", Usage: "survey every route, also those that a run cut short has finished"},
			jsonFlag(), unitsFlag(), forceFlag()),
		Action: s.survey,
	}
}

// terrainFlags say which ground a command stands on and how to read it.
func terrainFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringSliceFlag{Name: "terrain", Usage: "elevation raster, folder of tiles or VRT; `PATH` may be given several times"},
		&cli.StringFlag{Name: "vertical-unit", Usage: "`UNIT` of the heights where the file does not say: m, ft or us-ft"},
		&cli.BoolFlag{Name: "surface-model", Usage: "the heights include trees and roofs"},
		&cli.StringFlag{Name: "accuracy", Usage: "stated vertical `ACCURACY` (one standard deviation), as in 0.8m"},
		&cli.StringFlag{Name: "cache", Value: "96", Usage: "memory for decoded blocks in `MIB`"},
		&cli.IntFlag{Name: "workers", Usage: "routes at once; default the cores, at most 2"},
		&cli.BoolFlag{Name: "remote", Usage: "allow terrain and routes at network addresses"},
		&cli.DurationFlag{Name: "remote-timeout", Value: 30 * time.Second, Usage: "`TIME` after which an address that does not answer is given up"},
	}
}

// rasterEndings are file names that no road line has.
var rasterEndings = []string{".tif", ".tiff", ".hgt", ".vrt", ".asc", ".img", ".bil", ".flt", ".dem"}

// inputs sorts a command's paths into terrain and routes: a raster or a folder
// among the arguments is terrain too, so that --terrain may name several.
func inputs(c *cli.Context) (terrainPaths, routePaths []string) {
	terrainPaths = c.StringSlice("terrain")
	for _, a := range c.Args().Slice() {
		info, err := os.Stat(a)
		isRaster := slices.Contains(rasterEndings, strings.ToLower(filepath.Ext(a)))
		if len(terrainPaths) > 0 && (isRaster || err == nil && info.IsDir()) {
			terrainPaths = append(terrainPaths, a)
			continue
		}
		routePaths = append(routePaths, a)
	}
	return terrainPaths, routePaths
}

// openTerrain opens the surface that terrainFlags describe.
func openTerrain(c *cli.Context) (*raster.Surface, error) {
	paths, _ := inputs(c)
	if len(paths) == 0 {
		return nil, usagef("%s needs --terrain with an elevation raster, as in --terrain dem.tif", c.Command.Name)
	}
	o, err := rasterOptions(c)
	if err != nil {
		return nil, err
	}
	return raster.Open(c.Context, paths, o)
}

// rasterOptions reads how terrain is to be read.
func rasterOptions(c *cli.Context) (raster.Options, error) {
	o := raster.Options{AllowRemote: c.Bool("remote"), Workers: c.Int("workers")}
	if u := c.String("vertical-unit"); u != "" {
		unit, err := terrain.ParseVerticalUnit(u)
		if err != nil {
			return raster.Options{}, usageError{"--vertical-unit: " + err.Error()}
		}
		o.VertUnit = unit
	}
	var mib int64
	if n, err := fmt.Sscanf(c.String("cache"), "%d", &mib); n != 1 || err != nil || mib < 8 || mib > 1<<20 {
		return raster.Options{}, usagef("--cache %q is no number of MiB from 8 up", c.String("cache"))
	}
	o.CacheBytes = mib << 20
	if o.RemoteTimeout = c.Duration("remote-timeout"); o.RemoteTimeout <= 0 {
		return raster.Options{}, usagef("--remote-timeout %v: give a time, as in 30s", o.RemoteTimeout)
	}
	return o, nil
}

// surveyOptions reads what the survey needs besides terrain and routes.
func (s *session) surveyOptions(c *cli.Context, classes []vehicle.Class) (survey.Options, error) {
	u, err := units(c)
	if err != nil {
		return survey.Options{}, err
	}
	if c.Int("workers") < 0 {
		return survey.Options{}, usagef("--workers %d: give a number from 1 up", c.Int("workers"))
	}
	o := survey.Options{Classes: classes, Units: u, SurfaceModel: c.Bool("surface-model"), Workers: c.Int("workers")}
	if o.AccuracyM, _, err = quantityFlag(c, "accuracy", catalog.LengthM); err != nil {
		return o, err
	}
	if o.Descent.MinMeanPct, err = catalog.DowngradePct(c.String("min-mean")); err != nil {
		return o, usageError{"--min-mean " + err.Error()}
	}
	if o.Descent.MinLengthM, err = catalog.LengthM(c.String("min-length")); err != nil {
		return o, usageError{"--min-length " + err.Error()}
	}
	o.Descent = o.Descent.WithDefaults()
	return o, nil
}

// provenance is what every entry of a survey was made from.
func provenance(sources []terrain.Source, d descent.Options, invented bool) catalog.Provenance {
	p := catalog.Provenance{Tool: "gradeline " + version, At: startedAt(), Invented: invented,
		Rules: fmt.Sprintf("mean at least %.3g %% over at least %.0f m; core %.3g %%; relief %.3g m", d.MinMeanPct, d.MinLengthM, d.CorePct(), d.ReliefM)}
	for i, src := range sources {
		if i == 8 {
			p.Rasters = append(p.Rasters, fmt.Sprintf("and %d more", len(sources)-i))
			break
		}
		mark := src.Fingerprint
		p.Rasters = append(p.Rasters, fmt.Sprintf("%s (%s, cell %.3g m, heights in %s, datum %s, %s)", src.Name, src.CRS, src.CellM, src.VertUnit, src.VertDatum, mark[:min(len(mark), 16)]))
		if p.VertDatum == "" {
			p.VertDatum = src.VertDatum
		}
	}
	return p
}

// routeList streams the routes of some files; skipped collects what made none,
// and is for the reading goroutine alone until the stream has ended.
func (s *session) routeList(ctx context.Context, c *cli.Context, files []string, skipped *[]routes.Skipped) iter.Seq2[routes.Route, error] {
	return func(yield func(routes.Route, error) bool) {
		var a stationing.Assembler // one for all files: a road may be split over several
		give := func(list []routes.Route) error {
			for _, r := range list {
				if !yield(r, nil) {
					return errEnough
				}
			}
			return nil
		}
		o := vector.Options{Layer: c.String("layer"), AllowRemote: c.Bool("remote"), Stdin: s.in}
		var err error
		for _, file := range files {
			var sk []routes.Skipped
			sk, err = vector.Read(ctx, file, o, func(f routes.Feature) error { return give(a.Add(f)) })
			*skipped = append(*skipped, sk...)
			if err != nil {
				break
			}
		}
		if err == nil {
			err = give(a.Finish())
		}
		*skipped = append(*skipped, a.Skipped()...)
		if err != nil && !errors.Is(err, errEnough) {
			yield(routes.Route{}, err)
		}
	}
}

// errEnough stops the reading when nobody wants more routes.
var errEnough = errors.New("no more routes are wanted")

func (s *session) survey(c *cli.Context) error {
	if err := argCount(c, 1, -1, "at least one file of routes"); err != nil {
		return err
	}
	_, routeFiles := inputs(c)
	if len(routeFiles) == 0 {
		return usagef("survey needs at least one file of routes besides the terrain")
	}
	classes, err := loadClasses(c)
	if err != nil {
		return err
	}
	o, err := s.surveyOptions(c, classes)
	if err != nil {
		return err
	}
	surface, err := openTerrain(c)
	if err != nil {
		return err
	}
	defer surface.Close()
	o.Provenance = provenance(surface.Sources(), o.Descent, c.Bool("invented"))
	sh, err := s.shardOf(c, routeFiles)
	if err != nil {
		return err
	}

	out, err := s.newSurveyOut(c, classes, surface, setupOf(c, classes, o, surface), routeFiles)
	if err != nil {
		return err
	}
	defer out.abandon()
	o.Provenance.At, o.Known = out.head.At, out.known
	var unread []routes.Skipped // written by the reader's goroutine, which ends with Run
	list := sh.only(s.routeList(c.Context, c, routeFiles, &unread))
	err = survey.Run(c.Context, surface, list, o, out.take)
	if sh.tellsOfReading() {
		out.unread = unread
	}
	if err != nil {
		out.keepWhole()
		return err
	}
	if err := out.finish(); err != nil {
		return err
	}
	err = out.print(o.Units)
	if out.finished = err == nil || errors.Is(err, errGaps); !out.finished && out.spool != nil {
		s.say("gradeline: what was surveyed is kept; the same command again takes it over")
	}
	return err
}

// classesUsed are the classes as the catalogue remembers them.
func classesUsed(classes []vehicle.Class) []store.ClassUsed {
	var out []store.ClassUsed
	for _, k := range classes {
		out = append(out, store.ClassUsed{ID: k.ID, Definition: mustJSON(k.View())})
	}
	return out
}
