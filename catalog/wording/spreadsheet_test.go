package wording

import "testing"

// Text that starts as OWASP's "CSV Injection" lists it (=, +, -, @, tab, carriage
// return, line feed, and the full-width forms; from memory), and text that does not.
func TestSpreadsheetText(t *testing.T) {
	for in, want := range map[string]string{
		"=1+1":               "'=1+1",
		"+1":                 "'+1",
		"-1":                 "'-1",
		"@SUM(A1)":           "'@SUM(A1)",
		"＝cmd|calc":          "'＝cmd|calc",
		"＋1":                 "'＋1",
		"－1":                 "'－1",
		"＠SUM(A1)":           "'＠SUM(A1)",
		"﹦1":                 "'﹦1",
		" =1":                "' =1",
		"\t=1":               "'\t'=1",
		"\r=1":               "'\r'=1",
		"\r\n=1":             "'\r\n'=1",
		"\u00a0\u3000＝1":     "'\u00a0\u3000＝1",
		"\ufeff=1":           "'\ufeff=1",
		"\u200b@x":           "'\u200b@x",
		"\x00=1":             "'\x00=1",
		"'=1":                "''=1",
		"Route;=cmd|calc":    "Route;'=cmd|calc",
		"Route; ＝cmd":        "Route; '＝cmd",
		"Route\n-1":          "Route\n'-1",
		"":                   "",
		"Harrow Hill Road":   "Harrow Hill Road",
		"US 6; mile 5":       "US 6; mile 5",
		"A = B":              "A = B",
		"old-quendrel-road":  "old-quendrel-road",
		"Ōmori pass − north": "Ōmori pass − north",
	} {
		if got := SpreadsheetText(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
