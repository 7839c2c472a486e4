package commandline

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog/wording"
)

// helpColumns is the width of help.
const helpColumns = 96

// HelpAsked finds a request for help in any of the usual forms: the command (nil for the complete
// program), and whether help is requested at all.
func (p *Program) HelpAsked(args []string) (*cli.Command, bool, error) {
	words := args[min(1, len(args)):]
	if len(words) == 0 {
		return nil, false, nil
	}
	if isHelp(words[0]) {
		if len(words) == 1 {
			return nil, true, nil
		}
		cmd := p.App.Command(words[1])
		if cmd == nil {
			return nil, true, p.unknown(words[1])
		}
		return cmd, true, nil
	}
	rest := words[1:]
	if end := slices.Index(rest, "--"); end >= 0 {
		rest = rest[:end]
	}
	cmd := p.App.Command(words[0])
	if cmd != nil && slices.ContainsFunc(rest, isHelpFlag) {
		return cmd, true, nil
	}
	return nil, false, nil
}

func isHelpFlag(word string) bool { return word == "--help" || word == "-h" || word == "-help" }

func isHelp(word string) bool { return word == "help" || isHelpFlag(word) }

// WriteHelp writes the help of one command, or of the complete program for nil.
func (p *Program) WriteHelp(w io.Writer, cmd *cli.Command) error {
	if cmd == nil {
		_, err := io.WriteString(w, p.programHelp())
		return err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s: %s\n\n  %s\n", p.App.Name, cmd.Name, cmd.Usage, p.synopsis(cmd))
	fmt.Fprintf(&b, "\n%s\n", p.ExampleNote)
	for _, x := range p.Examples[cmd.Name] {
		fmt.Fprintf(&b, "\n  %s:\n    %s\n", x.What, x.Line)
	}
	docs := flagDocs(cmd.Flags)
	if len(docs) > 0 {
		b.WriteString("\nFlags\n\n")
	}
	wide := 0
	for _, f := range docs {
		wide = max(wide, len(f.spelling()))
	}
	for _, f := range docs {
		fmt.Fprintf(&b, "  %-*s  %s\n", wide, f.spelling(), wording.Wrapped(f.text(), helpColumns, wide+4))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (p *Program) programHelp() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s: %s\n\n  %s COMMAND [FLAGS] [ARGUMENTS]\n", p.App.Name, p.App.Version, p.App.Usage, p.App.Name)
	for _, g := range p.Groups {
		fmt.Fprintf(&b, "\n%s\n", g.Title)
		for _, name := range g.Commands {
			fmt.Fprintf(&b, "  %-11s %s\n", name, p.App.Command(name).Usage)
		}
	}
	return b.String() + "\n" + p.HelpFoot
}

// synopsis is the form of a command's call.
func (p *Program) synopsis(cmd *cli.Command) string {
	s := p.App.Name + " " + cmd.Name
	if len(cmd.Flags) > 0 {
		s += " [FLAGS]"
	}
	if cmd.ArgsUsage != "" {
		s += " " + cmd.ArgsUsage
	}
	return s
}

// flagDoc is the description of a flag in help and the manual.
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
		x.what, x.value = splitUsage(d.GetUsage())
		if !d.TakesValue() {
			x.value = ""
		} else if s, isText := f.(*cli.StringFlag); isText {
			x.preset = s.Value
		}
		out = append(out, x)
	}
	return out
}

// Spellings are the command's flags as typed, each with its value's name.
func Spellings(cmd *cli.Command) []string {
	var out []string
	for _, d := range flagDocs(cmd.Flags) {
		out = append(out, d.spelling())
	}
	return out
}

// splitUsage splits cli's `NAME` of a value off a flag's text.
func splitUsage(usage string) (what, value string) {
	if a, rest, ok := strings.Cut(usage, "`"); ok {
		if b, c, ok := strings.Cut(rest, "`"); ok {
			return a + b + c, b
		}
	}
	return usage, "VALUE"
}

// spelling is the flag as typed.
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

// text is the flag's description, its preset value and its environment variable.
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
