package commandline

import (
	"strings"

	"github.com/urfave/cli/v2"
)

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
