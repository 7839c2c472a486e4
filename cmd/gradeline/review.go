package main

import (
	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/cmd/commandline"
)

func (s *session) reviewCommand() *cli.Command {
	return &cli.Command{
		Name: "review", Usage: "record a field check, approve, retire; without a descent, list what needs a look",
		ArgsUsage: "[DESCENT]",
		Flags: []cli.Flag{catalogFlag(),
			&cli.StringFlag{Name: "state", Usage: "new `STATE`: surveyed, field-checked, approved or retired"},
			&cli.StringFlag{Name: "by", Usage: "`NAME` of who looked"},
			&cli.StringFlag{Name: "measured", Usage: "mean `DOWNGRADE` measured on the road, as in 6.4%"},
			&cli.StringFlag{Name: "note", Usage: "`TEXT` for those who come after"},
			&cli.StringFlag{Name: "photo", Usage: "where a photo is kept, as a `REFERENCE`"},
			&cli.BoolFlag{Name: "accept", Usage: "take the newer survey that waits for this descent"},
			&cli.BoolFlag{Name: "refuse", Usage: "keep the reviewed figures, drop the newer survey"},
			&cli.BoolFlag{Name: "history", Usage: "who changed what and why"},
			jsonFlag()},
		Action: s.review,
	}
}

func (s *session) review(c *cli.Context) error {
	if err := commandline.CountArgs(c, 0, 1, "at most the id of one descent"); err != nil {
		return err
	}
	if c.NArg() == 0 {
		return s.reviewQueue(c)
	}
	id := c.Args().First()
	if c.Bool("history") {
		return s.history(c, id)
	}
	write := c.String("state") != "" || c.Bool("accept") || c.Bool("refuse")
	if !write {
		return usagef("review %s needs --state, --accept, --refuse or --history", id)
	}
	if c.Bool("accept") && c.Bool("refuse") {
		return usagef("--accept and --refuse exclude each other")
	}
	by := c.String("by")
	if by == "" {
		return usagef("review needs --by with the name of who looked")
	}
	measuredPct, measured, err := commandline.Quantity(c, "measured", catalog.DowngradePct)
	if err != nil {
		return err
	}
	cat, err := s.openForChange(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	if c.Bool("accept") {
		err = cat.Accept(c.Context, id, by)
	} else if c.Bool("refuse") {
		err = cat.Refuse(c.Context, id, by, c.String("note"))
	}
	if err == nil && c.String("state") != "" {
		r := catalog.Review{State: catalog.ReviewState(c.String("state")), By: by, Note: c.String("note"), Photo: c.String("photo")}
		if measured {
			r.MeasuredGradePct = &measuredPct
		}
		err = cat.Review(c.Context, id, r)
	}
	if err != nil {
		return err
	}
	e, err := cat.Descent(c.Context, id)
	if err != nil {
		return err
	}
	return s.answer(c, answer.NewReviewed(&e), catalog.Metric)
}

// reviewQueue lists what needs a look.
func (s *session) reviewQueue(c *cli.Context) error {
	for _, f := range []string{"state", "by", "accept", "refuse", "history"} {
		if c.IsSet(f) {
			return usagef("--%s needs the id of a descent", f)
		}
	}
	cat, err := openCatalog(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	q, err := cat.Queue(c.Context)
	if err != nil {
		return err
	}
	return s.answer(c, answer.NewQueue(q), catalog.Metric)
}

// history says who changed what.
func (s *session) history(c *cli.Context, id string) error {
	cat, err := openCatalog(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	list, err := cat.History(c.Context, id)
	if err != nil {
		return err
	}
	return s.answer(c, answer.NewHistory(id, list), catalog.Metric)
}
