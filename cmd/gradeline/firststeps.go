package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/cmd/commandline"
)

// firstSteps is the text of gradeline without arguments.
func (s *session) firstSteps(c *cli.Context, p *commandline.Program) error {
	if c.Args().Present() {
		return noCommand(c.Args().First(), p.Commands())
	}
	fmt.Fprint(s.out, `gradeline finds long downgrades and says which gear and speed each truck holds
on its retarder alone.

Try it first
  gradeline demo                 the complete job on an invented example; then cd gradeline-demo
  gradeline hold --grade 8% --length 6mi --class us-5axle
                                 advice for one plain grade, no files needed

Your own roads
  gradeline survey --terrain DEM.tif ROADS.geojson
                                 find the descents of your roads and store them
  gradeline list                 what the catalogue holds, worst first
  gradeline sheet DESCENT --class us-5axle -o page.pdf
                                 the driver's page for one hill and truck

  gradeline --help               every command; gradeline COMMAND --help, examples and flags
`)
	return nil
}

// noCommand guesses the meaning of the first word of the line.
func noCommand(word string, commands []string) error {
	low := strings.ToLower(word)
	switch {
	case strings.HasSuffix(low, ".gpkg"):
		return usagef("%q is not a command; gradeline list --catalog %s shows what a catalogue holds", word, word)
	case strings.HasSuffix(low, ".tif"), strings.HasSuffix(low, ".tiff"), strings.HasSuffix(low, ".vrt"):
		return usagef("%q is not a command; gradeline survey --terrain %s ROADS.geojson finds the descents of your roads", word, word)
	case strings.HasSuffix(low, "json"):
		return usagef("%q is not a command; gradeline survey --terrain DEM.tif %s finds the descents of these roads", word, word)
	case strings.ContainsAny(word, "0123456789") && strings.Contains(word, "-"):
		return usagef("%q is not a command; if it is a descent, use gradeline show %s", word, word)
	}
	return usagef("%q is not a command%s; gradeline --help lists them", word, commandline.DidYouMean(word, commands))
}
