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
