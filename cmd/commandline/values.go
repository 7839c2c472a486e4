package commandline

import (
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"
)

// unitWords are units that become a separate word when a quantity is written with a space.
var unitWords = []string{"mi", "mile", "miles", "km", "m", "ft", "feet", "lb", "lbs", "pounds", "kg", "t", "tons", "tonnes", "mph", "km/h", "kmh", "kph", "%", "percent"}

// CountArgs refuses fewer arguments than least or more than most; a negative most is no
// limit. names describes the arguments.
func CountArgs(c *cli.Context, least, most int, names string) error {
	switch n := c.NArg(); {
	case n < least:
		return Usagef("%s needs %s; %s %s --help shows how", c.Command.Name, names, c.App.Name, c.Command.Name)
	case most >= 0 && n > most:
		extra, hint := c.Args().Get(most), ""
		if slices.Contains(unitWords, strings.ToLower(extra)) {
			hint = "; a quantity is one word, as in 6mi, 80000lb, 8% or 25mph"
		}
		return Usagef("%s takes %s, and %q is one too many%s", c.Command.Name, names, extra, hint)
	}
	return nil
}

// Quantity reads a flag with a quantity by parse, which returns SI units; false where the flag was
// not given.
func Quantity(c *cli.Context, name string, parse func(string) (float64, error)) (float64, bool, error) {
	if !c.IsSet(name) {
		return 0, false, nil
	}
	si, err := Preset(c, name, parse)
	return si, err == nil, err
}

// Preset reads a flag with a quantity and a default value.
func Preset(c *cli.Context, name string, parse func(string) (float64, error)) (float64, error) {
	si, err := parse(c.String(name))
	if err != nil {
		return 0, UsageError(fmt.Sprintf("--%s %s", name, err))
	}
	return si, nil
}

// Quantities reads flags one after the other. Err is the first that failed; after it
// nothing more is read.
type Quantities struct {
	Context *cli.Context
	Err     error
}

// Given reads a flag as Quantity does.
func (q *Quantities) Given(name string, parse func(string) (float64, error)) (float64, bool) {
	if q.Err != nil {
		return 0, false
	}
	si, ok, err := Quantity(q.Context, name, parse)
	q.Err = err
	return si, ok
}

// Needed reads a flag that must be given; example shows how.
func (q *Quantities) Needed(name string, parse func(string) (float64, error), example string) float64 {
	si, ok := q.Given(name, parse)
	if q.Err == nil && !ok {
		q.Err = Usagef("%s needs --%s, as in --%s %s", q.Context.Command.Name, name, name, example)
	}
	return si
}

// Count reads a flag with a number that is not negative; 0 where it is not given.
func Count(c *cli.Context, name string) (int, error) {
	n := c.Int(name)
	if n < 0 {
		return n, Usagef("--%s %d: use a number from 1 up", name, n)
	}
	return n, nil
}
