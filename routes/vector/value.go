package vector

import (
	"fmt"
	"strconv"
	"unicode/utf8"
)

// text reads a string and returns its bytes, unescaped; they are valid until the next read.
func (s *scanner) text() ([]byte, error) {
	if err := s.expect('"'); err != nil {
		return nil, err
	}
	s.mark = s.pos
	defer func() { s.mark = -1 }()
	escaped := false
	for {
		switch c := s.buf[s.pos]; {
		case c == '"':
			b := s.buf[s.mark:s.pos]
			s.pos++
			if escaped {
				return s.unescape(b)
			}
			return b, nil
		case c == '\\':
			escaped = true
			s.pos++
			if s.pos == s.end && !s.fill() {
				return nil, s.unexpected("the end of a text")
			}
			s.pos++
		case c < ' ':
			if s.pos < s.end || !s.fill() {
				return nil, s.unexpected("the end of a text")
			}
		default:
			s.pos++
		}
	}
}

// unescape decodes the escapes of RFC 8259 section 7; half a surrogate pair becomes U+FFFD.
func (s *scanner) unescape(b []byte) ([]byte, error) {
	out := make([]byte, 0, len(b))
	for i := 0; i < len(b); i++ {
		c := b[i]
		if c != '\\' {
			out = append(out, c)
			continue
		}
		i++
		if b[i] == 'u' {
			r, n := unicodeEscape(b[i+1:])
			if n == 0 {
				return nil, s.fault("bad JSON: \\u without four hexadecimal digits", "export it again")
			}
			i += n
			out = utf8.AppendRune(out, r)
			continue
		}
		switch b[i] {
		case '"', '\\', '/':
			out = append(out, b[i])
		case 'b', 'f':
			out = append(out, ' ')
		case 'n':
			out = append(out, '\n')
		case 'r':
			out = append(out, '\r')
		case 't':
			out = append(out, '\t')
		default:
			return nil, s.fault(fmt.Sprintf("bad JSON: escape \\%c", b[i]), "export it again")
		}
	}
	return out, nil
}

// unicodeEscape reads the digits after \u, and the low surrogate after a high one. It returns the
// number of bytes used; 0 where it is not an escape.
func unicodeEscape(b []byte) (r rune, n int) {
	r, ok := hex4(b)
	if !ok {
		return 0, 0
	}
	if r >= 0xd800 && r < 0xdc00 && len(b) > 6 && b[4] == '\\' && b[5] == 'u' {
		if low, ok := hex4(b[6:]); ok && low >= 0xdc00 && low < 0xe000 {
			return (r-0xd800)<<10 + (low - 0xdc00) + 0x10000, 10
		}
	}
	return r, 4
}

func hex4(b []byte) (rune, bool) {
	if len(b) < 4 {
		return 0, false
	}
	v, err := strconv.ParseUint(string(b[:4]), 16, 32)
	return rune(v), err == nil && b[0] != '+' && b[0] != '-'
}

// literal reads true, false, null or one of the given words.
func (s *scanner) literal(word string) error {
	s.need(len(word))
	if s.end-s.pos < len(word) || string(s.buf[s.pos:s.pos+len(word)]) != word {
		return s.unexpected("a value")
	}
	s.pos += len(word)
	return nil
}

// skip reads over a value and checks it.
func (s *scanner) skip(depth int) error {
	switch c := s.peek(); c {
	case '{':
		return s.members(depth, func(string) error { return s.skip(depth + 1) })
	case '[':
		return s.elements(depth, func() error { return s.skip(depth + 1) })
	case '"':
		return s.skipText()
	case 't':
		return s.literal("true")
	case 'f':
		return s.literal("false")
	case 'n':
		return s.literal("null")
	default:
		if c != '-' && (c < '0' || c > '9') {
			return s.unexpected("a value")
		}
		_, err := s.number()
		return err
	}
}

// skipText stores nothing, so a text may be of any length.
func (s *scanner) skipText() error {
	s.pos++
	for {
		switch c := s.buf[s.pos]; {
		case c == '"':
			s.pos++
			return nil
		case c == '\\':
			s.pos++
			if s.pos == s.end && !s.fill() {
				return s.unexpected("the end of a text")
			}
			s.pos++
		case c < ' ':
			if s.pos < s.end || !s.fill() {
				return s.unexpected("the end of a text")
			}
		default:
			s.pos++
		}
	}
}

// members reads an object; value must read each member's value.
func (s *scanner) members(depth int, value func(key string) error) error {
	if depth > maxDepth {
		return s.tooDeep()
	}
	if err := s.expect('{'); err != nil {
		return err
	}
	if s.peek() == '}' {
		s.pos++
		return nil
	}
	for {
		if s.peek() != '"' {
			return s.unexpected("a name in double quotes")
		}
		b, err := s.text()
		if err != nil {
			return err
		}
		key := s.intern(b)
		if err := s.expect(':'); err != nil {
			return err
		}
		if err := value(key); err != nil {
			return err
		}
		switch s.peek() {
		case ',':
			s.pos++
		case '}':
			s.pos++
			return nil
		default:
			return s.unexpected("',' or '}'")
		}
	}
}

// intern returns b as a string, the same one for repeated names.
func (s *scanner) intern(b []byte) string {
	if v, ok := s.names[string(b)]; ok {
		return v
	}
	v := string(b)
	if len(s.names) < 4096 && len(b) <= 64 {
		s.names[v] = v
	}
	return v
}

func (s *scanner) tooDeep() error {
	return s.fault(fmt.Sprintf("nested more than %d deep", maxDepth), "use a file of road data")
}

// elements reads an array; value must read each element.
func (s *scanner) elements(depth int, value func() error) error {
	if depth > maxDepth {
		return s.tooDeep()
	}
	if err := s.expect('['); err != nil {
		return err
	}
	if s.peek() == ']' {
		s.pos++
		return nil
	}
	for {
		if err := value(); err != nil {
			return err
		}
		switch s.peek() {
		case ',':
			s.pos++
		case ']':
			s.pos++
			return nil
		default:
			return s.unexpected("',' or ']'")
		}
	}
}

// raw reads over a value and returns its bytes, valid until the next read.
func (s *scanner) raw(depth int) ([]byte, error) {
	s.peek()
	s.hold = s.pos
	err := s.skip(depth)
	b := s.buf[s.hold:s.pos]
	s.hold = -1
	return b, err
}
