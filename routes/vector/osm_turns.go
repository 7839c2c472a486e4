package vector

import (
	"slices"
	"strings"

	"gradeline/routes"
)

// osmMember is a member of a relation.
type osmMember struct {
	kind byte // 'n', 'w', 'r'
	id   int64
	role string
}

type osmTurn = routes.Turn

// turnKeys are the tags of a restriction for heavy vehicles, the most specific first (wiki,
// Relation:restriction, from memory).
var turnKeys = []string{"restriction:hgv", "restriction", "restriction:motor_vehicle", "restriction:vehicle", "restriction:goods", "restriction:hgv:conditional", "restriction:conditional"}

// addRelation keeps a turn restriction that applies to heavy vehicles. A member that is a relation
// is not followed, so relations that contain each other can't loop.
func (r *osmReader) addRelation(id int64, tags map[string]string, members []osmMember) {
	if t := tags["type"]; t != "restriction" && !strings.HasPrefix(t, "restriction:") {
		return
	}
	rule, key := "", ""
	for _, k := range turnKeys {
		if rule = tags[k]; rule != "" {
			key = k
			break
		}
	}
	if rule == "" { // for other vehicles only, as restriction:bicycle
		return
	}
	if exempt := strings.FieldsFunc(tags["except"], func(c rune) bool { return c == ';' || c == ',' || c == ' ' }); slices.Contains(exempt, "hgv") ||
		slices.Contains(exempt, "goods") || slices.Contains(exempt, "motor_vehicle") || slices.Contains(exempt, "vehicle") {
		return
	}
	t := routes.Turn{ID: id, Timed: strings.HasSuffix(key, ":conditional")}
	rule, _, _ = strings.Cut(rule, "@")
	rule = strings.TrimSpace(rule)
	t.IsOnly = strings.HasPrefix(rule, "only_")
	if !t.IsOnly && !strings.HasPrefix(rule, "no_") || !fillTurn(&t, members) {
		r.counts.add(oddTurns, id)
		return
	}
	r.turns = append(r.turns, t)
}

// fillTurn sorts the members by role; false if they make no rule.
func fillTurn(t *routes.Turn, members []osmMember) bool {
	for _, m := range members {
		switch m.role + " " + string(m.kind) {
		case "from w":
			t.FromWays = append(t.FromWays, m.id)
		case "to w":
			t.ToWays = append(t.ToWays, m.id)
		case "via w":
			t.ViaWays = append(t.ViaWays, m.id)
		case "via n":
			if t.ViaNode != 0 {
				return false
			}
			t.ViaNode = m.id
		case "from n", "from r", "to n", "to r", "via r":
			return false
		}
	}
	hasVia := (t.ViaNode != 0) != (len(t.ViaWays) > 0)
	return hasVia && len(t.FromWays) > 0 && len(t.ToWays) > 0 && (!t.IsOnly || len(t.FromWays) == 1 && len(t.ToWays) == 1)
}

// tellTurns passes on the restrictions whose ways were all kept. The prescribed way of an "only"
// rule may be of a class that was not kept; such a rule has none.
func (r *osmReader) tellTurns() {
	if r.opts.OnTurn == nil {
		return
	}
	for _, t := range r.turns {
		known, lists := true, [][]int64{t.FromWays, t.ViaWays}
		if !t.IsOnly {
			lists = append(lists, t.ToWays)
		}
		for _, list := range lists {
			for _, id := range list {
				known = known && r.seen[id]
			}
		}
		if known {
			r.opts.OnTurn(t)
		}
	}
}
