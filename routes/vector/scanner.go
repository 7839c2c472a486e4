package vector

import (
	"bytes"
	"context"
	"fmt"
	"io"

	"gradeline/routes"
	"gradeline/terrain"
)

const (
	bufferBytes = 256 << 10
	maxToken    = 1 << 20 // longest text, and longest structures member, that is kept
	maxNumber   = 128     // longest number, characters
	maxDepth    = 64      // deepest nesting
	slack       = 16      // readable bytes behind the window
)

// scanner is a window that moves over a stream of JSON texts. buf[end] is always
// a zero byte, so that loops over bytes stop at the end of the window.
type scanner struct {
	ctx      context.Context
	file     string
	r        io.Reader
	buf      []byte
	pos, end int
	mark     int   // fill keeps the bytes from here on, for text; -1 is none
	hold     int   // the same for raw
	base     int64 // offset of buf[0] in the stream
	lines    int   // line ends before buf[0]
	feature  int   // feature being read, from 1; 0 before the first
	eof      bool
	err      error // the error that stopped the reading, if any
	names    map[string]string
}

func newScanner(ctx context.Context, file string, r io.Reader) *scanner {
	return &scanner{ctx: ctx, file: file, r: r, buf: make([]byte, bufferBytes+slack), mark: -1, hold: -1,
		names: make(map[string]string)}
}

// fill reads more; false means the end.
func (s *scanner) fill() bool {
	if s.eof || s.err != nil {
		return false
	}
	if err := s.ctx.Err(); err != nil {
		s.err = err
		return false
	}
	keep := s.pos
	if s.mark >= 0 {
		keep = s.mark
	}
	if s.hold >= 0 {
		keep = min(keep, s.hold)
	}
	if keep > 0 {
		s.lines += bytes.Count(s.buf[:keep], []byte{'\n'})
		copy(s.buf, s.buf[keep:s.end])
		s.base += int64(keep)
		s.pos -= keep
		s.end -= keep
		s.mark = max(-1, s.mark-keep)
		s.hold = max(-1, s.hold-keep)
	}
	if s.end == len(s.buf)-slack {
		if s.end >= maxToken {
			s.err = s.fault(fmt.Sprintf("a text of more than %d bytes", maxToken), "shorten or drop that property")
			return false
		}
		s.buf = append(s.buf, make([]byte, len(s.buf)-slack)...)
	}
	for range 100 {
		n, err := s.r.Read(s.buf[s.end : len(s.buf)-slack])
		s.end += n
		s.buf[s.end] = 0
		if err == io.EOF {
			s.eof = true
		} else if err != nil {
			s.err = &routes.Fault{Kind: terrain.ErrRead, File: s.file, Feature: s.where(), Err: err}
		}
		if n > 0 {
			return true
		}
		if err != nil {
			return false
		}
	}
	s.err = &routes.Fault{Kind: terrain.ErrRead, File: s.file, Err: io.ErrNoProgress}
	return false
}

// need tries to have n bytes in the window.
func (s *scanner) need(n int) {
	for s.end-s.pos < n && s.fill() {
	}
}

// peek skips white space and returns the next byte without consuming it; 0 at the end.
func (s *scanner) peek() byte {
	for {
		switch c := s.buf[s.pos]; c {
		case ' ', '\n', '\r', '\t':
			s.pos++
		case 0:
			if s.pos < s.end || !s.fill() {
				return 0
			}
		default:
			return c
		}
	}
}

// expect consumes the byte c after white space.
func (s *scanner) expect(c byte) error {
	if s.peek() != c {
		return s.unexpected("'" + string(c) + "'")
	}
	s.pos++
	return nil
}

func (s *scanner) where() string {
	line := s.lines + bytes.Count(s.buf[:s.pos], []byte{'\n'}) + 1
	at := fmt.Sprintf("line %d, byte %d", line, s.base+int64(s.pos))
	if s.feature > 0 {
		return fmt.Sprintf("feature %d, %s", s.feature, at)
	}
	return at
}

// fault is bad input at the place reached; a read error that came first wins.
func (s *scanner) fault(what, fix string) error {
	if s.err != nil {
		return s.err
	}
	return &routes.Fault{Kind: terrain.ErrInput, File: s.file, Feature: s.where(), What: what, Fix: fix}
}

func (s *scanner) unexpected(want string) error {
	c := s.buf[s.pos]
	switch {
	case s.pos >= s.end:
		return s.fault("the file ends where "+want+" is needed", "it looks truncated: download or export it again")
	case c == 0xff || c == 0xfe || c == 0:
		return s.fault(fmt.Sprintf("byte 0x%02x where %s is needed", c, want), "save it as UTF-8 text")
	}
	return s.fault(fmt.Sprintf("bad JSON: %q where %s is needed", rune(c), want), "check it with a JSON tool or export it again")
}
