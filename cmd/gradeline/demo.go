package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"gradeline/catalog/demo"
	"gradeline/cmd/commandline"
)

func (s *session) demoCommand() *cli.Command {
	return &cli.Command{
		Name: "demo", Usage: "the complete job on an embedded, invented example",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "o", Value: "gradeline-demo", Usage: "`FOLDER` for the results"},
			unitsFlag(), forceFlag(),
		},
		Action: s.demo,
	}
}

// demo runs the program's commands on the embedded files, as a user would.
func (s *session) demo(c *cli.Context) error {
	if err := commandline.CountArgs(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	o := demo.Options{Program: s.program, Dir: c.String("o"), Replace: c.Bool("force"), Units: u, UnitsName: c.String("units"), UnitsChosen: c.IsSet("units")}
	return demo.Play(c.Context, s.out, o, func(args []string) error {
		if code := run(c.Context, append([]string{"gradeline"}, args...), s.in, s.out, s.err); code != exitDone {
			return fmt.Errorf("it ended with exit code %d", code)
		}
		return nil
	})
}
