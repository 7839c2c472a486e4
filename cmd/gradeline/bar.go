package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"golang.org/x/term"
)

// progress counts on one line, only on a terminal.
type progress struct {
	w      io.Writer
	what   string
	on     bool
	shown  int64     // by share
	lineAt time.Time // of the last line that was not on a terminal
}

func (s *session) newProgress(what string) *progress {
	f, ok := s.err.(*os.File)
	return &progress{w: s.err, what: what, on: ok && term.IsTerminal(int(f.Fd())) && os.Getenv("TERM") != "dumb"}
}

func (p *progress) step(done int) {
	if p.on {
		fmt.Fprintf(p.w, "\r%s: %d", p.what, done)
	}
}

// share shows the share of the input that is read, in whole per cent; the megabytes where the total
// is not known.
func (p *progress) share(done, total int64) {
	now, unit := done>>20, "MB"
	if total > 0 {
		now, unit = 100*done/total, "%"
	}
	if p.on && now != p.shown {
		p.shown = now
		fmt.Fprintf(p.w, "\r%s: %d %s", p.what, now, unit)
	}
}

// line shows a line of words: at once on a terminal, else from time to time.
func (p *progress) line(words string) {
	switch {
	case p.on:
		fmt.Fprintf(p.w, "\r\033[K%s", words)
	case time.Since(p.lineAt) >= longLineEvery:
		fmt.Fprintln(p.w, words)
		p.lineAt = time.Now()
	}
}

func (p *progress) end() {
	if p.on {
		fmt.Fprint(p.w, "\r\033[K")
	}
}
