package main

import (
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
)

func (s *session) manualCommand() *cli.Command {
	return &cli.Command{
		Name: "manual", Usage: "the manual page, made from the commands themselves",
		Action: func(c *cli.Context) error {
			if err := argCount(c, 0, 0, "no arguments"); err != nil {
				return err
			}
			return writeManual(s.out, c.App)
		},
	}
}

// writeManual writes gradeline(1) in roff with the man macros (man(7)).
func writeManual(w io.Writer, app *cli.App) error {
	m := &roff{}
	m.line(`.TH GRADELINE 1 "" "gradeline" "User Commands"`)
	m.section("NAME")
	m.text("gradeline - " + app.Usage)
	m.section("SYNOPSIS")
	m.line(".B gradeline")
	m.line(`.I COMMAND`)
	m.text("[FLAGS] [ARGUMENTS]")
	m.section("DESCRIPTION")
	m.text("From elevation rasters and a road line, gradeline finds every sustained downgrade in each direction of travel, with an honest error bound, and says for each weight class which gear, retarder stage and speed hold it with the service brakes unused, or that nothing does. The answers live in a catalogue file.")
	m.text("Flags may stand before or after arguments. A quantity carries its unit: 80000lb, 36.3t, 8%, 6mi, 40km/h. The examples run in the folder that gradeline demo leaves.")
	m.section("COMMANDS")
	for _, g := range groups {
		m.line(".SS " + roffText(g.title))
		for _, name := range g.commands {
			m.item(name, app.Command(name).Usage)
		}
	}
	for _, g := range groups {
		for _, name := range g.commands {
			m.command(app.Command(name))
		}
	}
	m.section("EXIT STATUS")
	for _, x := range []struct{ code, what string }{{"0", "done"}, {"1", "failed; one line on standard error says what, where and what to do"}, {"2", "wrong use"},
		{"3", "done, with gaps: parts missing, unreliable or skipped, each named in the answer"}, {"130", "interrupted; what was finished is kept"}} {
		m.item(x.code, x.what)
	}
	m.section("ENVIRONMENT")
	m.item("GRADELINE_CATALOG", "the catalogue where --catalog is not given")
	m.item("GRADELINE_CLASSES", "the weight classes where --classes is not given")
	m.item("GRADELINE_UNITS", "us or metric where --units is not given")
	m.section("CAUTIONS")
	for _, t := range catalog.Cautions() {
		m.text(t)
	}
	m.section("FILES")
	m.item(defaultCatalog, "the catalogue in the present folder, a GeoPackage that any GIS opens")
	_, err := w.Write(m.b)
	return err
}

// command is a section of the manual for one command.
func (m *roff) command(cmd *cli.Command) {
	m.section("GRADELINE " + strings.ToUpper(cmd.Name))
	m.text(strings.ToUpper(cmd.Usage[:1]) + cmd.Usage[1:] + ".")
	m.line(".PP")
	m.line(".B " + roffText(synopsis(cmd)))
	for _, f := range flagDocs(cmd.Flags) {
		m.item(f.spelling(), f.text())
	}
	m.line(".PP")
	m.line("Examples:")
	for _, x := range examples[cmd.Name] {
		m.text(strings.ToUpper(x.what[:1]) + x.what[1:] + ":")
		m.line(".PP")
		m.line(".nf")
		m.line(".RS 4")
		m.line(roffText(x.line))
		m.line(".RE")
		m.line(".fi")
	}
}

// roff gathers the page's lines.
type roff struct{ b []byte }

func (m *roff) line(s string) { m.b = append(append(m.b, s...), '\n') }

func (m *roff) section(title string) { m.line(".SH " + roffText(title)) }

// text is a paragraph.
func (m *roff) text(s string) {
	if !m.afterHead() {
		m.line(".PP")
	}
	m.line(roffText(s))
}

// afterHead reports whether the last line is a request that begins a paragraph.
func (m *roff) afterHead() bool {
	lines := strings.Split(strings.TrimRight(string(m.b), "\n"), "\n")
	last := lines[len(lines)-1]
	return strings.HasPrefix(last, ".SH") || strings.HasPrefix(last, ".I ") || strings.HasPrefix(last, ".B ")
}

// item is a term and what it is.
func (m *roff) item(term, what string) {
	m.line(".TP")
	m.line(".B " + roffText(term))
	m.line(roffText(what))
}

// roffText keeps a text from being read as requests or escapes; a hyphen that
// people copy stays a hyphen.
func roffText(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`, "'", `\(aq`, "`", `\(ga`, "\n", " ", "±", `\(+-`).Replace(s)
	if strings.HasPrefix(s, ".") {
		s = `\&` + s
	}
	return s
}
