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

// WhyStale says why a hold does not match the current classes: the figures of its class have
// changed since, or were not stored with it. It is empty where the hold matches, and for a class
// that is not among them.
func WhyStale(h *catalog.Hold, classes []Class) string {
	for i := range classes {
		if classes[i].ID != h.Class {
			continue
		}
		switch h.ClassFigures {
		case classes[i].Fingerprint():
			return ""
		case "":
			return fmt.Sprintf("the figures of class %s at the time of this advice were not stored; survey again", h.Class)
		}
		return fmt.Sprintf("the figures of class %s have changed since this advice was made; survey again", h.Class)
	}
	return ""
}

// WhyAnyStale is WhyStale for all holds of a descent, in one sentence; fingerprints are those of
// the current classes, by id.
func WhyAnyStale(holds []catalog.Hold, fingerprints map[string]string) string {
	var stale []string
	for i := range holds {
		if now, isKnown := fingerprints[holds[i].Class]; isKnown && now != holds[i].ClassFigures {
			stale = append(stale, holds[i].Class)
		}
	}
	if len(stale) == 0 {
		return ""
	}
	return "the advice was made with other figures than weight class " + strings.Join(stale, ", ") +
		" has now; survey again, or name the class file that it was made with (--classes)"
}

// Fingerprints are the fingerprints of classes by id.
func Fingerprints(classes []Class) map[string]string {
	out := make(map[string]string, len(classes))
	for i := range classes {
		out[classes[i].ID] = classes[i].Fingerprint()
	}
	return out
}
