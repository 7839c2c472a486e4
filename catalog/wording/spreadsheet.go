package wording

import (
	"regexp"
	"strings"
	"unicode"
)

// formulaStarts are the characters that make a spreadsheet read a cell as a formula, with their
// full-width and small forms, which some spreadsheets treat alike (OWASP, "CSV Injection", from
// memory).
const formulaStarts = "=+-@＝＋－＠﹦﹢﹣﹫"

// laterFormula is a formula that begins after a character at which a spreadsheet may split a cell:
// a semicolon where the comma is the decimal sign, a tab, a new line.
var laterFormula = regexp.MustCompile("([;\t\r\n][ \u00A0\u3000]*)([" + regexp.QuoteMeta(formulaStarts) + "])")

var sharedEscape = regexp.MustCompile(`(_x[0-9A-Za-z]{4}_)(x[0-9A-Za-z]{4}_)`)

// SpreadsheetText makes text safe for a cell that a spreadsheet opens: text that would
// run as a formula gets an apostrophe before it, and so does text that begins with an
// apostrophe, so that both can be distinguished. Spaces, tabs, line ends and invisible
// characters before the formula do not hide it. Two escapes of a workbook (ECMA-376 part 1, 22.9.2.19) that
// share an underscore are set apart by a space: the library that writes workbooks leaves the second as it is.
func SpreadsheetText(s string) string {
	for sharedEscape.MatchString(s) {
		s = sharedEscape.ReplaceAllString(s, "$1 $2")
	}
	first := strings.TrimLeftFunc(s, func(r rune) bool {
		return unicode.IsSpace(r) || unicode.IsControl(r) || unicode.Is(unicode.Cf, r)
	})
	if strings.HasPrefix(s, "'") || strings.IndexAny(first, formulaStarts) == 0 {
		return "'" + laterFormula.ReplaceAllString(s, "$1'$2")
	}
	return laterFormula.ReplaceAllString(s, "$1'$2")
}
