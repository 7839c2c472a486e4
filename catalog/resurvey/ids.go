package resurvey

import (
	"fmt"
	"math"
	"strings"
	"unicode"

	"gradeline/catalog"
	"gradeline/routes"
)

// folded are Latin letters that a keyboard may lack, and their usual replacements.
var folded = strings.NewReplacer(
	"ä", "a", "á", "a", "à", "a", "â", "a", "ã", "a", "å", "a", "æ", "ae", "ç", "c", "č", "c", "ć", "c", "ď", "d", "đ", "d", "ð", "d",
	"é", "e", "è", "e", "ê", "e", "ë", "e", "ě", "e", "í", "i", "ì", "i", "î", "i", "ï", "i", "ł", "l", "ñ", "n", "ň", "n", "ń", "n",
	"ö", "o", "ó", "o", "ò", "o", "ô", "o", "õ", "o", "ø", "o", "œ", "oe", "ř", "r", "š", "s", "ś", "s", "ß", "ss", "ť", "t", "þ", "th",
	"ü", "u", "ú", "u", "ù", "u", "û", "u", "ů", "u", "ý", "y", "ÿ", "y", "ž", "z", "ź", "z", "ż", "z", "ą", "a", "ę", "e", "ğ", "g", "ı", "i", "ş", "s")

const maxSlugLen = 40

// Slug makes a short name of a–z, 0–9 and single hyphens; "" where no character is left.
func Slug(name string) string {
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

// ShortName is the short name that a new route requests for the ids of its descents. Of several
// routes with one name, the second and later get "-2", "-3", … appended.
func (r *RouteRecord) ShortName() string {
	for _, s := range []string{r.Name, r.Ref, r.ID} {
		if slug := Slug(s); slug != "" {
			return slug
		}
	}
	return "route"
}

// DescentID is the preferred id of a descent: short name, direction and the crest's station in
// kilometres.
func DescentID(slug string, d *routes.Descent) string {
	way := "f"
	if d.Direction == routes.Backward {
		way = "b"
	}
	return fmt.Sprintf("%s-%s-%.1f", slug, way, math.Abs(d.StartM)/1000)
}

// Namer gives descents their ids without a catalogue: in a dry run and in a comparison. They are
// the ids of an empty catalogue.
type Namer struct{ slugs, ids map[string]bool }

// NameDescents gives each descent of a new route its id.
func (n *Namer) NameDescents(r *RouteRecord, entries []catalog.Entry) {
	if n.ids == nil {
		n.slugs, n.ids = map[string]bool{}, map[string]bool{}
	}
	slug := reserve(n.slugs, r.ShortName())
	for i := range entries {
		d := &entries[i].Descent
		d.ID = reserve(n.ids, DescentID(slug, d))
	}
}

// reserve returns the first free form of a name, and marks it as used.
func reserve(used map[string]bool, base string) string {
	name, _ := FirstFree(base, "-", func(s string) (bool, error) { return used[s], nil })
	used[name] = true
	return name
}

// FirstFree returns the first of base, base+sep+"2", … that is not used.
func FirstFree(base, sep string, taken func(string) (bool, error)) (string, error) {
	name := base
	for i := 2; ; i++ {
		used, err := taken(name)
		if err != nil || !used {
			return name, err
		}
		name = fmt.Sprintf("%s%s%d", base, sep, i)
	}
}
