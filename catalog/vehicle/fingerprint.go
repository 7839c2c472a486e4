package vehicle

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"

	"gradeline/catalog"
)

// Fingerprint is a checksum of every figure of a class that advice uses, without names and sources.
// Two classes with the same fingerprint give the same advice.
func (c Class) Fingerprint() string {
	v := c.View()
	v.Name, v.Sources, v.Defaults = "", nil, nil
	v.HeightM, v.LengthM, v.AxleLoadKg, v.Hazmat, v.EnginePowerW = 0, 0, 0, false, 0 // they choose roads
	raw, err := json.Marshal(v)
	if err != nil { // a figure that is not finite: no class that Validate passes
		return ""
	}
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:8])
}

// adviceRules numbers the rules that advice follows. It goes up whenever the same truck may get
// other advice on the same hill; TestAdviceRulesAreNumbered in package holding fails until it does.
const adviceRules = 9

// AdviceMark is stored with advice. It names the rules and every figure of the class that the advice
// was made with, as "2:" and the fingerprint. Catalogues from before rules were numbered hold the
// fingerprint alone.
func (c Class) AdviceMark() string { return fmt.Sprintf("%d:%s", adviceRules, c.Fingerprint()) }

// markedFigures is the fingerprint in a mark.
func markedFigures(mark string) string {
	_, figures, isNumbered := strings.Cut(mark, ":")
	if !isNumbered {
		return mark
	}
	return figures
}

// WhyStale says why a hold does not match the current classes: the figures of its class or the rules
// of advice have changed since, or were not stored with it. It is empty where the hold matches, and
// for a class that is not among them.
func WhyStale(h *catalog.Hold, classes []Class) string {
	for i := range classes {
		if classes[i].ID != h.Class {
			continue
		}
		now := classes[i].AdviceMark()
		switch {
		case h.ClassFigures == now:
			return ""
		case h.ClassFigures == "":
			return fmt.Sprintf("the figures of class %s at the time of this advice were not stored; survey again", h.Class)
		case markedFigures(h.ClassFigures) == markedFigures(now):
			return fmt.Sprintf("the advice for class %s was made under other rules than this program follows; survey again", h.Class)
		}
		return fmt.Sprintf("the figures of class %s have changed since this advice was made; survey again", h.Class)
	}
	return ""
}

// WhyAnyStale is WhyStale for all holds of a descent, in one sentence; marks are those of the
// current classes, by id.
func WhyAnyStale(holds []catalog.Hold, marks map[string]string) string {
	var changed, otherRules []string
	for i := range holds {
		now, isKnown := marks[holds[i].Class]
		switch {
		case !isKnown || now == holds[i].ClassFigures:
		case markedFigures(now) == markedFigures(holds[i].ClassFigures):
			otherRules = append(otherRules, holds[i].Class)
		default:
			changed = append(changed, holds[i].Class)
		}
	}
	switch {
	case len(changed) > 0:
		return "the advice was made with other figures than weight class " + strings.Join(changed, ", ") +
			" has now; survey again, or name the class file that it was made with (--classes)"
	case len(otherRules) > 0:
		return "the advice for weight class " + strings.Join(otherRules, ", ") +
			" was made under other rules than this program follows; survey again"
	}
	return ""
}

// AdviceMarks are the marks of classes by id.
func AdviceMarks(classes []Class) map[string]string {
	out := make(map[string]string, len(classes))
	for i := range classes {
		out[classes[i].ID] = classes[i].AdviceMark()
	}
	return out
}
