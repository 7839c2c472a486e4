package main

import (
	"errors"
	"fmt"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/cmd/commandline"
)

// newProgram is the application with its help, manual and completion.
func newProgram(s *session) *commandline.Program {
	p := &commandline.Program{Groups: groups, Examples: examples, Description: description, Sections: manualSections(),
		ExampleNote: "Examples, for the demo's folder (cd out/demo after make demo, cd gradeline-demo after gradeline demo)", HelpFoot: helpFoot}
	p.App = newApp(s)
	p.App.Action = func(c *cli.Context) error { return s.firstSteps(c, p) }
	p.App.Commands = append(p.App.Commands, s.completionCommand(p), s.candidatesCommand(p), s.manualCommand(p))
	for _, c := range p.App.Commands {
		c.OnUsageError = wrongUse
		c.HideHelpCommand = true
		c.UsageText = usageText(c.Name)
	}
	p.App.OnUsageError = wrongUse
	p.Unknown = func(word string) error { return noCommand(word, p.Commands()) }
	return p
}

func wrongUse(_ *cli.Context, err error, _ bool) error { return usageError(err.Error()) }

// groups order the commands by purpose.
var groups = []commandline.Group{
	{Title: "Find and keep", Commands: []string{"survey", "work", "review", "sites", "drives", "merge"}},
	{Title: "Ask", Commands: []string{"serve", "list", "show", "hold", "compare", "route", "practice", "debrief", "progress", "lesson", "signs", "ramps"}},
	{Title: "Hand out", Commands: []string{"sheet", "report", "overlay"}},
	{Title: "Set up", Commands: []string{"demo", "classes", "doctor", "completion", "manual"}},
}

const helpFoot = `gradeline COMMAND --help shows examples and flags; gradeline manual, all of it.
A quantity has its unit: 80000lb, 36.3t, 8%, 6mi, 40km/h. Flags may stand
before or after arguments. Exit codes: 0 done, 1 failed, 2 wrong use, 3 done with
gaps (each named), 130 interrupted.
`

var description = []string{
	"From elevation rasters and a road line, gradeline finds every sustained downgrade in each direction of travel, with an honest error bound, and says for each weight class which gear, retarder stage and speed hold it with the service brakes unused, or that nothing does. The answers live in a catalogue file.",
	"Flags may stand before or after arguments. A quantity has its unit: 80000lb, 36.3t, 8%, 6mi, 40km/h. The examples run in the folder of gradeline demo.",
}

func manualSections() []commandline.Section {
	return []commandline.Section{
		{Title: "EXIT STATUS", Terms: []commandline.Term{
			{Name: "0", What: "done"},
			{Name: "1", What: "failed; one line on standard error says what, where and what to do"},
			{Name: "2", What: "wrong use"},
			{Name: "3", What: "done, with gaps: parts missing, unreliable or skipped, each named in the answer"},
			{Name: "130", What: "interrupted; finished work is kept"}}},
		{Title: "ENVIRONMENT", Terms: []commandline.Term{
			{Name: "GRADELINE_CATALOG", What: "the catalogue where --catalog is not given"},
			{Name: "GRADELINE_CLASSES", What: "the weight classes where --classes is not given"},
			{Name: "GRADELINE_FLEET", What: "the ids of your weight classes where --fleet is not given"},
			{Name: "GRADELINE_UNITS", What: "us or metric where --units is not given"}}},
		{Title: "CAUTIONS", Text: catalog.Cautions()},
		{Title: "FILES", Terms: []commandline.Term{
			{Name: defaultCatalog, What: "the catalogue in the current folder, a GeoPackage that any GIS opens"}}},
	}
}

func (s *session) manualCommand(p *commandline.Program) *cli.Command {
	return &cli.Command{
		Name: "manual", Usage: "the manual page, made from the commands themselves",
		Action: func(c *cli.Context) error {
			if err := commandline.CountArgs(c, 0, 0, "no arguments"); err != nil {
				return err
			}
			return p.WriteManual(s.out)
		},
	}
}

func (s *session) completionCommand(p *commandline.Program) *cli.Command {
	return &cli.Command{
		Name: "completion", Usage: "completion of commands, flags, descents and classes for bash or zsh",
		ArgsUsage: "bash | zsh",
		Action: func(c *cli.Context) error {
			if err := commandline.CountArgs(c, 1, 1, "one of: bash, zsh"); err != nil {
				return err
			}
			script, err := p.CompletionScript(c.Args().First())
			if err == nil {
				_, err = fmt.Fprint(s.out, script)
			}
			return err
		},
	}
}

// candidatesCommand answers the completion scripts; see commandline.CompletionScript.
func (s *session) candidatesCommand(p *commandline.Program) *cli.Command {
	return &cli.Command{
		Name: "candidates", Hidden: true,
		Flags: []cli.Flag{catalogFlag(), classesFlag(), &cli.BoolFlag{Name: "quoted"}},
		Action: func(c *cli.Context) error {
			err := p.WriteCandidates(s.out, c.Args().Slice(), c.Bool("quoted"), completionValues{c})
			if errors.Is(err, commandline.ErrNothingFits) {
				return errGaps
			}
			return err
		},
	}
}
