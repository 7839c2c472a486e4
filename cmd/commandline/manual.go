package commandline

import (
	"io"
	"strings"

	"github.com/urfave/cli/v2"
)

// WriteManual writes the program's manual page in roff with the man macros (man(7)).
func (p *Program) WriteManual(w io.Writer) error {
	name := p.App.Name
	m := &roff{}
	m.line(`.TH ` + strings.ToUpper(name) + ` 1 "" "` + name + `" "User Commands"`)
	m.section("NAME")
	m.text(name + " - " + p.App.Usage)
	m.section("SYNOPSIS")
	m.line(".B " + name)
	m.line(`.I COMMAND`)
	m.text("[FLAGS] [ARGUMENTS]")
	m.section("DESCRIPTION")
	for _, t := range p.Description {
		m.text(t)
	}
	m.section("COMMANDS")
	for _, g := range p.Groups {
		m.line(".SS " + roffText(g.Title))
		for _, command := range g.Commands {
			m.item(command, p.App.Command(command).Usage)
		}
	}
	for _, g := range p.Groups {
		for _, command := range g.Commands {
			p.commandManual(m, p.App.Command(command))
		}
	}
	for _, s := range p.Sections {
		m.section(s.Title)
		for _, t := range s.Terms {
			m.item(t.Name, t.What)
		}
		for _, t := range s.Text {
			m.text(t)
		}
	}
	_, err := w.Write(m.b)
	return err
}

// commandManual is a section of the manual for one command.
func (p *Program) commandManual(m *roff, cmd *cli.Command) {
	m.section(strings.ToUpper(p.App.Name + " " + cmd.Name))
	m.text(capital(cmd.Usage) + ".")
	m.line(".PP")
	m.line(".B " + roffText(p.synopsis(cmd)))
	for _, f := range flagDocs(cmd.Flags) {
		m.item(f.spelling(), f.text())
	}
	m.line(".PP")
	m.line("Examples:")
	for _, x := range p.Examples[cmd.Name] {
		m.text(capital(x.What) + ":")
		m.line(".PP")
		m.line(".nf")
		m.line(".RS 4")
		m.line(roffText(x.Line))
		m.line(".RE")
		m.line(".fi")
	}
}

// capital writes an ASCII text's first letter large.
func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// roff collects the page's lines.
type roff struct{ b []byte }

func (m *roff) line(s string) { m.b = append(append(m.b, s...), '\n') }

func (m *roff) section(title string) { m.line(".SH " + roffText(title)) }

// text is a paragraph.
func (m *roff) text(s string) {
	if !m.isAfterHead() {
		m.line(".PP")
	}
	m.line(roffText(s))
}

// isAfterHead reports whether the last line is a request that begins a paragraph.
func (m *roff) isAfterHead() bool {
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
