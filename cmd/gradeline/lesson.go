package main

import (
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
)

func (s *session) lessonCommand() *cli.Command {
	return &cli.Command{
		Name: "lesson", Usage: "what happens to the service brakes on this hill, for a class room: HTML or PDF",
		ArgsUsage: "DESCENT",
		Flags: []cli.Flag{catalogFlag(), classFlag(), classesFlag(), outFlag(), forceFlag(), unitsFlag(),
			&cli.StringFlag{Name: "paper", Value: "letter", Usage: "`PAPER`: letter or a4"}},
		Action: s.lesson,
	}
}

func (s *session) lesson(c *cli.Context) error {
	paper := map[string]string{"letter": "Letter", "a4": "A4"}[strings.ToLower(c.String("paper"))]
	if paper == "" {
		return usagef("--paper %q: use letter or a4", c.String("paper"))
	}
	out := strings.ToLower(c.String("o"))
	if out != "" && out != "-" && !strings.HasSuffix(out, ".html") && !strings.HasSuffix(out, ".pdf") {
		return usagef("-o %s: the file must end in .html or .pdf", c.String("o"))
	}
	var chosen *catalog.Units
	u, err := units(c)
	if err != nil {
		return err
	}
	if c.IsSet("units") {
		chosen = &u
	}
	class, err := weightClass(c)
	if err != nil {
		return err
	}
	cat, e, err := oneDescent(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	a, err := answer.NewLesson(c.Context, cat, &e, class, chosen)
	if err != nil {
		return err
	}
	return s.toOutput(c, func(w io.Writer) error { return a.Write(w, out, paper) })
}
