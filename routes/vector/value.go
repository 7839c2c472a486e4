package vector

import (
	"fmt"
	"math"
	"strconv"
	"unicode/utf8"
)

// number reads a JSON number (RFC 8259 section 6). Up to 2^53 and 10^±22 the
// product of two exact floats is correctly rounded (Clinger 1990); beyond that
// strconv does it.
func (s *scanner) number() (float64, error) {
	if s.end-s.pos < maxNumber {
		s.need(maxNumber)
	}
	b, i := s.buf, s.pos
	neg := b[i] == '-'
	if neg {
		i++
	}
	var m uint64
	digits, exp := 0, 0
	d0 := i
	for c := b[i] - '0'; c <= 9; c = b[i] - '0' {
		m = m*10 + uint64(c)
		i++
	}
	digits = i - d0
	if digits == 0 || digits > 1 && b[d0] == '0' {
		return 0, s.unexpected("a number")
	}
	if b[i] == '.' {
		i++
		f0 := i
		for c := b[i] - '0'; c <= 9; c = b[i] - '0' {
			m = m*10 + uint64(c)
			i++
		}
		if i == f0 {
			s.pos = i
			return 0, s.unexpected("a digit")
		}
		exp = f0 - i
		digits += i - f0
	}
	if b[i] == 'e' || b[i] == 'E' {
		i++
		eneg := b[i] == '-'
		if eneg || b[i] == '+' {
			i++
		}
		e, e0 := 0, i
		for c := b[i] - '0'; c <= 9; c = b[i] - '0' {
			if e < 10000 {
				e = e*10 + int(c)
			}
			i++
		}
		if i == e0 {
			s.pos = i
			return 0, s.unexpected("a digit")
		}
		if eneg {
			e = -e
		}
		exp += e
	}
	if i == s.end && !s.eof || i-s.pos > maxNumber {
		return 0, s.fault(fmt.Sprintf("a number of more than %d characters", maxNumber), "round it to 7 decimals")
	}
	text := b[s.pos:i]
	s.pos = i
	if digits > 19 || m > 1<<53 || exp < -22 || exp > 22 {
		// Out of range gives ±Inf, which the coordinate check refuses.
		v, _ := strconv.ParseFloat(string(text), 64)
		return v, nil
	}
	v := float64(m)
	if exp < 0 {
		v /= pow10[-exp]
	} else if exp > 0 {
		v *= pow10[exp]
	}
	if neg {
		v = -v
	}
	return v, nil
}

var pow10 = func() (p [23]float64) {
	for i := range p {
		p[i] = math.Pow10(i)
	}
	return p
}()

// text reads a string and returns its bytes, unescaped; they are good until the
// next read.
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

// unescape undoes RFC 8259 section 7; half a surrogate pair becomes U+FFFD.
func (s *scanner) unescape(b []byte) ([]byte, error) {
	out := make([]byte, 0, len(b))
	for i := 0; i < len(b); i++ {
		c := b[i]
		if c != '\\' {
			out = append(out, c)
			continue
		}
		i++
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
		case 'u':
			r, ok := hex4(b[i+1:])
			if !ok {
				return nil, s.fault("bad JSON: \\u without four hexadecimal digits", "export it again")
			}
			i += 4
			if r >= 0xd800 && r < 0xdc00 && i+2 < len(b) && b[i+1] == '\\' && b[i+2] == 'u' {
				if lo, ok := hex4(b[i+3:]); ok && lo >= 0xdc00 && lo < 0xe000 {
					r = (r-0xd800)<<10 + (lo - 0xdc00) + 0x10000
					i += 6
				}
			}
			out = utf8.AppendRune(out, r)
		default:
			return nil, s.fault(fmt.Sprintf("bad JSON: escape \\%c", b[i]), "export it again")
		}
	}
	return out, nil
}

func hex4(b []byte) (rune, bool) {
	if len(b) < 4 {
		return 0, false
	}
	v, err := strconv.ParseUint(string(b[:4]), 16, 32)
	return rune(v), err == nil && b[0] != '+' && b[0] != '-'
}

// literal takes true, false, null or one of the given words.
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

// skipText keeps nothing, so a text may be of any length.
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

// members reads an object; value must take each member's value.
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

// intern returns b as a string, the same one for names that come again.
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
	return s.fault(fmt.Sprintf("nested more than %d deep", maxDepth), "this is no road data")
}

// elements reads an array; value must take each element.
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

// raw reads over a value and returns its bytes, good until the next read.
func (s *scanner) raw(depth int) ([]byte, error) {
	s.peek()
	s.hold = s.pos
	err := s.skip(depth)
	b := s.buf[s.hold:s.pos]
	s.hold = -1
	return b, err
}
