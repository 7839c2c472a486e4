package main

import (
	"strconv"

	"github.com/urfave/cli/v2"

	"gradeline/catalog/answer"
	"gradeline/catalog/survey"
	"gradeline/cmd/commandline"
)

func (s *session) drivesCommand() *cli.Command {
	return &cli.Command{
		Name: "drives", Usage: "recorded drives that the catalogue keeps for its grade lines, without who drove or when: import, list or forget",
		ArgsUsage: "import PATH... | list | forget DRIVE...",
		Flags: []cli.Flag{catalogFlag(), &cli.StringFlag{Name: "route", Usage: "list only those on this `ROUTE`"},
			driveHeightsFlag(),
			&cli.StringFlag{Name: "label", Usage: "keep these `WORDS` with the drives; without it nothing says whose they are"},
			&cli.StringFlag{Name: "by", Usage: "`NAME` for the catalogue's history"}, jsonFlag(), unitsFlag()},
		Action: s.drives,
	}
}

func driveHeightsFlag() cli.Flag {
	return &cli.StringFlag{Name: "drive-heights", Usage: "source of the heights in GPX and FIT drives, where the files do not state it: `barometer`"}
}

// drivesAreBarometric reads --drive-heights.
func drivesAreBarometric(c *cli.Context) (bool, error) {
	switch kind := c.String("drive-heights"); kind {
	case "", "barometer":
		return kind != "", nil
	default:
		return false, usagef("--drive-heights %q: the only value is barometer; other heights are too noisy for a grade", kind)
	}
}

func (s *session) drives(c *cli.Context) error {
	if err := commandline.CountArgs(c, 1, 10000, "one of: import PATH..., list, forget DRIVE..."); err != nil {
		return err
	}
	switch what, n := c.Args().First(), c.NArg(); {
	case what == "list" && n == 1:
		return s.listDrives(c)
	case what == "import" && n > 1:
		return s.importDrives(c)
	case what == "forget" && n > 1:
		return s.forgetDrives(c)
	}
	return usagef("drives takes list, import with files or folders, or forget with the numbers of drives")
}

func (s *session) listDrives(c *cli.Context) error {
	u, err := units(c)
	if err != nil {
		return err
	}
	cat, err := openCatalog(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	a, err := answer.ListDrives(c.Context, cat, c.String("route"))
	if err != nil {
		return err
	}
	return s.answer(c, a, u)
}

func (s *session) importDrives(c *cli.Context) error {
	u, err := units(c)
	if err != nil {
		return err
	}
	areBarometric, err := drivesAreBarometric(c)
	if err != nil {
		return err
	}
	cat, err := s.openForChange(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	a, err := answer.ImportDrives(c.Context, cat, survey.DriveImport{Paths: c.Args().Tail(), AreBarometric: areBarometric, Label: c.String("label"), By: c.String("by")})
	if err == nil {
		err = s.answerChange(c, a, u, cat.Path())
	}
	if err != nil {
		return err
	}
	return s.sayGaps(a.Gaps())
}

func (s *session) forgetDrives(c *cli.Context) error {
	u, err := units(c)
	if err != nil {
		return err
	}
	var numbers []int64
	for _, word := range c.Args().Tail() {
		n, err := strconv.ParseInt(word, 10, 64)
		if err != nil || n <= 0 {
			return usagef("%q is not the number of a drive; drives list shows them", word)
		}
		numbers = append(numbers, n)
	}
	cat, err := s.openForChange(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	a, err := answer.ForgetDrives(c.Context, cat, numbers, c.String("by"))
	if err != nil {
		return err
	}
	return s.answerChange(c, a, u, cat.Path())
}
