package wording

import (
	"fmt"
	"strings"

	"gradeline/catalog"
)

// PartTitle is the name of a steep part outside any descent.
func PartTitle(p *catalog.SteepPart) string {
	if name := Plain(p.Name); name != "" {
		return name
	}
	return Plain(p.Route)
}

// AnyInventedPart reports whether any of the parts is a demonstration.
func AnyInventedPart(parts []catalog.SteepPart) bool {
	for i := range parts {
		if parts[i].Provenance.Invented {
			return true
		}
	}
	return false
}

// SteepPartsNote names the limits of a list of steep parts; empty where there are none.
// unknown are the roads that were surveyed before steep parts were kept.
func SteepPartsNote(possibleM float64, unknown []string, u catalog.Units) string {
	var out []string
	if possibleM > 0 {
		out = append(out, u.LengthUp(possibleM)+" of other road may be steep parts within the bound of its grade.")
	}
	if n := len(unknown); n > 0 {
		const most = 5
		roads := strings.Join(unknown[:min(n, most)], ", ")
		if n > most {
			roads += fmt.Sprintf(" and %d more", n-most)
		}
		out = append(out, "Not known for "+Plain(roads)+": surveyed before steep parts were kept; survey them again.")
	}
	return strings.Join(out, " ")
}

// AboutSteepParts explains steep parts under a list of them.
const AboutSteepParts = "Steep parts are outside any descent: too short for one, but steep enough for a sign. No truck's advice covers them. Lengths run down the road; ± is a 95 % half-width."
