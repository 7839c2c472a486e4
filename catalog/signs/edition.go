package signs

import "strings"

// The use of a sign in a rule set, in addition to ListedAudited and ListedOutOfScope.
const ListedScheduled = "scheduled"

// SignTable lists every sign of the edition that the rule set knows with its use: scheduled,
// audited only or out of scope, with its source and status.
func (rs *RuleSet) SignTable() (header []string, rows [][]string) {
	header = []string{"designation", "use", "role", "what_for", "plaques", "size", "document", "section", "edition", "status", "note"}
	add := func(designation, use, role, words, plaques, key string) {
		src := rs.source(key)
		var sizes []string
		for _, z := range rs.Sizes {
			for _, d := range z.Signs {
				if strings.EqualFold(d, designation) {
					sizes = append(sizes, strings.TrimSpace(strings.Join(z.Roads, ", ")+" "+z.Words))
				}
			}
		}
		rows = append(rows, []string{designation, use, role, words, plaques, strings.Join(sizes, "; "), src.Document, src.Section, src.Edition, src.Status, src.Note})
	}
	for _, s := range rs.Signs {
		add(s.Designation, ListedScheduled, s.Role, s.Name, strings.Join(s.Plaques, " "), s.Source)
	}
	for _, l := range rs.Listed {
		add(l.Designation, l.Use, "", l.Words, "", l.Source)
	}
	return header, rows
}

// SourceTable lists the sources of the rule set with their statuses and where their texts
// differ.
func (rs *RuleSet) SourceTable() (header []string, rows [][]string) {
	header = []string{"key", "document", "section", "edition", "status", "note"}
	for _, s := range rs.Sources {
		rows = append(rows, []string{s.Key, s.Document, s.Section, s.Edition, s.Status, s.Note})
	}
	return header, rows
}
