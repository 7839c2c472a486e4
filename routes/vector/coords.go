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
	bad   string // why it is no geometry, though good JSON; empty if it is one
}

// read takes the value of a coordinates member and appends to c.
func (c *coords) read(s *scanner, maxVertices int) error {
	c.level, c.bad = 0, ""
	if s.peek() != '[' {
		c.bad = "its coordinates are no array"
		return s.skip(1)
	}
	depth := 0
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
			c.bad = "a coordinate is no number"
			if err := s.skip(depth); err != nil {
				return err
			}
		}
		// After a value: a comma, or the ends of arrays.
		for {
			ch := s.peek()
			if ch == ',' {
				if depth == 0 {
					return nil
				}
				s.pos++
				break
			}
			if depth == 0 {
				return nil
			}
			if ch != ']' {
				return s.unexpected("',' or ']'")
			}
			s.pos++
			depth--
			if depth == c.level-2 {
				c.ends = append(c.ends, len(c.pts))
			}
			if depth == 0 {
				return nil
			}
		}
	}
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
		switch {
		case ch == '-' && s.buf[s.pos+1] == 'I', ch == 'N', ch == 'I', ch == 'n':
			// What careless writers put for a missing number; not JSON, but clear.
			for _, w := range []string{"NaN", "Infinity", "-Infinity", "null"} {
				if w[0] == ch && (ch != '-' || w[1] == 'I') {
					err = s.literal(w)
				}
			}
		case ch == '-' || ch >= '0' && ch <= '9':
			v, err = s.number()
		default:
			c.bad = "a coordinate is no number"
			err = s.skip(maxDepth - 8)
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
