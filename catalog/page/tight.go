package page

import (
	"regexp"
	"strings"
)

// tighten shortens the page to keep its profile: the cautions run on, the posted limit stands in the
// line of the hill, speeds in the list are in the page's first units, and lines lose the words that
// wrap them. It leaves out nothing that the driver does.
func (p *sheetPage) tighten() {
	p.Cautions = []string{strings.Join(p.Cautions, " ")}
	p.Facts = tightFacts(p.Facts)
	p.Rise = each(p.Rise, func(s string) string {
		return strings.Replace(s, "Too fast already: from up to ", "Too fast already: up to ", 1)
	})
	places := make([]sheetPlace, len(p.Places))
	for i, x := range p.Places {
		x.What = atMostBoth.ReplaceAllString(x.What, "$1")
		places[i] = x
	}
	p.Places = places
}

// atMostBoth is a speed in both units at the end of a line.
var atMostBoth = regexp.MustCompile(`(, at most [0-9]+ [a-z/]+) \([0-9]+ [a-z/]+\)$`)

// tightFacts joins the posted limit to the line of the hill.
func tightFacts(facts []sheetFact) []sheetFact {
	var out []sheetFact
	posted := ""
	for _, f := range facts {
		switch f.Label {
		case factPosted:
			posted = f.Text
			continue
		case factHill:
			if posted != "" {
				f.Text, posted = "Posted "+posted+". "+f.Text, ""
			}
		case factReserve:
			f.Text = strings.Replace(f.Text, " at the worst place.", " at worst.", 1)
		}
		out = append(out, f)
	}
	if posted != "" {
		out = append(out, sheetFact{factPosted, posted})
	}
	return out
}

func each(in []string, f func(string) string) []string {
	out := make([]string, len(in))
	for i, s := range in {
		out[i] = f(s)
	}
	return out
}
