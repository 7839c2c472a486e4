package main

import (
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/page"
)

func (s *session) lessonCommand() *cli.Command {
	return &cli.Command{
		Name: "lesson", Usage: "what happens to the service brakes on this hill, for a class room: HTML or PDF",
		ArgsUsage: "DESCENT",
		Flags: []cli.Flag{catalogFlag(), classFlag(), classesFlag(), outFlag(), forceFlag(), unitsFlag(),
			paperFlag()},
		Action: s.lesson,
	}
}

func (s *session) lesson(c *cli.Context) error {
	paper, err := paper(c)
	if err != nil {
		return err
	}
	if err := knownEnding(c, ".html", ".pdf"); err != nil {
		return err
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
	return s.toOutput(c, func(w io.Writer) error { return a.Write(w, c.String("o"), paper) })
}

func paperFlag() cli.Flag {
	return &cli.StringFlag{Name: "paper", Value: "letter", Usage: "`PAPER`: letter or a4"}
}

// paper is the size of paper of --paper.
func paper(c *cli.Context) (string, error) {
	p, err := page.ParsePaper(c.String("paper"))
	if err != nil {
		return "", usagef("--paper %q: use letter or a4", c.String("paper"))
	}
	return p.String(), nil
}

// knownEnding refuses an output file in a format that the command does not write.
func knownEnding(c *cli.Context, endings ...string) error {
	out := strings.ToLower(c.String("o"))
	if out == "" || out == "-" || slices.ContainsFunc(endings, func(e string) bool { return strings.HasSuffix(out, e) }) {
		return nil
	}
	return usagef("-o %s: the file must end in %s", c.String("o"), strings.Join(endings, " or "))
}
