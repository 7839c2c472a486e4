package vector

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// cleanBytes is cleanText of b as a string of its own.
func cleanBytes(b []byte) string {
	for _, c := range b {
		if c < ' ' || c >= 0x7f {
			return cleanText(string(b))
		}
	}
	return string(b)
}

// cleanText makes a text from a file safe to print: line ends and tabs become spaces;
// other control characters, characters that change the direction of writing (Unicode
// Bidi_Control) or are invisible, and broken UTF-8 become U+FFFD.
func cleanText(s string) string {
	ok := true
	for _, r := range s {
		if r == utf8.RuneError || isUnsafe(r) {
			ok = false
			break
		}
	}
	if ok {
		return s
	}
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\r' || r == '\t' || r == 0x2028 || r == 0x2029 || r == 0x85:
			return ' '
		case isUnsafe(r):
			return utf8.RuneError
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
}

// isUnsafe: Cc and Cf hold all of Bidi_Control and the zero-width characters
// but the joiners, which Persian and Indic names need, and the soft hyphen.
func isUnsafe(r rune) bool {
	if r < 0x7f {
		return r < ' '
	}
	return r != 0x200c && r != 0x200d && r != 0xad && (unicode.Is(unicode.Cc, r) || unicode.Is(unicode.Cf, r) || r == 0x2028 || r == 0x2029)
}
