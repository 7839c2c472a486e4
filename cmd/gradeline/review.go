package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/store"
	"gradeline/catalog/table"
	"gradeline/catalog/wording"
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

type queueAnswer struct {
	Schema string            `json:"schema"`
	Queue  []store.QueueItem `json:"queue"`
}

func (s *session) review(c *cli.Context) error {
	if err := argCount(c, 0, 1, "at most the id of one descent"); err != nil {
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
	measuredPct, measured, err := quantityFlag(c, "measured", catalog.DowngradePct)
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
	if c.Bool("json") {
		return s.printJSON(answer.Descent{Schema: catalog.Schema, Descent: answer.EntryOf(&e), Cautions: catalog.Cautions()})
	}
	fmt.Fprintf(s.out, "%s: %s\n", e.Descent.ID, wording.ReviewLine(&e))
	return nil
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
	if c.Bool("json") {
		return s.printJSON(queueAnswer{catalog.Schema, q})
	}
	t := table.Table{Title: "Descents that need a look", Header: []string{"descent", "name", "state", "why", "more"}}
	for _, it := range q {
		t.Rows = append(t.Rows, []any{it.ID, it.Name, string(it.State), strings.Join(it.Reasons, ", "), it.Words})
	}
	return table.WriteText(s.out, t)
}

type historyAnswer struct {
	Schema  string        `json:"schema"`
	History []store.Event `json:"history"`
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
	if c.Bool("json") {
		return s.printJSON(historyAnswer{catalog.Schema, list})
	}
	t := table.Table{Title: "History of " + id, Header: []string{"when", "what", "by", "words"}}
	for _, ev := range list {
		t.Rows = append(t.Rows, []any{ev.At.Format("2006-01-02 15:04"), ev.What, ev.By, ev.Words})
	}
	return table.WriteText(s.out, t)
}
