package vector

import (
	"fmt"
	"math"
	"strconv"
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
