package main

import (
	"slices"
	"strings"

	"github.com/urfave/cli/v2"
)

// orderArgs puts a command's flags before its arguments, since cli v2 takes any
// flag after an argument for another argument without a word. Unknown flags are
// refused here, with the nearest name.
func orderArgs(app *cli.App, args []string) ([]string, error) {
	if len(args) < 2 {
		return args, nil
	}
	if strings.HasPrefix(args[1], "-") {
		if len(args) == 2 && (args[1] == "--version" || args[1] == "-v") {
			return args, nil
		}
		return nil, usagef("%s stands before the command; write %s", args[1], commandFirst(app, args[1:]))
	}
	cmd := app.Command(args[1])
	if cmd == nil {
		return args, nil // firstSteps names the mistake
	}
	flags, rest, seen := []string{}, []string{}, map[string]bool{}
	for i := 2; i < len(args); i++ {
		a := args[i]
		if a == "--" {
			rest = append(rest, args[i+1:]...)
			break
		}
		if a == "-" || !strings.HasPrefix(a, "-") {
			rest = append(rest, a)
			continue
		}
		name, _, hasValue := strings.Cut(strings.TrimLeft(a, "-"), "=")
		f := findFlag(cmd, name)
		if f == nil {
			return nil, usagef("%s has no flag %s%s; gradeline %s --help lists them", cmd.Name, a, didYouMean("--"+name, flagNames(cmd)), cmd.Name)
		}
		if _, isList := f.(*cli.StringSliceFlag); seen[f.Names()[0]] && !isList {
			return nil, usagef("--%s is given twice; give it once", f.Names()[0])
		}
		seen[f.Names()[0]] = true
		flags = append(flags, a)
		if _, isSwitch := f.(*cli.BoolFlag); isSwitch || hasValue {
			continue
		}
		if i+1 >= len(args) {
			return nil, usagef("%s needs a value", a)
		}
		i++
		flags = append(flags, args[i])
	}
	ordered := append(args[:2:2], flags...)
	return append(append(ordered, "--"), rest...), nil
}

// commandFirst is the line with its command in front, as far as one is in it.
func commandFirst(app *cli.App, words []string) string {
	for i, w := range words {
		if app.Command(w) != nil {
			return strings.Join(append([]string{"gradeline", w}, append(words[:i:i], words[i+1:]...)...), " ")
		}
	}
	return "gradeline COMMAND " + strings.Join(words, " ")
}

func findFlag(cmd *cli.Command, name string) cli.Flag {
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

// didYouMean is ", did you mean …?" for the nearest of names, or nothing.
func didYouMean(got string, names []string) string {
	best, at := 3, ""
	for _, n := range names {
		if d := editDistance(got, n); d < best {
			best, at = d, n
		}
	}
	if at == "" {
		return ""
	}
	return ", did you mean " + at + "?"
}

// editDistance counts the letters to insert, delete or change.
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		prev := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := prev
			if a[i-1] != b[j-1] {
				cost++
			}
			prev, row[j] = row[j], min(cost, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}

// unitWords are what stands alone when a quantity is written in two words.
var unitWords = []string{"mi", "mile", "miles", "km", "m", "ft", "feet", "lb", "lbs", "pounds", "kg", "t", "tons", "tonnes", "mph", "km/h", "kmh", "kph", "%", "percent"}

// argCount refuses too few or too many arguments.
func argCount(c *cli.Context, least, most int, names string) error {
	switch n := c.NArg(); {
	case n < least:
		return usagef("%s needs %s; gradeline %s --help shows how", c.Command.Name, names, c.Command.Name)
	case most >= 0 && n > most:
		extra, hint := c.Args().Get(most), ""
		if slices.Contains(unitWords, strings.ToLower(extra)) {
			hint = "; a quantity is one word, as in 6mi, 80000lb, 8% or 25mph"
		}
		return usagef("%s takes %s, and %q is one too many%s", c.Command.Name, names, extra, hint)
	}
	return nil
}
