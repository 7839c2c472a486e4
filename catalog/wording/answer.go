// Package wording turns the catalogue's content into words and figures for people:
// the answer for a class, the state of the review, the sources, names of units.
//
// The input is entries, holds and descents of package catalog, in SI; the result is
// text in US or metric units. Nothing is rounded to the unsafe side: masses, speeds and
// radii are rounded down, distances by which the driver must be ready are rounded up.
// An unknown value is the word "unknown". Every function gives the same text for the
// same input and is safe for concurrent use.
package wording

import (
	"fmt"
	"sort"
	"strings"

	"gradeline/catalog"
	"gradeline/routes"
)

// Classes lists the classes that the entries have holds for, by name.
func Classes(es []catalog.Entry) []string {
	seen := map[string]bool{}
	var out []string
	for i := range es {
		for _, h := range es[i].Holds {
			if !seen[h.Class] {
				seen[h.Class] = true
				out = append(out, h.Class)
			}
		}
	}
	sort.Strings(out)
	return out
}

// AnswerWords is the answer in a word or two, with its restriction.
func AnswerWords(a Answer, h *catalog.Hold) string {
	if a == Held && h.IsDryRoadOnly() {
		return a.String() + ", " + catalog.DryRoadOnly
	}
	return a.String()
}

// HoldWords says in a few words what a class can do on an entry.
func HoldWords(e *catalog.Entry, classID string, u catalog.Units) string {
	switch a, h, why := AnswerFor(e, classID); a {
	case Held:
		s := fmt.Sprintf("holds: gear %s, %s, %s", h.GearLabel(), h.StageWords(), u.Speed(h.SpeedMPS))
		if h.IsDryRoadOnly() {
			s = catalog.DryRoadOnly + ", " + s
		}
		return IfInQuestion(e) + s
	case NotHeld:
		return "NOT HELD"
	default:
		return "unknown: " + why
	}
}

// IfInQuestion is what stands in front of an answer that holds where the entry is in
// question, as for a truck whose figures have changed since; else empty.
func IfInQuestion(e *catalog.Entry) string {
	if e.Review.InQuestion != "" {
		return "IN QUESTION, "
	}
	return ""
}

// WithoutMass drops a mass at the end of a class's name: the page says its own.
func WithoutMass(label string) string {
	if i := strings.LastIndex(label, ", "); i > 0 {
		if _, err := catalog.MassKg(label[i+2:]); err == nil {
			return label[:i]
		}
	}
	return label
}

// StageName writes a retarder stage; stage 0 is "off".
func StageName(stage int) string {
	if stage == 0 {
		return "off"
	}
	return fmt.Sprint(stage)
}

// Answer is the answer for a class on a descent. The zero value is Unknown.
type Answer uint8

// The three answers.
const (
	Unknown Answer = iota // no hold computed, or one from an unreliable profile
	Held
	NotHeld
)

func (a Answer) String() string {
	switch a {
	case Held:
		return "holds"
	case NotHeld:
		return "NOT HELD"
	}
	return "unknown"
}

// AnswerFor says whether a class holds on an entry, with its hold (nil where none was computed)
// and, where the answer is Unknown, why.
//
// A hold from a profile flagged unreliable counts as Unknown until the descent is field-checked: no
// driver should be sent down on it.
func AnswerFor(e *catalog.Entry, classID string) (a Answer, h *catalog.Hold, why string) {
	for i := range e.Holds {
		if e.Holds[i].Class == classID {
			h = &e.Holds[i]
			break
		}
	}
	switch {
	case h == nil:
		return Unknown, nil, "no hold was computed for this class"
	case !h.Holds:
		return NotHeld, h, ""
	case e.Descent.HasFlag(routes.FlagUnreliable) && !IsFieldChecked(e):
		return Unknown, h, "the profile under it is unreliable and not field-checked"
	}
	return Held, h, ""
}

// FlagWords says a descent's flags in a sentence each.
func FlagWords(flags []string) []string {
	var out []string
	for _, f := range flags {
		switch f {
		case routes.FlagBorderline:
			f = "Borderline: within its bounds it may be shorter or flatter than the thresholds."
		case routes.FlagUnreliable:
			f = "Unreliable: the grade line may not follow the road. Check before use."
		case routes.FlagInterpolated:
			f = "More than a quarter has no measured ground under it."
		case routes.FlagAgainstOneWay:
			f = "Against the direction that this one-way road allows."
		case routes.FlagCutByEnd:
			f = "Cut by the end of the line or of its terrain: the hill may continue."
		}
		out = append(out, f)
	}
	return out
}
