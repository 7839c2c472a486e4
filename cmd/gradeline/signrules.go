package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/signs"
)

// ruleCheckAnswer is the answer of signs check --json.
type ruleCheckAnswer struct {
	Schema   string `json:"schema"`
	RuleSet  string `json:"rule_set"`
	Edition  string `json:"edition"`
	Warrants int    `json:"warrants"`
	Signs    int    `json:"signs"`
	Sources  int    `json:"sources"`
}

// signRuleFile prints the file of a rule set as a start for a new one, or reads a rule file and
// explains every fault with its line.
func (s *session) signRuleFile(c *cli.Context) error {
	if c.Args().First() == "template" {
		if c.NArg() > 1 {
			return usagef("signs template takes no argument; --rules chooses the rule set that it prints")
		}
		b, err := signs.Template(c.String("rules"))
		if err != nil {
			return err
		}
		_, err = s.out.Write(b)
		return err
	}
	if c.NArg() != 2 {
		return usagef("signs check needs the TOML file to check")
	}
	file := c.Args().Get(1)
	if !strings.HasSuffix(strings.ToLower(file), ".toml") {
		return usagef("signs check %s: a rule set's file ends in .toml", file)
	}
	rs, err := signs.OpenRuleSet(file)
	if err != nil {
		return err
	}
	a := ruleCheckAnswer{catalog.Schema, rs.ID, rs.Edition, len(rs.Warrants), len(rs.Signs), len(rs.Sources)}
	if c.Bool("json") {
		return answer.WriteJSON(s.out, a)
	}
	_, err = fmt.Fprintf(s.out, "%s (%s): %d warrants, %d signs, %d sources, no fault. Use it with --rules %s.\n", a.RuleSet, a.Edition, a.Warrants, a.Signs, a.Sources, file)
	return err
}
