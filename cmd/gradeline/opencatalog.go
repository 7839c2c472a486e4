package main

import (
	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/store"
	"gradeline/routes"
)

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

// namedOrChosen returns the descents named as arguments, or all that match the filter.
func namedOrChosen(c *cli.Context) (*store.Catalog, []catalog.Entry, error) {
	if c.NArg() == 0 {
		return chosen(c)
	}
	cat, err := openCatalog(c)
	if err != nil {
		return nil, nil, err
	}
	es, err := answer.Named(c.Context, cat, c.Args().Slice())
	if err != nil {
		cat.Close()
	}
	return cat, es, err
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
