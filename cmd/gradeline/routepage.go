package main

import (
	"errors"
	"io"
	"io/fs"
	"path/filepath"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
)

// tripPageFlags print a trip for its driver.
func tripPageFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "page", Usage: "write the driver's page of the best way to `FILE` (.html or .pdf), with the places of --catalog beside it"},
		&cli.StringFlag{Name: "paper", Value: "letter", Usage: "`PAPER` of the page: letter or a4"},
	}
}

// writeTripPage writes --page.
func (s *session) writeTripPage(c *cli.Context, a *answer.TripsAnswer, class *vehicle.Class, u catalog.Units) error {
	file := c.String("page")
	if file == "" || len(a.Trips) == 0 {
		return nil
	}
	paper, isPaper := papers[strings.ToLower(c.String("paper"))]
	if !isPaper {
		return usagef("--paper %q: use letter or a4", c.String("paper"))
	}
	switch strings.ToLower(filepath.Ext(file)) {
	case ".html", ".htm", ".pdf":
	default:
		return usagef("--page %s: the file must end in .html or .pdf", file)
	}
	sites, isInvented, err := sitesOfCatalogue(c)
	if err != nil {
		return err
	}
	o := answer.TripPageOptions{Class: class, Units: u, Paper: paper, Sites: sites, Printed: time.Now(), IsInvented: isInvented}
	return s.writeTo(c, file, func(w io.Writer) error { return a.TripPage(w, file, o) })
}

// sitesOfCatalogue are the places of the catalogue, none where nobody named one that is there.
func sitesOfCatalogue(c *cli.Context) (sites []catalog.Site, isInvented bool, err error) {
	cat, err := openCatalog(c)
	if err != nil {
		if !c.IsSet("catalog") && (errors.Is(err, fs.ErrNotExist) || errors.Is(err, catalog.ErrNotFound)) {
			return nil, false, nil
		}
		return nil, false, err
	}
	defer cat.Close()
	es, err := cat.Descents(c.Context, store.Filter{NoHolds: true, Limit: 1})
	if err != nil {
		return nil, false, err
	}
	sites, err = cat.Sites(c.Context, store.SiteFilter{})
	return sites, len(es) > 0 && es[0].Provenance.Invented, err
}
