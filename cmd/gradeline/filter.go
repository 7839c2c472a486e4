package main

import (
	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/store"
	"gradeline/cmd/commandline"
	"gradeline/routes"
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

func filter(c *cli.Context) (store.Filter, error) {
	f := store.Filter{Route: c.String("route"), Class: c.String("class"), NotHeldBy: c.String("not-held-by"),
		State: catalog.ReviewState(c.String("state")), Limit: c.Int("limit")}
	switch f.State {
	case "", catalog.Surveyed, catalog.FieldChecked, catalog.Approved, catalog.Retired:
	default:
		return f, usagef("--state %q is not a review state; use surveyed, field-checked, approved or retired", f.State)
	}
	if f.Limit < 0 {
		return f, usagef("--limit %d: use a number from 1 up", f.Limit)
	}
	var err error
	if f.MinLengthM, _, err = commandline.Quantity(c, "at-least", catalog.LengthM); err != nil {
		return f, err
	}
	if text := c.String("bbox"); text != "" {
		var b store.Box
		if b.WestDeg, b.SouthDeg, b.EastDeg, b.NorthDeg, err = catalog.ParseBox(text); err != nil {
			return f, usagef("--bbox %v", err)
		}
		f.BBox = &b
	}
	return f, nil
}

// openCatalog opens the catalogue for reading.
func openCatalog(c *cli.Context) (*store.Catalog, error) {
	classes, err := loadClasses(c)
	if err != nil {
		return nil, err
	}
	return answer.OpenCatalog(c.Context, c.String("catalog"), store.Options{ReadOnly: true, Tool: "gradeline " + version}, classes)
}

// openForChange opens the catalogue for writing.
func (s *session) openForChange(c *cli.Context) (*store.Catalog, error) {
	return store.Open(c.Context, c.String("catalog"), store.Options{Tool: "gradeline " + version, Waiting: s.tellWaiting(nil)})
}

// tellWaiting reports once for each other program that a change is waiting for. clear first clears
// the progress line.
func (s *session) tellWaiting(clear func()) func(store.Waiting) {
	said := map[string]bool{}
	return func(w store.Waiting) {
		words := w.String()
		if said[words] {
			return
		}
		said[words] = true
		if clear != nil {
			clear()
		}
		s.say("%s", words)
	}
}

// oneDescent opens the catalogue and reads the descent that the argument names;
// the caller closes it.
func oneDescent(c *cli.Context) (*store.Catalog, catalog.Entry, error) {
	cat, err := openCatalog(c)
	if err != nil {
		return nil, catalog.Entry{}, err
	}
	e, err := cat.Descent(c.Context, c.Args().First())
	if err != nil {
		cat.Close()
	}
	return cat, e, err
}

// oneHill reads what answer.OneHill does of the descent that the first argument names.
func oneHill(c *cli.Context) (e catalog.Entry, line *routes.Profile, sites []catalog.Site, err error) {
	cat, err := openCatalog(c)
	if err != nil {
		return e, nil, nil, err
	}
	defer cat.Close()
	return answer.OneHill(c.Context, cat, c.Args().First())
}

// chosen opens the catalogue and reads the descents that the flags choose; the
// caller closes it.
func chosen(c *cli.Context) (*store.Catalog, []catalog.Entry, error) { return chosenFor(c, nil) }

// chosenForFleet is chosen with only the holds of the fleet.
func (s *session) chosenForFleet(c *cli.Context) (*store.Catalog, []catalog.Entry, error) {
	return chosenFor(c, s.fleetOf)
}

func chosenFor(c *cli.Context, fleetOf func(*cli.Context, *store.Catalog) ([]string, error)) (*store.Catalog, []catalog.Entry, error) {
	f, err := filter(c)
	if err != nil {
		return nil, nil, err
	}
	cat, err := openCatalog(c)
	if err != nil {
		return nil, nil, err
	}
	if fleetOf != nil {
		if f.Fleet, err = fleetOf(c, cat); err != nil {
			cat.Close()
			return nil, nil, err
		}
	}
	es, err := answer.Chosen(c.Context, cat, f)
	if err != nil {
		cat.Close()
		return nil, nil, err
	}
	return cat, es, nil
}

// partsChosen are the steep parts outside descents that match the filter.
func partsChosen(c *cli.Context, cat *store.Catalog) ([]catalog.SteepPart, error) {
	f, err := filter(c)
	if err != nil {
		return nil, err
	}
	s, err := cat.SteepParts(c.Context, f)
	return s.Parts, err
}

// fleetOf is the fleet that --fleet or the catalogue names; a message says if classes are left out.
func (s *session) fleetOf(c *cli.Context, cat *store.Catalog) ([]string, error) {
	ids, err := answer.FleetOf(c.Context, cat, c.String("fleet"))
	if err != nil {
		return nil, err
	}
	words, err := answer.FleetWords(c.Context, cat, ids)
	if words != "" {
		s.say("%s", words)
	}
	return ids, err
}
