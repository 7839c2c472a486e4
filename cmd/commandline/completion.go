package commandline

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"
)

// Line is a command line that is being typed, without its last word.
type Line struct {
	Command   *cli.Command
	Given     map[string]string // flags with their values, by first name
	Arguments int               // words that are neither flags nor their values
}

// Values returns the possible words at the current place. A nil answer means file names; an empty
// one means that no word is allowed there.
type Values interface {
	OfFlag(l Line, flag string) []string
	OfArgument(l Line) []string
}

// Nothing is the answer of Values where not even a file name is allowed.
var Nothing = []string{}

// ErrNothingFits means that not even a file name is allowed in the place of the last word.
var ErrNothingFits = errors.New("no word is allowed here")

// WriteCandidates writes the possible completions of the last word, one a line. With isQuoted the
// words are quoted as in a shell, and only completions that begin with the last word are written.
func (p *Program) WriteCandidates(w io.Writer, words []string, isQuoted bool, values Values) error {
	words = slices.Clone(words)
	if isQuoted {
		for i := range words {
			words[i] = unquotedWord(words[i])
		}
	}
	if n := len(words); n > 0 && words[n-1] == "=" { // bash splits --class=us in three
		words[n-1] = ""
	} else if n > 1 && words[n-2] == "=" {
		words = append(words[:n-2:n-2], words[n-1])
	}
	all := p.candidates(words, values)
	for _, c := range all {
		if !isQuoted || strings.HasPrefix(c, words[len(words)-1]) {
			if _, err := fmt.Fprintln(w, c); err != nil {
				return err
			}
		}
	}
	if all != nil && len(all) == 0 {
		return ErrNothingFits
	}
	return nil
}

// candidates are the possible completions of the last word.
func (p *Program) candidates(words []string, values Values) []string {
	switch {
	case len(words) == 1 && strings.HasPrefix(words[0], "-"):
		return []string{"--help", "--version"}
	case len(words) <= 1:
		return append(p.Commands(), "help")
	case isHelp(words[0]) && len(words) > 2:
		return Nothing
	case isHelp(words[0]):
		return p.Commands()
	}
	cmd := p.App.Command(words[0])
	if cmd == nil {
		return nil
	}
	last, before := words[len(words)-1], words[1:len(words)-1]
	l := lineOf(cmd, before)
	if len(before) > 0 && strings.HasPrefix(before[len(before)-1], "-") {
		if f := FindFlag(cmd, strings.TrimLeft(before[len(before)-1], "-")); f != nil && takesValue(f) {
			return values.OfFlag(l, f.Names()[0])
		}
	}
	if strings.HasPrefix(last, "-") {
		return flagsLeft(l)
	}
	return values.OfArgument(l)
}

// flagsLeft are the flags that may still be given.
func flagsLeft(l Line) []string {
	var out []string
	for _, d := range flagDocs(l.Command.Flags) {
		if _, isGiven := l.Given[d.name]; !isGiven || d.isRepeatable {
			out = append(out, strings.Fields(d.spelling())[0])
		}
	}
	return append(out, "--help")
}

// lineOf reads the words after a command.
func lineOf(cmd *cli.Command, words []string) Line {
	l := Line{Command: cmd, Given: map[string]string{}}
	for i := 0; i < len(words); i++ {
		if isArgument(words[i]) {
			l.Arguments++
			continue
		}
		name, value, hasValue := strings.Cut(strings.TrimLeft(words[i], "-"), "=")
		f := FindFlag(cmd, name)
		if f == nil {
			continue
		}
		if !hasValue && takesValue(f) && i+1 < len(words) {
			i++
			value = words[i]
		}
		l.Given[f.Names()[0]] = value
	}
	return l
}
