package main

import (
	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/cmd/commandline"
)

func (s *session) reviewCommand() *cli.Command {
	return &cli.Command{
		Name: "review", Usage: "record a field check, approve, retire; without a descent, list the descents that need a review",
		ArgsUsage: "[DESCENT]",
		Flags: []cli.Flag{catalogFlag(), classesFlag(),
			&cli.StringFlag{Name: "state", Usage: "new `STATE`: surveyed, field-checked, approved or retired"},
			&cli.StringFlag{Name: "by", Usage: "`NAME` of the reviewer"},
			&cli.StringFlag{Name: "measured", Usage: "mean `DOWNGRADE` measured on the road, as in 6.4%"},
			&cli.StringFlag{Name: "note", Usage: "`TEXT` of a note for later reviewers"},
			&cli.StringFlag{Name: "photo", Usage: "where a photo is stored, as a `REFERENCE`"},
			&cli.BoolFlag{Name: "accept", Usage: "accept the newer survey that is waiting for this descent"},
			&cli.BoolFlag{Name: "refuse", Usage: "keep the reviewed figures and discard the newer survey"},
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
	d, err := decisionOf(c)
	if err != nil {
		return err
	}
	cat, err := s.openForChange(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	a, err := answer.Decide(c.Context, cat, id, d)
	if err != nil {
		return err
	}
	return s.answerChange(c, a, catalog.Metric, cat.Path())
}

// decisionOf reads a person's decision.
func decisionOf(c *cli.Context) (store.Decision, error) {
	d := store.Decision{Accept: c.Bool("accept"), Refuse: c.Bool("refuse"),
		Review: catalog.Review{State: catalog.ReviewState(c.String("state")), By: c.String("by"), Note: c.String("note"), Photo: c.String("photo")}}
	switch {
	case d.Review.State == "" && !d.Accept && !d.Refuse:
		return d, usagef("review %s needs --state, --accept, --refuse or --history", c.Args().First())
	case d.Accept && d.Refuse:
		return d, usagef("--accept and --refuse exclude each other")
	case d.Review.By == "":
		return d, usagef("review needs --by with the name of the reviewer")
	}
	measuredPct, isMeasured, err := commandline.Quantity(c, "measured", catalog.DowngradePct)
	if isMeasured {
		d.Review.MeasuredGradePct = &measuredPct
	}
	return d, err
}

// reviewQueue lists the descents that need a review.
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
	q, err := survey.Queue(c.Context, cat)
	if err != nil {
		return err
	}
	return s.answer(c, answer.NewQueue(q), catalog.Metric)
}

// history lists who changed what.
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
