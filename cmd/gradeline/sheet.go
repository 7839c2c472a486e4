package main

import (
	"io"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/page"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
	"gradeline/cmd/commandline"
)

func (s *session) sheetCommand() *cli.Command {
	return &cli.Command{
		Name: "sheet", Usage: "the driver's page for a descent and weight class, HTML or PDF; or one for each descent into a folder",
		ArgsUsage: "[DESCENT...]",
		Flags: append([]cli.Flag{catalogFlag(), classFlag(), classesFlag(), outFlag(), forceFlag(), unitsFlag(),
			&cli.BoolFlag{Name: "all", Usage: "a PDF page for every descent of the catalogue that is not retired; -o names the folder"},
			&cli.StringFlag{Name: "paper", Value: "letter", Usage: "`PAPER`: letter or a4"},
			&cli.StringFlag{Name: "toward", Usage: "the `PLACE` the road leads to, for the heading of the page"},
			&cli.StringFlag{Name: "dispatcher", Usage: "`WHOM` the driver calls, as printed: a name and a number"},
			&cli.StringFlag{Name: "note", Usage: "the office's own `WORDS` to the driver"},
			&cli.StringFlag{Name: "check", Usage: "report whether the page with this `FINGERPRINT` is still current"}},
			weatherFlags(weatherOfADay+"; the advice is worked out again for it from the stored grade line")...),
		Action: s.sheet,
	}
}

func (s *session) sheet(c *cli.Context) error {
	if c.IsSet("check") {
		return s.checkPage(c)
	}
	least := 1
	if c.Bool("all") {
		least = 0
	}
	if err := commandline.CountArgs(c, least, -1, "the id of a descent (gradeline list shows them), or --all"); err != nil {
		return err
	}
	if c.Bool("all") && c.NArg() > 0 {
		return usagef("--all takes no descents by name")
	}
	o, err := sheetOptions(c)
	if err != nil {
		return err
	}
	if c.Bool("all") || c.NArg() > 1 {
		return s.sheets(c, o)
	}
	draw := answer.SheetDrawer(c.String("o"))
	if draw == nil {
		return usagef("-o %s: the file must end in .html or .pdf", c.String("o"))
	}
	cat, e, err := oneDescent(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	if o.Class == "" || catalog.HoldFor(e.Holds, o.Class) == nil {
		return usagef("sheet needs --class with one of %s", commandline.Listed(wording.Classes([]catalog.Entry{e})))
	}
	sheet, err := answer.SheetOf(c.Context, cat, &e, o)
	if err != nil {
		return err
	}
	return s.toOutput(c, func(w io.Writer) error { return draw(w, sheet, o.Paper) })
}

// sheetOptions reads the options of a page.
func sheetOptions(c *cli.Context) (answer.SheetOptions, error) {
	o := answer.SheetOptions{Class: c.String("class"), Toward: c.String("toward"), Dispatcher: c.String("dispatcher"), Note: c.String("note"), Printed: time.Now()}
	var err error
	if o.Paper, err = page.ParsePaper(c.String("paper")); err != nil {
		return o, usageError("--paper " + err.Error())
	}
	u, err := units(c)
	if err != nil {
		return o, err
	}
	if c.IsSet("units") { // else the units of the class's country
		o.Units = &u
	}
	if o.Weather, err = weather(c, false); err != nil {
		return o, err
	}
	o.Classes, err = loadClasses(c)
	return o, err
}

// sheets writes a PDF page for each descent into a folder, named after the descent
// and the class. A descent that has no answer for the class is named as a gap.
func (s *session) sheets(c *cli.Context, o answer.SheetOptions) error {
	dir := c.String("o")
	if low := strings.ToLower(dir); dir == "" || dir == "-" || strings.HasSuffix(low, ".pdf") || strings.HasSuffix(low, ".html") {
		return usagef("pages for several descents go into a folder; name it with -o, as in -o pages")
	}
	cat, err := openCatalog(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	if err := answer.CheckClass(c.Context, cat, o.Class); err != nil {
		return err
	}
	es, err := answer.Named(c.Context, cat, c.Args().Slice())
	if err == nil && c.Bool("all") {
		es, err = cat.Descents(c.Context, store.Filter{})
	}
	if err != nil {
		return err
	}
	if o.Class == "" {
		return usagef("sheet needs --class with one of %s", commandline.Listed(wording.Classes(es)))
	}
	gaps, err := answer.WriteSheets(c.Context, cat, es, dir, c.Bool("force"), o)
	if err != nil {
		return err
	}
	s.say("%d of %d pages written to %s", len(es)-len(gaps), len(es), dir)
	return s.sayGaps(gaps)
}
