package store

import (
	"fmt"
	"math"
	"strings"
	"unicode"

	"gradeline/routes"
)

// folded are Latin letters that a keyboard may lack, and what is typed for them.
var folded = strings.NewReplacer(
	"ä", "a", "á", "a", "à", "a", "â", "a", "ã", "a", "å", "a", "æ", "ae", "ç", "c", "č", "c", "ć", "c", "ď", "d", "đ", "d", "ð", "d",
	"é", "e", "è", "e", "ê", "e", "ë", "e", "ě", "e", "í", "i", "ì", "i", "î", "i", "ï", "i", "ł", "l", "ñ", "n", "ň", "n", "ń", "n",
	"ö", "o", "ó", "o", "ò", "o", "ô", "o", "õ", "o", "ø", "o", "œ", "oe", "ř", "r", "š", "s", "ś", "s", "ß", "ss", "ť", "t", "þ", "th",
	"ü", "u", "ú", "u", "ù", "u", "û", "u", "ů", "u", "ý", "y", "ÿ", "y", "ž", "z", "ź", "z", "ż", "z", "ą", "a", "ę", "e", "ğ", "g", "ı", "i", "ş", "s")

const maxSlugLen = 40

// slugOf makes a short name of a–z, 0–9 and single hyphens; "" where nothing is left.
func slugOf(name string) string {
	var b strings.Builder
	gap := false
	for _, r := range folded.Replace(strings.Map(unicode.ToLower, name)) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			if gap && b.Len() > 0 {
				b.WriteByte('-')
			}
			gap = false
			b.WriteRune(r)
		case r == '\'' || r == '’':
		default:
			gap = true
		}
		if b.Len() >= maxSlugLen {
			break
		}
	}
	return b.String()
}

// baseSlug is the short name that a route would like to have.
func (r *Route) baseSlug() string {
	for _, s := range []string{r.Name, r.Ref, r.ID} {
		if slug := slugOf(s); slug != "" {
			return slug
		}
	}
	return "route"
}

// baseID is the id that a descent would like to have: short name, direction and
// the crest's station in kilometres.
func baseID(slug string, d *routes.Descent) string {
	way := "f"
	if d.Direction == routes.Backward {
		way = "b"
	}
	return fmt.Sprintf("%s-%s-%.1f", slug, way, math.Abs(d.StartM)/1000)
}

// free gives the first of base, base+sep+"2", … that is not taken.
func free(base, sep string, taken func(string) (bool, error)) (string, error) {
	name := base
	for i := 2; ; i++ {
		used, err := taken(name)
		if err != nil || !used {
			return name, err
		}
		name = fmt.Sprintf("%s%s%d", base, sep, i)
	}
}

// distance is the Levenshtein distance, at most limit+1.
func distance(a, b string, limit int) int {
	if len(a)-len(b) > limit || len(b)-len(a) > limit {
		return limit + 1
	}
	prev, cur := make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		cur[0] = i
		for j := 1; j <= len(b); j++ {
			same := 1
			if a[i-1] == b[j-1] {
				same = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+same)
		}
		prev, cur = cur, prev
	}
	return min(prev[len(b)], limit+1)
}
