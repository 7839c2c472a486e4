package main

import (
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/signs"
)

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
	return s.answer(c, answer.NewRuleCheck(file, &rs), catalog.Metric)
}
