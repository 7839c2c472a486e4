package answer

import (
	"fmt"
	"io"

	"gradeline/catalog"
	"gradeline/catalog/signs"
)

// RuleCheck is what a file of sign rules without a fault holds.
type RuleCheck struct {
	Schema   string `json:"schema"`
	RuleSet  string `json:"rule_set"`
	Edition  string `json:"edition"`
	Warrants int    `json:"warrants"`
	Signs    int    `json:"signs"`
	Sources  int    `json:"sources"`

	file string
}

// NewRuleCheck is the answer for a rule set that was read from a file.
func NewRuleCheck(file string, rs *signs.RuleSet) *RuleCheck {
	return &RuleCheck{catalog.Schema, rs.ID, rs.Edition, len(rs.Warrants), len(rs.Signs), len(rs.Sources), file}
}

// WriteText writes one sentence of what is in it, and one on how to use it.
func (a *RuleCheck) WriteText(w io.Writer, _ catalog.Units) error {
	_, err := fmt.Fprintf(w, "%s (%s): %d warrants, %d signs, %d sources, no fault. Use it with --rules %s.\n", a.RuleSet, a.Edition, a.Warrants, a.Signs, a.Sources, a.file)
	return err
}
