package commandline_test

import (
	"context"
	"fmt"
	"os"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/cmd/commandline"
)

// A program with one command: a flag may follow the argument, a wrong one is refused with
// the nearest name, and the shell is offered what may stand.
func Example() {
	p := &commandline.Program{App: &cli.App{Name: "hills", Commands: []*cli.Command{{
		Name:   "show",
		Flags:  []cli.Flag{&cli.StringFlag{Name: "paper"}},
		Action: func(c *cli.Context) error { fmt.Println(c.Args().First(), "on", c.String("paper")); return nil },
	}}}}
	for _, line := range []string{"hills show north --paper a4", "hills show north --papr a4"} {
		args, err := p.OrderArgs(strings.Fields(line))
		if err == nil {
			err = p.App.RunContext(context.Background(), args)
		}
		if err != nil {
			fmt.Println(err)
		}
	}
	if err := p.WriteCandidates(os.Stdout, []string{"show", "--paper", ""}, false, papers{}); err != nil {
		fmt.Println(err)
	}
	// Output:
	// north on a4
	// show has no flag --papr, did you mean --paper?; hills show --help lists them
	// a4
	// letter
}

type papers struct{}

func (papers) OfFlag(commandline.Line, string) []string { return []string{"a4", "letter"} }

func (papers) OfArgument(commandline.Line) []string { return nil }
