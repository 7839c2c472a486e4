package main

import (
	"strings"

	"github.com/urfave/cli/v2"
)

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

// givenFlags are the flags that stand before the word being typed, with their values.
func givenFlags(cmd *cli.Command, words []string) map[string]string {
	out := map[string]string{}
	for i, w := range words {
		name, value, hasValue := strings.Cut(strings.TrimLeft(w, "-"), "=")
		f := findFlag(cmd, name)
		if !strings.HasPrefix(w, "-") || f == nil {
			continue
		}
		if !hasValue && takesValue(f) && i+1 < len(words) {
			value = words[i+1]
		}
		out[f.Names()[0]] = value
	}
	return out
}

// standing counts the words that are neither flags nor their values.
func standing(cmd *cli.Command, words []string) int {
	n := 0
	for i := 0; i < len(words); i++ {
		w := words[i]
		if !strings.HasPrefix(w, "-") || w == "-" {
			n++
		} else if f := findFlag(cmd, strings.TrimLeft(w, "-")); f != nil && takesValue(f) {
			i++
		}
	}
	return n
}
