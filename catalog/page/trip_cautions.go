package page

import (
	"fmt"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// held are the holds of the hills that the truck holds; nil for the others.
func (t *Trip) held() []*catalog.Hold {
	out := make([]*catalog.Hold, len(t.Entries))
	for i := range t.Entries {
		if a, h, _ := wording.AnswerFor(&t.Entries[i], t.Class); a == wording.Held {
			out[i] = h
		}
	}
	return out
}

// isOnEngineDrag reports whether a hill is held without a retarder.
func (t *Trip) isOnEngineDrag() bool {
	return slices.ContainsFunc(t.held(), func(h *catalog.Hold) bool { return h != nil && h.HolderWord() != "retarder" })
}

// masses says for which masses the page is: on every hill from the highest of the lightest.
func (t *Trip) masses() string {
	up := t.both(func(u catalog.Units) string { return u.MassDown(t.MassKg) })
	lightKg := 0.0
	for _, h := range t.held() {
		if h != nil {
			lightKg = max(lightKg, h.MassLightKg)
		}
	}
	if !(lightKg > 0) || lightKg >= t.MassKg {
		return ", up to " + up
	}
	from := t.both(func(u catalog.Units) string { return massUp(lightKg, u) })
	if from == up {
		return ", at " + up + " only"
	}
	return ", for " + from + " to " + up
}

// addCautions adds what to do when speed rises, and the holds' own cautions that the page does not say
// elsewhere, each once, with its hills where it is not for all.
func (t *Trip) addCautions(p *tripPage) {
	holds := t.held()
	if slices.Contains(holds, nil) || len(holds) == 0 || len(t.View.UnknownM) > 0 {
		return // a page that gives no way down has no conditions of one
	}
	holder := "retarder on"
	if t.isOnEngineDrag() {
		holder = "foot off the fuel"
	}
	p.Rise = "If speed rises past the figure: stay in gear, " + holder + ". Service brakes: one firm application that takes off " +
		t.both(func(u catalog.Units) string { return u.Speed(firmBrakeMPS) }) + ", then release. Never drag them. If speed rises again: brake to a full stop at the first safe place while the service brakes are cool."
	var order []string
	hills := map[string][]string{}
	for i, h := range holds {
		for _, c := range h.CautionsIn(t.Units) {
			if slices.Contains(p.Cautions, c) || saidElsewhere(c) && !strings.HasPrefix(c, "In air under") {
				continue
			}
			c, _ = splitCaution(wording.Plain(c))
			if hills[c] == nil {
				order = append(order, c)
			}
			if no := fmt.Sprint(i + 1); !slices.Contains(hills[c], no) {
				hills[c] = append(hills[c], no)
			}
		}
	}
	cautions := append(slices.Clone(p.Cautions), automatedGearbox)
	for _, c := range order {
		if len(hills[c]) < len(holds) {
			c = "Hill " + strings.Join(hills[c], ", ") + ": " + c
		}
		cautions = append(cautions, c)
	}
	p.Cautions = cautions
}
