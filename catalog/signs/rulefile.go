package signs

import (
	"strings"

	"gradeline/catalog/wholefile"
)

// OpenRuleSet finds a built-in rule set by its id, or reads one from a TOML file by its path.
func OpenRuleSet(name string) (RuleSet, error) {
	if !strings.HasSuffix(strings.ToLower(name), ".toml") {
		return FindRuleSet(name)
	}
	f, err := wholefile.Open(name, "name a TOML file, or one of us-2023, uk-2013, haul-road")
	if err != nil {
		return RuleSet{}, err
	}
	defer f.Close()
	return ParseRuleSet(name, f)
}
