package main

import (
	"io"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/export"
)

func (s *session) overlayCommand() *cli.Command {
	return &cli.Command{
		Name: "overlay", Usage: "RFC 7946 GeoJSON of the catalogue, for any map",
		ArgsUsage: "descents | holds | avoid",
		UsageText: "gradeline overlay descents -o descents.geojson\n" +
			"gradeline overlay avoid --class ca-btrain -o avoid.geojson",
		Flags: append(filterFlags(), outFlag(), forceFlag(),
			&cli.StringFlag{Name: "width", Value: "30m", Usage: "`WIDTH` of the polygons of the avoid overlay, as in 30m"}),
		Action: s.overlay,
	}
}

func (s *session) overlay(c *cli.Context) error {
	if err := argCount(c, 1, 1, "one of: descents, holds, avoid"); err != nil {
		return err
	}
	what := c.Args().First()
	kinds := []string{"descents", "holds", "avoid"}
	if what != "descents" && what != "holds" && what != "avoid" {
		return usagef("overlay has no %q%s; use %s", what, didYouMean(what, kinds), listed(kinds))
	}
	if what != "descents" && c.String("class") == "" {
		return usagef("overlay %s needs --class; gradeline classes list shows them", what)
	}
	widthM, err := catalog.LengthM(c.String("width"))
	if err != nil {
		return usageError{"--width " + err.Error()}
	}
	class := c.String("class")
	// The class is what the overlay speaks of; it must not hide a descent that has no answer for it.
	if err := c.Set("class", ""); err != nil {
		return err
	}
	es, err := entries(c)
	if err != nil {
		return err
	}
	return s.toOutput(c, func(w io.Writer) error {
		switch what {
		case "holds":
			return export.HoldsOverlay(w, es, class)
		case "avoid":
			return export.AvoidOverlay(w, es, class, export.AvoidOptions{WidthM: widthM})
		}
		return export.DescentsOverlay(w, es)
	})
}
