package main

import (
	"github.com/urfave/cli/v2"

	"gradeline/catalog/answer"
	"gradeline/cmd/commandline"
)

func (s *session) sitesCommand() *cli.Command {
	return &cli.Command{
		Name: "sites", Usage: "brake check areas, escape ramps, chain-up areas, pullouts and signs along the roads: list, import or remove",
		ArgsUsage: "list | import FILE | remove SITE",
		Flags: []cli.Flag{catalogFlag(), &cli.StringFlag{Name: "route", Usage: "only of this `ROUTE`"},
			&cli.StringFlag{Name: "by", Usage: "`NAME` for the catalogue's history"},
			&cli.StringFlag{Name: "why", Usage: "`REASON` for removing a site, for the history"}, jsonFlag(), unitsFlag()},
		Action: s.sites,
	}
}

func (s *session) sites(c *cli.Context) error {
	if err := commandline.CountArgs(c, 1, 2, "one of: list, import FILE, remove SITE"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	var a *answer.Sites
	switch what := c.Args().First(); {
	case what == "list" && c.NArg() == 1:
		a, err = listSites(c)
	case what == "import" && c.NArg() == 2:
		a, err = s.importSites(c, c.Args().Get(1))
	case what == "remove" && c.NArg() == 2:
		return s.removeSite(c, c.Args().Get(1))
	default:
		return usagef("sites takes list, import with a GeoJSON file, or remove with a site's id")
	}
	if err == nil {
		err = s.answer(c, a, u)
	}
	if err != nil {
		return err
	}
	return s.sayGaps(a.Gaps())
}

func listSites(c *cli.Context) (*answer.Sites, error) {
	cat, err := openCatalog(c)
	if err != nil {
		return nil, err
	}
	defer cat.Close()
	return answer.ListSites(c.Context, cat, c.String("route"))
}

// importSites reads, places and stores sites in one change.
func (s *session) importSites(c *cli.Context, file string) (*answer.Sites, error) {
	in, err := s.openInput(file, "name a GeoJSON file of points")
	if err != nil {
		return nil, err
	}
	defer in.Close()
	cat, err := s.openForChange(c)
	if err != nil {
		return nil, err
	}
	defer cat.Close()
	a, err := answer.ImportSites(c.Context, cat, file, in, c.String("route"), c.String("by"))
	if err == nil && len(a.Sites) > 0 {
		s.stored = cat.Path()
	}
	return a, err
}

// removeSite removes one site from the catalogue.
func (s *session) removeSite(c *cli.Context, id string) error {
	if c.String("by") == "" {
		return usagef("add --by NAME: the history records who removed the site")
	}
	cat, err := s.openForChange(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	if err := cat.RemoveSite(c.Context, id, c.String("by"), c.String("why")); err != nil {
		return err
	}
	s.say("site %s is removed from %s", id, cat.Path())
	return nil
}
