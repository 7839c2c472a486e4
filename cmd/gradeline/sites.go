package main

import (
	"fmt"
	"io"
	"os"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/table"
	"gradeline/routes"
)

func (s *session) sitesCommand() *cli.Command {
	return &cli.Command{
		Name: "sites", Usage: "brake check areas, escape ramps, chain-up areas, pullouts and signs beside the roads: list, import or remove",
		ArgsUsage: "list | import FILE | remove SITE",
		Flags: []cli.Flag{catalogFlag(), &cli.StringFlag{Name: "route", Usage: "only of this `ROUTE`"},
			&cli.StringFlag{Name: "by", Usage: "`NAME` for the catalogue's history"},
			&cli.StringFlag{Name: "why", Usage: "`REASON` for taking a site out, for the history"}, jsonFlag(), unitsFlag()},
		Action: s.sites,
	}
}

type sitesAnswer struct {
	Schema  string           `json:"schema"`
	Sites   []catalog.Site   `json:"sites"`
	Skipped []routes.Skipped `json:"skipped"`
}

func (s *session) sites(c *cli.Context) error {
	if err := argCount(c, 1, 2, "one of: list, import FILE, remove SITE"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	a := sitesAnswer{Schema: catalog.Schema, Sites: []catalog.Site{}, Skipped: []routes.Skipped{}}
	switch what := c.Args().First(); {
	case what == "list" && c.NArg() == 1:
		cat, err := openCatalog(c)
		if err != nil {
			return err
		}
		defer cat.Close()
		if a.Sites, err = cat.Sites(c.Context, store.SiteFilter{Route: c.String("route")}); err != nil {
			return err
		}
	case what == "import" && c.NArg() == 2:
		if err := s.importSites(c, c.Args().Get(1), &a); err != nil {
			return err
		}
	case what == "remove" && c.NArg() == 2:
		return s.removeSite(c, c.Args().Get(1))
	default:
		return usagef("sites takes list, import with a GeoJSON file, or remove with a site's id")
	}
	if c.Bool("json") {
		err = s.printJSON(a)
	} else {
		err = table.WriteText(s.out, sitesTable(a.Sites, u))
	}
	for _, k := range a.Skipped {
		s.say("gap: %s: %s", k.Where, k.Why)
	}
	if err == nil && len(a.Skipped) > 0 {
		err = errGaps
	}
	return err
}

// removeSite takes one site out of the catalogue.
func (s *session) removeSite(c *cli.Context, id string) error {
	if c.String("by") == "" {
		return usagef("add --by NAME: the history keeps who took the site out")
	}
	cat, err := s.openForChange(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	if err := cat.RemoveSite(c.Context, id, c.String("by"), c.String("why")); err != nil {
		return err
	}
	s.say("site %s is taken out of %s", id, cat.Path())
	return nil
}

// importSites reads, places and stores sites in one change.
func (s *session) importSites(c *cli.Context, file string, a *sitesAnswer) error {
	var in io.Reader = s.in
	if file != "-" {
		f, err := os.Open(file)
		if err != nil {
			return &catalog.Fault{File: file, What: "cannot be opened", Err: unwrapPath(err), Fix: "give a GeoJSON file of points"}
		}
		defer f.Close()
		in = f
	}
	sites, skipped, err := survey.ReadSites(file, in)
	if err != nil {
		return err
	}
	cat, err := s.openForChange(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	es, err := cat.Descents(c.Context, store.Filter{Route: c.String("route"), NoHolds: true})
	if err != nil {
		return err
	}
	profiles := map[string][]*routes.Profile{}
	for i := range es {
		st, err := cat.Profile(c.Context, es[i].Descent.ID)
		if isNotFound(err) {
			continue
		}
		if err != nil {
			return err
		}
		profiles[es[i].Descent.Route] = append(profiles[es[i].Descent.Route], st)
	}
	placed, unplaced := survey.PlaceSites(sites, profiles)
	a.Skipped = append(append(a.Skipped, skipped...), unplaced...)
	if len(placed) == 0 {
		return nil
	}
	a.Sites, err = cat.AddSites(c.Context, placed, c.String("by"))
	return err
}

func sitesTable(sites []catalog.Site, u catalog.Units) table.Table {
	t := table.Table{Title: fmt.Sprintf("%d sites", len(sites)), Header: []string{"site", "kind", "name", "route", "station", "side", "direction", "code"}}
	for _, x := range sites {
		station := "unknown"
		if x.StationM != nil {
			station = u.Station(*x.StationM)
		}
		row := []any{x.ID, string(x.Kind), x.Name, x.Route, station}
		for _, v := range []string{x.Side, x.Direction, x.Code} {
			if v == "" {
				v = "not given"
			}
			row = append(row, v)
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = []string{"Sites are as recorded; one that is not listed may exist all the same. Side is as seen in the direction of travel served; without a direction, a site serves both."}
	return t
}
