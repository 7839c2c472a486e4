package main

import (
	"errors"
	"io"
	"io/fs"
	"time"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/page"
	"gradeline/catalog/vehicle"
)

// tripPageFlags print a trip for its driver.
func tripPageFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "page", Usage: "write the driver's page of the best way to `FILE` (.html or .pdf), with the places from --catalog along it; further ways go to FILE-2 and so on"},
		&cli.StringFlag{Name: "paper", Value: "letter", Usage: "`PAPER` of the page: letter or a4"},
	}
}

// writeTripPage writes --page.
func (s *session) writeTripPage(c *cli.Context, a *answer.TripsAnswer, class *vehicle.Class, u catalog.Units) error {
	file := c.String("page")
	if file == "" || len(a.Trips) == 0 {
		return nil
	}
	paper, err := page.ParsePaper(c.String("paper"))
	if err != nil {
		return usageError("--paper " + err.Error())
	}
	if !page.IsPageName(file) {
		return usagef("--page %s: the file must end in .html or .pdf", file)
	}
	o := answer.TripPageOptions{Class: class, Units: u, Paper: paper, Printed: time.Now()}
	if err := fromCatalogue(c, &o); err != nil {
		return err
	}
	return a.WritePages(file, o, func(name string, draw func(io.Writer) error) error { return s.writeTo(c, name, draw) })
}

// fromCatalogue adds the places and credits of the catalogue; none where there is no catalogue and
// none was named.
func fromCatalogue(c *cli.Context, o *answer.TripPageOptions) error {
	cat, err := openCatalog(c)
	if err != nil {
		if !c.IsSet("catalog") && (errors.Is(err, fs.ErrNotExist) || errors.Is(err, catalog.ErrNotFound)) {
			return nil
		}
		return err
	}
	defer cat.Close()
	return o.FromCatalogue(c.Context, cat, len(c.StringSlice("terrain")) == 0)
}
