package answer

import (
	"bufio"
	"bytes"
	"encoding/json"
	"io"
)

// WriteJSON writes an answer as one indented JSON object with a line end.
func WriteJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// stream writes an object piece by piece. After the first failure it writes nothing more;
// flush returns that failure.
type stream struct {
	w   *bufio.Writer
	err error
}

func newStream(w io.Writer) *stream { return &stream{w: bufio.NewWriterSize(w, 1<<16)} }

// text writes JSON text unchanged.
func (s *stream) text(t string) *stream {
	if s.err == nil {
		_, s.err = s.w.WriteString(t)
	}
	return s
}

// value writes v as JSON on one line.
func (s *stream) value(v any) *stream { return s.encode(v, "", "") }

// indented writes v as WriteJSON does, with prefix before each line after the first.
func (s *stream) indented(v any, prefix string) *stream { return s.encode(v, prefix, "  ") }

func (s *stream) encode(v any, prefix, indent string) *stream {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetIndent(prefix, indent)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil && s.err == nil {
		s.err = err
	}
	return s.text(string(bytes.TrimRight(b.Bytes(), "\n")))
}

// flush writes what is buffered.
func (s *stream) flush() error {
	if s.err != nil {
		return s.err
	}
	return s.w.Flush()
}

// notNil is an empty list for none, which JSON writes as [] and not as null.
func notNil[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}
