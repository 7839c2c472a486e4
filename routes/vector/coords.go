package vector

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// coords is a coordinates member of any nesting, flat: the positions in order,
// and after each array of positions the count reached.
type coords struct {
	pts   []orb.Point
	ends  []int
	level int    // depth of a position: 1 in a Point, 2 in a LineString, 3 in a MultiLineString
	bad   string // why it is not a geometry, though good JSON; empty if it is one
}

// read takes the value of a coordinates member and appends to c.
func (c *coords) read(s *scanner, maxVertices int) error {
	c.level, c.bad = 0, ""
	if s.peek() != '[' {
		c.bad = "its coordinates are not an array"
		return s.skip(1)
	}
	depth := 0
	var err error
	for {
		switch ch := s.peek(); {
		case ch == '[':
			s.pos++
			depth++
			if depth > 8 {
				return s.tooDeep()
			}
			if ch = s.peek(); ch == '[' || ch == ']' {
				if ch == '[' {
					continue
				}
				break // an empty array closes below
			}
			if c.level == 0 {
				c.level = depth
			} else if c.level != depth {
				c.bad = "its coordinates are nested unevenly"
			}
			if len(c.pts) >= maxVertices {
				return s.fault(fmt.Sprintf("more than %d vertices in one feature", maxVertices), "split the line or raise the limit")
			}
			if err := c.position(s); err != nil {
				return err
			}
			depth--
		default:
			c.bad = "a coordinate is not a number"
			if err := s.skip(depth); err != nil {
				return err
			}
		}
		if depth, err = c.closeArrays(s, depth); depth == 0 || err != nil {
			return err
		}
	}
}

// closeArrays reads what follows a value: the ends of arrays, and the comma before the
// next value; depth is 0 once the outermost array has ended.
func (c *coords) closeArrays(s *scanner, depth int) (int, error) {
	for depth > 0 {
		switch s.peek() {
		case ',':
			s.pos++
			return depth, nil
		case ']':
			s.pos++
			depth--
			if depth == c.level-2 {
				c.ends = append(c.ends, len(c.pts))
			}
		default:
			return depth, s.unexpected("',' or ']'")
		}
	}
	return 0, nil
}

// position reads the numbers of a position up to its end bracket: longitude,
// latitude, and what may follow, which is checked and dropped.
func (c *coords) position(s *scanner) error {
	var p orb.Point
	n := 0
	for {
		v := math.NaN()
		var err error
		ch := s.buf[s.pos]
		if ch <= ' ' {
			ch = s.peek()
		}
		if ch == '-' && s.end-s.pos < 2 {
			s.need(2) // the next byte tells a number from -Infinity
		}
		if ch >= '0' && ch <= '9' || ch == '-' && s.buf[s.pos+1] != 'I' {
			v, err = s.number()
		} else {
			err = c.noNumber(s, ch)
		}
		if err != nil {
			return err
		}
		if n < 2 {
			p[n] = v
		}
		n++
		if ch = s.buf[s.pos]; ch <= ' ' {
			ch = s.peek()
		}
		switch ch {
		case ',':
			s.pos++
			continue
		case ']':
			s.pos++
		default:
			return s.unexpected("',' or ']'")
		}
		break
	}
	if n < 2 {
		c.bad = "a position has one number only"
		p[1] = math.NaN()
	}
	c.pts = append(c.pts, p)
	return nil
}

// noNumber reads a value that begins with ch in the place of a coordinate. Some writers put NaN or
// the like for a missing number, which is not JSON, but clear.
func (c *coords) noNumber(s *scanner, ch byte) error {
	for _, w := range []string{"NaN", "Infinity", "-Infinity", "null"} {
		if w[0] == ch {
			return s.literal(w)
		}
	}
	c.bad = "a coordinate is not a number"
	return s.skip(maxDepth - 8)
}
