package commandline

import (
	"strings"

	"github.com/xrash/smetrics"
)

// mostEdits is the largest edit distance of a suggested name from the typed word.
const mostEdits = 2

// DidYouMean is ", did you mean …?" for the nearest of names, or nothing.
func DidYouMean(got string, names []string) string {
	best, nearest := mostEdits+1, ""
	for _, n := range names {
		if d := editDistance(got, n); d < best {
			best, nearest = d, n
		}
	}
	if nearest == "" {
		return ""
	}
	return ", did you mean " + nearest + "?"
}

// editDistance counts the letters to insert, delete or change (Levenshtein 1966). Texts
// whose lengths differ by more than mostEdits are not compared.
func editDistance(a, b string) int {
	if d := max(len(a)-len(b), len(b)-len(a)); d > mostEdits {
		return d
	}
	return smetrics.WagnerFischer(a, b, 1, 1, 1)
}

// Listed joins words as prose does: "a, b and c".
func Listed(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}
