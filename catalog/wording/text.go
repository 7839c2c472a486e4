package wording

import (
	"fmt"
	"strings"
	"unicode"

	"golang.org/x/text/width"
)

// Columns is the number of terminal columns that a text needs: two for each wide
// character of East Asian writing, none for combining marks.
func Columns(s string) int {
	n := 0
	for _, r := range s {
		switch k := width.LookupRune(r).Kind(); {
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf):
		case k == width.EastAsianWide || k == width.EastAsianFullwidth:
			n += 2
		default:
			n++
		}
	}
	return n
}

// Wrapped breaks text that begins in column indentCols into lines of at most so
// many columns, each but the first indented by indentCols.
func Wrapped(s string, mostCols, indentCols int) string {
	in := strings.Repeat(" ", indentCols)
	return strings.TrimPrefix(Wrap(s, mostCols, in, in), in)
}

// Wrap breaks text at spaces into lines of at most so many characters.
func Wrap(s string, most int, first, rest string) string {
	var lines []string
	cur, indent := first, first
	for _, word := range strings.Fields(s) {
		if Columns(cur)+1+Columns(word) > most && cur != indent {
			lines, cur, indent = append(lines, cur), rest, rest
		}
		if cur != indent {
			cur += " "
		}
		cur += word
	}
	return strings.Join(append(lines, cur), "\n")
}

// Plain makes text safe to print anywhere: line breaks and tabs become spaces;
// control characters and characters that turn the direction of writing, which
// can make a name read as another, become a visible replacement.
func Plain(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == '\r' || r == '\u2028' || r == '\u2029':
			return ' '
		case unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == '\uFFFE' || r == '\uFFFF': // the last two no XML may hold
			return '\uFFFD'
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
}

// OneLine keeps a text to one line: control characters and characters that turn the
// direction of writing become spaces.
func OneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) {
			return ' '
		}
		return r
	}, strings.TrimSpace(s))
}

// Counted is "1 road" or "2 roads".
func Counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// WithoutMiddle cuts a text of more than some kilobytes in its middle, where a name may be: the
// beginning says what it is about, the end what to do.
func WithoutMiddle(s string) string {
	const most, kept = 6000, 2500 // bytes
	if len(s) <= most {
		return s
	}
	return strings.ToValidUTF8(s[:kept], "") + " … " + strings.ToValidUTF8(s[len(s)-kept:], "")
}

// Shortened cuts a text that takes more columns than most, and marks the cut.
func Shortened(s string, most int) string {
	if len(s) <= most {
		return s
	}
	cols := 0
	for i, r := range s {
		if cols += Columns(string(r)); cols >= most {
			return s[:i] + "…"
		}
	}
	return s
}
