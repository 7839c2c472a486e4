package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog/wording"
)

// groups order the commands by what a person wants of them.
var groups = []struct {
	title    string
	commands []string
}{
	{"Find and keep", []string{"survey", "review", "sites", "merge"}},
	{"Ask", []string{"list", "show", "hold", "compare", "route", "practice", "debrief", "signs", "ramps"}},
	{"Hand out", []string{"sheet", "report", "overlay"}},
	{"Set up", []string{"demo", "classes", "doctor", "completion", "manual"}},
}

// helpAsked finds what help is asked for, in any of the ways that people write
// it: the command (nil for the whole program), and whether help is asked at all.
func helpAsked(app *cli.App, args []string) (*cli.Command, bool, error) {
	words := args[min(1, len(args)):]
	isHelp := func(w string) bool { return w == "--help" || w == "-h" || w == "-help" }
	switch {
	case len(words) == 0:
		return nil, false, nil
	case isHelp(words[0]) || words[0] == "help":
		if len(words) == 1 {
			return nil, true, nil
		}
		cmd := app.Command(words[1])
		if cmd == nil {
			return nil, true, noCommand(app, words[1])
		}
		return cmd, true, nil
	}
	cmd := app.Command(words[0])
	for _, w := range words[1:] {
		if w == "--" {
			break
		}
		if cmd != nil && isHelp(w) {
			return cmd, true, nil
		}
	}
	return nil, false, nil
}

// printHelp writes the help of one command, or of the whole program.
func printHelp(w io.Writer, app *cli.App, cmd *cli.Command) {
	if cmd == nil {
		printAppHelp(w, app)
		return
	}
	fmt.Fprintf(w, "gradeline %s: %s\n\n  %s\n", cmd.Name, cmd.Usage, synopsis(cmd))
	fmt.Fprint(w, "\nExamples, for the folder that gradeline demo leaves (cd gradeline-demo)\n")
	for _, x := range examples[cmd.Name] {
		fmt.Fprintf(w, "\n  %s:\n    %s\n", x.what, x.line)
	}
	t := flagDocs(cmd.Flags)
	if len(t) > 0 {
		fmt.Fprint(w, "\nFlags\n\n")
	}
	wide := 0
	for _, f := range t {
		wide = max(wide, len(f.spelling()))
	}
	for _, f := range t {
		fmt.Fprintf(w, "  %-*s  %s\n", wide, f.spelling(), wording.Wrapped(f.text(), 96, wide+4))
	}
}

func printAppHelp(w io.Writer, app *cli.App) {
	fmt.Fprintf(w, "gradeline %s: %s\n\n  gradeline COMMAND [FLAGS] [ARGUMENTS]\n", app.Version, app.Usage)
	for _, g := range groups {
		fmt.Fprintf(w, "\n%s\n", g.title)
		for _, name := range g.commands {
			fmt.Fprintf(w, "  %-11s %s\n", name, app.Command(name).Usage)
		}
	}
	fmt.Fprint(w, `
gradeline COMMAND --help shows examples and flags; gradeline manual, all of it.
A quantity carries its unit: 80000lb, 36.3t, 8%, 6mi, 40km/h. Flags may stand
before or after arguments. Exit codes: 0 done, 1 failed, 2 wrong use, 3 done with
gaps (each named), 130 interrupted.
`)
}

// synopsis is how a command is called.
func synopsis(cmd *cli.Command) string {
	s := "gradeline " + cmd.Name
	if len(cmd.Flags) > 0 {
		s += " [FLAGS]"
	}
	if cmd.ArgsUsage != "" {
		s += " " + cmd.ArgsUsage
	}
	return s
}

// flagDoc is what help and the manual say of a flag.
type flagDoc struct {
	name, value  string // value is empty for a switch
	what         string
	preset, env  string
	isRepeatable bool
}

func flagDocs(flags []cli.Flag) []flagDoc {
	var out []flagDoc
	for _, f := range flags {
		d, ok := f.(cli.DocGenerationFlag)
		if !ok || f.Names()[0] == "help" {
			continue
		}
		x := flagDoc{name: f.Names()[0], env: strings.Join(d.GetEnvVars(), ", ")}
		_, x.isRepeatable = f.(*cli.StringSliceFlag)
		x.what, x.value = unquoted(d.GetUsage())
		if !d.TakesValue() {
			x.value = ""
		} else if s, isText := f.(*cli.StringFlag); isText {
			x.preset = s.Value
		}
		out = append(out, x)
	}
	return out
}

// unquoted splits cli's `NAME` of a value off a flag's text.
func unquoted(usage string) (what, value string) {
	value = "VALUE"
	if a, rest, ok := strings.Cut(usage, "`"); ok {
		if b, c, ok := strings.Cut(rest, "`"); ok {
			return a + b + c, b
		}
	}
	return usage, value
}

// spelling is the flag as it is typed.
func (d flagDoc) spelling() string {
	s := "--" + d.name
	if len(d.name) == 1 {
		s = "-" + d.name
	}
	if d.value != "" {
		s += " " + d.value
	}
	return s
}

// text is what the flag does, its preset value and its environment variable.
func (d flagDoc) text() string {
	s := d.what
	if d.isRepeatable && !strings.Contains(s, "several times") {
		s += "; may be given several times"
	}
	if d.preset != "" {
		s += "; without it " + d.preset
	}
	if d.env != "" {
		s += "; or set " + d.env
	}
	return s
}
