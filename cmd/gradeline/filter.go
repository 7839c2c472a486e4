package main

import (
	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/cmd/commandline"
)

// filterFlags choose descents of the catalogue.
func filterFlags() []cli.Flag {
	return []cli.Flag{
		catalogFlag(),
		&cli.StringFlag{Name: "route", Usage: "only of this `ROUTE`: id, name or number"},
		classFlag(), classesFlag(),
		&cli.StringFlag{Name: "not-held-by", Usage: "only those that the weight class `ID` does not hold"},
		&cli.StringFlag{Name: "state", Usage: "only in this review `STATE`: surveyed, field-checked, approved or retired"},
		&cli.StringFlag{Name: "bbox", Usage: "only inside `WEST,SOUTH,EAST,NORTH` in degrees"},
		&cli.StringFlag{Name: "at-least", Usage: "only of at least this `LENGTH`, as in 2mi"},
		&cli.IntFlag{Name: "limit", Usage: "at most `N`"},
	}
}

func filter(c *cli.Context) (f store.Filter, err error) {
	f = store.Filter{Route: c.String("route"), Class: c.String("class"), NotHeldBy: c.String("not-held-by")}
	if text := c.String("state"); text != "" {
		if f.State, err = catalog.ParseReviewState(text); err != nil {
			return f, usagef("--state %v", err)
		}
	}
	if f.Limit, err = commandline.Count(c, "limit"); err != nil {
		return f, err
	}
	if f.MinLengthM, _, err = commandline.Quantity(c, "at-least", catalog.LengthM); err != nil {
		return f, err
	}
	if text := c.String("bbox"); text != "" {
		if f.BBox, err = store.ParseBox(text); err != nil {
			return f, usagef("--bbox %v", err)
		}
	}
	return f, nil
}
