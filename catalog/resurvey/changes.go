package resurvey

import (
	"fmt"
	"reflect"
	"sort"
	"strings"

	"gradeline/catalog"
)

// Changes lists the changes from saving one route, done or planned.
type Changes struct {
	Route      string       `json:"route"`
	Descents   []string     `json:"descents"` // the id of each entry, in the order given
	Added      []string     `json:"added"`    // new descents
	Same       []string     `json:"same"`     // found unchanged
	Updated    []string     `json:"updated"`  // figures, advice or provenance changed, within the bounds
	Moved      []Move       `json:"moved"`    // beyond the bounds
	Gone       []string     `json:"gone"`     // no longer found; kept until someone retires them
	Back       []string     `json:"back"`     // were not found before, found again
	Holds      []HoldChange `json:"holds"`    // advice that changed
	Questioned []Question   `json:"in_question"`
	At         string       `json:"-"` // equal to the route's surveyed_at
	// Stored are the entries as the catalogue holds them afterwards, in the order given, with their
	// ids and reviews. Where a new survey of a descent waits for a person, it is the old entry,
	// which is kept.
	Stored []catalog.Entry `json:"-"`
}

// Move is a descent that a new survey places elsewhere, beyond the bounds of both. Taken is false
// where a person reviewed the old one: the new survey then waits as a proposal.
type Move struct {
	ID     string  `json:"id"`
	Shifts []Shift `json:"shifts"`
	Taken  bool    `json:"taken"`
}

// HoldChange is advice that changed.
type HoldChange struct {
	ID          string  `json:"id"`
	Class       string  `json:"class"`
	OldHolds    bool    `json:"old_holds"`
	NewHolds    bool    `json:"new_holds"`
	OldGear     int     `json:"old_gear"`
	NewGear     int     `json:"new_gear"`
	OldName     string  `json:"old_gear_name"` // as on the lever or display
	NewName     string  `json:"new_gear_name"`
	OldSpeedMPS float64 `json:"old_speed_mps"`
	NewSpeedMPS float64 `json:"new_speed_mps"`
}

// Question is a review that the change puts in question, and why.
type Question struct {
	ID  string `json:"id"`
	Why string `json:"why"`
}

// Any reports whether anything but times would be written.
func (ch *Changes) Any() bool {
	return len(ch.Added)+len(ch.Updated)+len(ch.Moved)+len(ch.Gone)+len(ch.Back)+len(ch.Questioned) > 0
}

// holdChanges compares the advice of a descent class by class, in the new order.
func holdChanges(id string, old, now []catalog.Hold) []HoldChange {
	was := map[string]catalog.Hold{}
	for _, h := range old {
		was[h.Class] = h
	}
	var out []HoldChange
	for _, n := range now {
		o, ok := was[n.Class]
		if ok && (o.Holds != n.Holds || o.Gear != n.Gear || o.SpeedMPS != n.SpeedMPS) {
			out = append(out, HoldChange{id, n.Class, o.Holds, n.Holds, o.Gear, n.Gear, o.GearLabel(), n.GearLabel(), o.SpeedMPS, n.SpeedMPS})
		}
	}
	return out
}

// reasons lists in words the changes since an approval: data, class, rules, and their results.
func (p *Plan) reasons(o *Stored, e *catalog.Entry) []string {
	var out []string
	a, b := &o.Provenance, &e.Provenance
	ra, rb := append([]string{}, a.Rasters...), append([]string{}, b.Rasters...)
	sort.Strings(ra)
	sort.Strings(rb)
	if !reflect.DeepEqual(ra, rb) || a.VertDatum != b.VertDatum {
		out = append(out, "the terrain data changed")
	}
	if !p.SameLine {
		out = append(out, "the road's line changed")
	}
	if a.Rules != b.Rules {
		out = append(out, "the rules changed")
	}
	for _, h := range e.Holds {
		if sha, ok := o.ClassSHA256[h.Class]; ok && sha != p.ClassSHA256[h.Class] {
			out = append(out, fmt.Sprintf("weight class %s changed", h.Class))
		}
	}
	if why := weatherReason(o.Holds, e.Holds); why != "" {
		out = append(out, why)
	}
	if !SameFigures(o, e) {
		out = append(out, "the figures changed")
	}
	for _, h := range holdChanges("", o.Holds, e.Holds) {
		out = append(out, fmt.Sprintf("advice for %s changed from %s to %s", h.Class, adviceWords(h.OldHolds, h.OldName, h.OldSpeedMPS), adviceWords(h.NewHolds, h.NewName, h.NewSpeedMPS)))
	}
	if len(out) == 0 && len(o.Holds) != len(e.Holds) {
		out = append(out, "other weight classes were asked for")
	}
	return out
}

// weatherReason names the weather of advice that is for other weather than before; empty where none
// is.
func weatherReason(old, now []catalog.Hold) string {
	for i := range now {
		was, is := catalog.HoldFor(old, now[i].Class), now[i].Weather
		if was == nil || was.Weather == nil || is == nil || *was.Weather == *is {
			continue
		}
		return fmt.Sprintf("the advice is now for %s, before for %s", is.Words(catalog.Metric), was.Weather.Words(catalog.Metric))
	}
	return ""
}

func adviceWords(holds bool, gear string, speedMPS float64) string {
	if !holds {
		return "not held"
	}
	return fmt.Sprintf("gear %s at %s (%s)", gear, catalog.Metric.Speed(speedMPS), catalog.US.Speed(speedMPS))
}

// JoinQuestions joins the earlier questions of a review and a new one. Where they become too long, the
// later ones are in the history alone.
func JoinQuestions(had, why string) string {
	const most, more = 4000, "; and more, see its history"
	switch {
	case had == "":
		return why
	case why == "" || strings.Contains(had, why) || strings.HasSuffix(had, more):
		return had
	case len(had)+len(why) > most:
		return had + more
	}
	return had + "; " + why
}
