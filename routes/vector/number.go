package vector

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/bits"
	"strconv"
)

// number reads a JSON number (RFC 8259 section 6). Up to 2^53 and 10^±22 the
// product of two exact floats is correctly rounded (Clinger 1990); beyond that
// strconv does it.
func (s *scanner) number() (float64, error) {
	if s.end-s.pos <= maxNumber { // one more than it may have, to see where it ends
		s.need(maxNumber + 1)
	}
	b, i := s.buf, s.pos
	neg := b[i] == '-'
	if neg {
		i++
	}
	exp, d0 := 0, i
	m, i := digitRun(b, i, 0)
	digits := i - d0
	if digits == 0 || digits > 1 && b[d0] == '0' {
		return 0, s.unexpected("a number")
	}
	if b[i] == '.' {
		f0 := i + 1
		if m, i = digitRun(b, f0, m); i == f0 {
			return 0, s.noDigit(i)
		}
		exp = f0 - i
		digits += i - f0
	}
	if b[i] == 'e' || b[i] == 'E' {
		e, next, ok := exponent(b, i+1)
		if i = next; !ok {
			return 0, s.noDigit(i)
		}
		exp += e
	}
	if s.isTooLong(i) {
		return 0, s.tooLong()
	}
	text := b[s.pos:i]
	s.pos = i
	if digits > 19 || !isExact(m, exp) {
		// Out of range gives ±Inf, which the coordinate check refuses.
		v, _ := strconv.ParseFloat(string(text), 64)
		return v, nil
	}
	v := scaled(m, exp)
	if neg {
		v = -v
	}
	return v, nil
}

// isExact reports whether m and 10^exp are exact as floats, so that scaled rounds once.
func isExact(m uint64, exp int) bool { return m <= 1<<53 && exp >= -22 && exp <= 22 }

// scaled is m · 10^exp for an exponent of -22 to 22.
func scaled(m uint64, exp int) float64 {
	if exp < 0 {
		return float64(m) / pow10[-exp]
	}
	return float64(m) * pow10[exp]
}

// exponent reads what follows the e of a number at b[i:]; not ok without a digit.
func exponent(b []byte, i int) (e, next int, ok bool) {
	isNegative := b[i] == '-'
	if isNegative || b[i] == '+' {
		i++
	}
	first := i
	for c := b[i] - '0'; c <= 9; c = b[i] - '0' {
		if e < 10000 {
			e = e*10 + int(c)
		}
		i++
	}
	if isNegative {
		e = -e
	}
	return e, i, i > first
}

// isTooLong reports whether the number that begins at s.pos and is read up to i has
// more characters than it may; the buffer holds one more than these.
func (s *scanner) isTooLong(i int) bool { return i == s.end && !s.eof || i-s.pos > maxNumber }

func (s *scanner) tooLong() error {
	return s.fault(fmt.Sprintf("a number of more than %d characters", maxNumber), "round it to 7 decimals")
}

// noDigit is the fault of a number that needs a digit at i.
func (s *scanner) noDigit(i int) error {
	if s.isTooLong(i) {
		return s.tooLong()
	}
	s.pos = i
	return s.unexpected("a digit")
}

// digitRun appends the decimal digits at b[i:] to m and returns the index behind
// them. It takes eight bytes at once: in each, a digit less '0' is 0 to 9, and
// pairs, then fours, then all eight are summed by multiplication.
func digitRun(b []byte, i int, m uint64) (uint64, int) {
	const ones, high = 0x0101010101010101, 0x8080808080808080
	for {
		x := binary.LittleEndian.Uint64(b[i:i+8]) ^ 0x30*ones
		n := 8
		if other := (x + 0x76*ones | x) & high; other != 0 {
			if n = bits.TrailingZeros64(other) / 8; n == 0 {
				return m, i
			}
			x <<= 64 - 8*uint(n) // leading zeros replace bytes that are not digits
		}
		x = x*10 + x>>8
		x = ((x&0x000000ff000000ff)*(100+1_000_000<<32) + (x>>16&0x000000ff000000ff)*(1+10_000<<32)) >> 32
		m = m*tens[n] + x
		i += n
		if n < 8 {
			return m, i
		}
	}
}

var tens = [9]uint64{1, 10, 100, 1000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000}

var pow10 = func() (p [23]float64) {
	for i := range p {
		p[i] = math.Pow10(i)
	}
	return p
}()
