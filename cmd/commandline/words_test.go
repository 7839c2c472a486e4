package commandline

import "testing"

// Quoting as POSIX has it (XCU 2.2), with the last quote open, as a line being typed is.
func TestWordsAreUnquoted(t *testing.T) {
	for typed, want := range map[string]string{`my\ file`: "my file", `"my f`: "my f", `'a\b'c`: `a\bc`, `"a\"b\c"`: `a"b\c`, `$(x)`: "$(x)", "": ""} {
		if got := unquotedWord(typed); got != want {
			t.Errorf("%s: %q, want %q", typed, got, want)
		}
	}
}
