package answer

import (
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/signs"
	"gradeline/catalog/specimen"
	"gradeline/routes"
)

// What an unreliable grade line says of a steep part is never stated as a sure warrant.
func TestAnUnreliablePartIsNoSureWarrant(t *testing.T) {
	rules, err := signs.FindRuleSet("us-2023")
	if err != nil {
		t.Fatal(err)
	}
	for flag, want := range map[string]signs.Verdict{routes.FlagCutByEnd: signs.Warranted, routes.FlagUnreliable: signs.CantTell} {
		part := catalog.SteepPart{SteepPart: routes.SteepPart{StartM: 1000, EndM: 1500, LengthM: 500, MeanDowngradePct: 11, MeanDowngradeErrPct: 0.5, Flags: []string{flag}},
			Route: "r", Line: specimen.Entries()[0].Line}
		a := &Signs{rules: rules}
		a.addParts(&SignPlan{Rules: rules, SteepParts: []catalog.SteepPart{part}})
		if len(a.SteepParts) != 1 || a.SteepParts[0].Warrants[0].Verdict != want || strings.Contains(a.SteepParts[0].Warrants[0].Words, "check the road") != (want == signs.CantTell) {
			t.Errorf("%s: %+v", flag, a.SteepParts)
		}
	}
}
