package commandline

import (
	"strings"

	"github.com/urfave/cli/v2"
)

// OrderArgs returns the command line with a command's flags before its arguments: cli
// v2 silently treats any flag after an argument as another argument. args[0] is the
// program. Unknown flags, flags given twice and flags without their value are refused.
func (p *Program) OrderArgs(args []string) ([]string, error) {
	if len(args) < 2 {
		return args, nil
	}
	if strings.HasPrefix(args[1], "-") {
		if len(args) == 2 && (args[1] == "--version" || args[1] == "-v") {
			return args, nil
		}
		return nil, Usagef("%s must come after the command; write %s", args[1], p.commandFirst(args[1:]))
	}
	cmd := p.App.Command(args[1])
	if cmd == nil {
		return args, nil // the App's own action names the mistake
	}
	o := ordering{cmd: cmd, program: p.App.Name, seen: map[string]bool{}}
	words := args[2:]
	for len(words) > 0 {
		if words[0] == "--" {
			o.arguments = append(o.arguments, words[1:]...)
			break
		}
		read, err := o.add(words)
		if err != nil {
			return nil, err
		}
		words = words[read:]
	}
	ordered := append(args[:2:2], o.flags...)
	return append(append(ordered, "--"), o.arguments...), nil
}

// ordering sorts the words behind a command into flags and arguments.
type ordering struct {
	cmd              *cli.Command
	program          string
	flags, arguments []string
	seen             map[string]bool // flags given, by first name
}

// add sorts the first of the words, with its value where it is a flag that takes one, and
// returns how many words that were.
func (o *ordering) add(words []string) (read int, err error) {
	word := words[0]
	if isArgument(word) {
		o.arguments = append(o.arguments, word)
		return 1, nil
	}
	name, _, hasValue := strings.Cut(strings.TrimLeft(word, "-"), "=")
	f := FindFlag(o.cmd, name)
	if f == nil {
		return 0, Usagef("%s has no flag %s%s; %s %s --help lists them", o.cmd.Name, word, DidYouMean("--"+name, flagNames(o.cmd)), o.program, o.cmd.Name)
	}
	first := f.Names()[0]
	if _, isList := f.(*cli.StringSliceFlag); o.seen[first] && !isList {
		return 0, Usagef("--%s appears twice; give it once", first)
	}
	o.seen[first] = true
	o.flags = append(o.flags, word)
	if !takesValue(f) || hasValue {
		return 1, nil
	}
	if len(words) == 1 {
		return 0, Usagef("%s needs a value", word)
	}
	o.flags = append(o.flags, words[1])
	return 2, nil
}

// isArgument reports whether a word is an argument by its look; "-" is one, for standard
// input.
func isArgument(word string) bool { return word == "-" || !strings.HasPrefix(word, "-") }

// commandFirst is the line with its command in front, as far as one is in it.
func (p *Program) commandFirst(words []string) string {
	for i, w := range words {
		if p.App.Command(w) != nil {
			return strings.Join(append([]string{p.App.Name, w}, append(words[:i:i], words[i+1:]...)...), " ")
		}
	}
	return p.App.Name + " COMMAND " + strings.Join(words, " ")
}

// FindFlag is the command's flag of that name, or nil.
func FindFlag(cmd *cli.Command, name string) cli.Flag {
	for _, f := range cmd.Flags {
		for _, n := range f.Names() {
			if n == name {
				return f
			}
		}
	}
	return nil
}

func flagNames(cmd *cli.Command) []string {
	var out []string
	for _, f := range cmd.Flags {
		out = append(out, "--"+f.Names()[0])
	}
	return out
}

func takesValue(f cli.Flag) bool {
	_, isSwitch := f.(*cli.BoolFlag)
	return !isSwitch
}
