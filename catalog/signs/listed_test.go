package signs

import (
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
)

// Designations D5-13 to D5-16 of the 11th edition's figure 2I-6 (2023), second-hand.
func TestCheckAndChainUpAreasHaveTheEditionsSigns(t *testing.T) {
	in := passDescent()
	in.Sites = append(in.Sites, siteAt(catalog.ChainUp, "Foot of the pass", 500, routes.Forward))
	s := plan(t, in, "us-2023")
	got := map[string][]string{}
	for _, p := range s.Placements {
		got[p.Role] = append(got[p.Role], p.Designation)
	}
	for role, want := range map[string]string{RoleCheckAdvance: "D5-13", RoleCheck: "D5-14", RoleChainAdvance: "D5-15", RoleChain: "D5-16"} {
		if len(got[role]) != 1 || got[role][0] != want {
			t.Errorf("%s: %v, want %s", role, got[role], want)
		}
	}
}

func TestAnAuditKnowsTheSignsThatNoRuleSchedules(t *testing.T) {
	in := passDescent()
	s := plan(t, in, "us-2023")
	for code, says := range map[string]string{"R4-10": "RUNAWAY VEHICLES ONLY", "w7-4dp": "SAND", "W7-6": "out of scope", "X1-1": "the rule set has no sign X1-1"} {
		skipped := Unjudged(s, []Standing{{Codes: []string{code}, Values: []string{""}, StationM: 3000}}, AuditOptions{})
		if len(skipped) != 1 || !strings.Contains(skipped[0].Why, says) {
			t.Errorf("%s: %+v", code, skipped)
		}
	}
}

// 817.2 stands with 523.1 and 525 or 526, or with 554.1 and 526 (second-hand).
func TestBritishEscapeLanesStandInAnAllowedCombination(t *testing.T) {
	n := 0
	for _, s := range ruleSet(t, "uk-2013").Signs {
		if s.Role != RoleRamp && s.Role != RoleRampAdvance {
			continue
		}
		n++
		plaques := strings.Join(s.Plaques, "+")
		if s.Designation != "817.2" || plaques != "523.1+525" && plaques != "523.1+526" && plaques != "554.1+526" {
			t.Errorf("%s with %s", s.Designation, plaques)
		}
	}
	if n != 2 {
		t.Errorf("%d signs for an escape lane", n)
	}
}

// A designation of our own haul-road set is in plain words and reads as no authority's.
func TestOurOwnDesignationsArePlainWords(t *testing.T) {
	for _, s := range ruleSet(t, "haul-road").Signs {
		if strings.ContainsAny(s.Designation, "-0123456789") || s.Designation != strings.ToLower(s.Designation) {
			t.Errorf("%q reads as an authority's", s.Designation)
		}
	}
}

// Every sign of an edition that is known says what it is for, once, with a source that has
// a status; chapters 2B, 2C and 2I of the 2023 manual all have some.
func TestEverySignOfTheEditionSaysWhatItIsFor(t *testing.T) {
	sets, err := RuleSets()
	if err != nil {
		t.Fatal(err)
	}
	for i := range sets {
		header, rows := sets[i].SignTable()
		if len(rows) != len(sets[i].Signs)+len(sets[i].Listed) {
			t.Errorf("%s: %d rows", sets[i].ID, len(rows))
		}
		use := map[string]int{}
		sections := ""
		for _, r := range rows {
			use[r[1]]++
			sections += r[7] + "; "
			if len(r) != len(header) || r[3] == "" || r[6] == "" || r[9] == "" {
				t.Errorf("%s: %q", sets[i].ID, r)
			}
		}
		if sets[i].ID == "us-2023" && (use[ListedScheduled] < 15 || use[ListedAudited] < 10 || use[ListedOutOfScope] < 10 ||
			!strings.Contains(sections, "2B") || !strings.Contains(sections, "2C") || !strings.Contains(sections, "2I")) {
			t.Errorf("%v, %s", use, sections)
		}
		if _, list := sets[i].SourceTable(); len(list) != len(sets[i].Sources) {
			t.Errorf("%s: %d sources", sets[i].ID, len(list))
		}
	}
}
