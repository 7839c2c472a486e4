package main

import (
	"fmt"
	"io"
	"os"

	"github.com/urfave/cli/v2"
	"golang.org/x/term"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/store"
	"gradeline/catalog/wholefile"
	"gradeline/catalog/wording"
)

// answer writes a command's answer: one JSON object, or text for people.
func (s *session) answer(c *cli.Context, a answer.Answer, u catalog.Units) error {
	if c.Bool("json") {
		return answer.WriteJSON(s.out, a)
	}
	return a.WriteText(s.out, u)
}

// answerChange is answer for a change that is stored in a catalogue.
func (s *session) answerChange(c *cli.Context, a answer.Answer, u catalog.Units, storedIn string) error {
	s.stored = storedIn
	return s.answer(c, a, u)
}

// checkedOut is standard output that remembers write errors, so that a full disk never passes for
// success.
type checkedOut struct {
	w   io.Writer
	err error
}

func (o *checkedOut) Write(b []byte) (int, error) {
	if o.err != nil {
		return 0, o.err
	}
	n, err := o.w.Write(b)
	o.err = err
	return n, err
}

// Columns is the width of the terminal, or 0 where standard output is not a terminal.
func (o *checkedOut) Columns() int {
	f, ok := o.w.(*os.File)
	if !ok {
		return 0
	}
	cols, _, err := term.GetSize(int(f.Fd()))
	if err != nil {
		return 0
	}
	return cols
}

// toOutput writes to -o as a complete file, or to standard output.
func (s *session) toOutput(c *cli.Context, write func(io.Writer) error) error {
	path := c.String("o")
	if path == "" || path == "-" {
		return write(s.out)
	}
	return s.writeTo(c, path, write)
}

// writeTo writes a complete file, never one that the command reads.
func (s *session) writeTo(c *cli.Context, path string, write func(io.Writer) error) error {
	if err := notAnInput(c, path); err != nil {
		return err
	}
	if err := wholefile.WriteFile(path, c.Bool("force"), write); err != nil {
		return err
	}
	s.say("wrote %s", path)
	return nil
}

// openInput opens a file for reading, or standard input for "-". fix says which file is expected.
func (s *session) openInput(file, fix string) (io.ReadCloser, error) {
	if file == "-" {
		return io.NopCloser(s.in), nil
	}
	return wholefile.Open(file, fix)
}

// notAnInput refuses an output that is the catalogue or another file that the
// command reads: --force is for earlier outputs.
func notAnInput(c *cli.Context, path string) error {
	out, err := os.Stat(path)
	if err != nil {
		return nil // nothing there to lose
	}
	inputs := append([]string{c.String("catalog"), c.String("classes"), c.String("standing"), c.String("rules")}, c.Args().Slice()...)
	for _, in := range append(inputs, c.StringSlice("terrain")...) {
		if info, err := os.Stat(in); in != "" && err == nil && os.SameFile(out, info) {
			return usagef("%s is read by this command; write to another file", path)
		}
	}
	return nil
}

// say writes a message for people to the error stream. Whatever it quotes, it shows no password.
func (s *session) say(format string, a ...any) {
	fmt.Fprintf(s.err, "%s\n", wording.WithoutMiddle(wording.OneLine(store.WithoutPasswords(fmt.Sprintf(format, a...)))))
}

// sayError writes the error that ends the command.
func (s *session) sayError(err error) { s.say("gradeline: %v", err) }
