package commandline

import "strings"

// unquotedWord takes a shell's quoting off a word, whose last quote may be open. It
// runs nothing: a $ stays a $.
func unquotedWord(word string) string {
	var b strings.Builder
	quote, escaped := rune(0), false
	for _, r := range word {
		switch {
		case escaped:
			if quote == '"' && !strings.ContainsRune("\"\\$`", r) {
				b.WriteRune('\\')
			}
			b.WriteRune(r)
			escaped = false
		case r == '\\' && quote != '\'':
			escaped = true
		case r == quote:
			quote = 0
		case quote == 0 && (r == '"' || r == '\''):
			quote = r
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
