package commandline

import (
	"errors"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"
)

func testProgram() *Program {
	return &Program{App: &cli.App{Name: "p", Commands: []*cli.Command{{Name: "show", Usage: "shows",
		Flags: []cli.Flag{&cli.BoolFlag{Name: "json"}, &cli.StringFlag{Name: "o", Usage: "to `FILE`"}, &cli.StringSliceFlag{Name: "via"}}}, {Name: "hidden", Hidden: true}}}}
}

// Words in, words out: flags first, then "--", then the arguments (POSIX XBD 12.2, guideline 10).
func TestFlagsAreMovedBeforeArguments(t *testing.T) {
	p := testProgram()
	for line, want := range map[string]string{
		"p show a --json b":           "p show --json -- a b",
		"p show a -o f b":             "p show -o f -- a b",
		"p show a --o=f":              "p show --o=f -- a",
		"p show - --via 1 --via 2":    "p show --via 1 --via 2 -- -",
		"p show -- --json":            "p show -- --json",
		"p --version":                 "p --version",
		"p":                           "p",
		"p nosuch --x":                "p nosuch --x",
		"p show --o -x":               "p show --o -x --",
		"p show a b c d --json -o f ": "p show --json -o f -- a b c d",
	} {
		got, err := p.OrderArgs(strings.Fields(line))
		if err != nil || strings.Join(got, " ") != want {
			t.Errorf("%s: %q, %v; want %q", line, strings.Join(got, " "), err, want)
		}
	}
	for line, part := range map[string]string{
		"p show --jsn":            "did you mean --json?",
		"p show --json --json":    "appears twice",
		"p show a -o":             "needs a value",
		"p --json show a":         "write p show --json a",
		"p show --completely-odd": "p show --help",
	} {
		_, err := p.OrderArgs(strings.Fields(line))
		var usage UsageError
		if !errors.As(err, &usage) || !strings.Contains(err.Error(), part) {
			t.Errorf("%s: %v, want %q", line, err, part)
		}
	}
}

// Distances worked out by hand; the first is the usual example of the method (Levenshtein).
func TestEditDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"kitten", "kittn", 1}, {"sheet", "shet", 1}, {"show", "sohw", 2}, {"", "ab", 2}, {"same", "same", 0}, {"list", "last", 1}} {
		if got := editDistance(c.a, c.b); got != c.want {
			t.Errorf("%s, %s: %d, want %d", c.a, c.b, got, c.want)
		}
	}
	if got := DidYouMean(strings.Repeat("x", 1<<20), []string{"show"}); got != "" {
		t.Errorf("a word of 1 MB may mean %q", got)
	}
}

func TestHelpAndCandidatesHideTheHidden(t *testing.T) {
	p := testProgram()
	if got := p.Commands(); len(got) != 1 || got[0] != "show" {
		t.Errorf("commands %v", got)
	}
	var b strings.Builder
	cmd, asked, err := p.HelpAsked([]string{"p", "show", "x", "-h"})
	if err != nil || !asked || cmd == nil {
		t.Fatalf("%v %v %v", cmd, asked, err)
	}
	if err := p.WriteHelp(&b, cmd); err != nil || !strings.Contains(b.String(), "-o FILE      to FILE") {
		t.Errorf("%v\n%s", err, b.String())
	}
	if _, asked, _ := p.HelpAsked([]string{"p", "show", "--", "-h"}); asked {
		t.Error("help is asked by an argument")
	}
}
