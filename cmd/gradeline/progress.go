package main

import (
	"io"
	"time"

	"github.com/urfave/cli/v2"

	"gradeline/catalog/answer"
	"gradeline/catalog/trainees"
	"gradeline/cmd/commandline"
)

func (s *session) progressCommand() *cli.Command {
	return &cli.Command{
		Name: "progress", Usage: "trainees over their debriefed drives, in a file of the office's own: list, page, sign-off, removal",
		ArgsUsage: "FILE",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "trainee", Usage: "only this `NAME`"},
			&cli.StringFlag{Name: "sign-off", Usage: "record that the trainee may drive this `DESCENT` alone"},
			&cli.StringFlag{Name: "instructor", Usage: "`NAME` of the instructor who signs off"},
			&cli.StringFlag{Name: "class", Usage: "weight class `ID` of the sign-off, where several were driven there"},
			&cli.StringFlag{Name: "on", Usage: "`DATE` of the sign-off, as in 2026-03-01; default today"},
			&cli.StringFlag{Name: "note", Usage: "`TEXT` with the sign-off"},
			&cli.BoolFlag{Name: "forget", Usage: "remove the trainee from the file without a trace"},
			outFlag(), forceFlag(), paperFlag(), jsonFlag(), unitsFlag()},
		Action: s.progress,
	}
}

func (s *session) progress(c *cli.Context) error {
	if err := commandline.CountArgs(c, 1, 1, "the office's file of trainees"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	paper, err := paper(c)
	if err != nil {
		return err
	}
	if err := knownEnding(c, ".html", ".pdf"); err != nil {
		return err
	}
	q, err := progressRequest(c)
	if err != nil {
		return err
	}
	a, err := answer.NewProgress(q)
	if err != nil {
		return err
	}
	if file := c.String("o"); file != "" && file != "-" {
		return s.toOutput(c, func(w io.Writer) error { return a.Write(w, file, paper, u) })
	}
	return s.answer(c, a, u)
}

// progressRequest reads what is asked of the file.
func progressRequest(c *cli.Context) (answer.ProgressRequest, error) {
	q := answer.ProgressRequest{File: c.Args().First(), Name: c.String("trainee"), Forget: c.Bool("forget"), Descent: c.String("sign-off"), Class: c.String("class"),
		SignOff: trainees.SignOff{Instructor: c.String("instructor"), Note: c.String("note"), On: time.Now()}}
	if day := c.String("on"); day != "" {
		on, err := time.Parse(time.DateOnly, day)
		if err != nil {
			return q, usagef("--on %q: write a date as in 2026-03-01", day)
		}
		q.SignOff.On = on
	}
	asksMore := q.Descent != "" || c.IsSet("o")
	switch {
	case q.Name == "" && (q.Forget || asksMore):
		return q, usagef("--trainee NAME says whose")
	case q.Forget && asksMore:
		return q, usagef("--forget stands alone")
	case q.Descent != "" && q.SignOff.Instructor == "":
		return q, usagef("--sign-off needs --instructor NAME")
	}
	for _, flag := range []string{"instructor", "note", "on"} {
		if q.Descent == "" && c.IsSet(flag) {
			return q, usagef("--%s belongs to --sign-off DESCENT", flag)
		}
	}
	return q, nil
}
