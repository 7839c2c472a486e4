package main

import (
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"gradeline/catalog/survey"
	"gradeline/routes/vector"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

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
	n, err := raster.ParseCacheBytes(c.String("cache"))
	if err != nil {
		return 0, usageError("--cache: " + err.Error())
	}
	return n, nil
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
