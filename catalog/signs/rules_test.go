package signs

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"gradeline/data"
	"gradeline/terrain"
)

func TestEmbeddedRuleSets(t *testing.T) {
	sets, err := RuleSets()
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"de-stvo", "haul-road", "uk-2013", "uk-2018", "us-2023", "vienna-1968"}
	if len(sets) != len(want) {
		t.Fatalf("%d sets", len(sets))
	}
	for i, rs := range sets {
		if rs.ID != want[i] || rs.Ours != (rs.ID == "haul-road") {
			t.Errorf("set %d is %q, ours %t", i, rs.ID, rs.Ours)
		}
		roles := map[string]bool{}
		for _, s := range rs.Signs {
			roles[s.Role] = true
			if src := rs.source(s.Source); src.Status == "" || src.Document == "" {
				t.Errorf("%s: %s has no source", rs.ID, s.Designation)
			}
		}
		if rs.IsJudgement != (rs.ID == "de-stvo" || rs.ID == "vienna-1968") || len(rs.Sizes) == 0 {
			t.Errorf("%s: judgement %t, %d sizes", rs.ID, rs.IsJudgement, len(rs.Sizes))
		}
		if rs.IsJudgement {
			continue // one sign ahead of the hill, and bends
		}
		for _, r := range []string{RoleAdvance, RoleRepeat, RoleSteepest, RoleCurve, RoleCheck, RoleCheckAdvance, RoleRamp, RoleRampAdvance, RolePanel} {
			if !roles[r] {
				t.Errorf("%s has no sign of role %s", rs.ID, r)
			}
		}
	}
	if _, err := FindRuleSet("mars-1"); err == nil || !strings.Contains(err.Error(), "us-2023") {
		t.Errorf("%v", err)
	}
}

// Every fault of a user's set is explained with its line and what to do.
func TestRuleSetFaults(t *testing.T) {
	good, err := data.Files.ReadFile("signs/haul-road.toml")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ was, now, says string }{
		{`schema = "gradeline-signs/1"`, `schema = "other/9"`, "line 2: schema: "},
		{`units = "metric"`, `units = "furlongs"`, `"furlongs" is not known here; use one of us, uk, metric`},
		{`grade_from = "4%"`, `grade_from = "4"`, "grade without a unit"},
		{`grade_from = "6%"`, `grade_from = "3%"`, "not above the row before"},
		{`grade_from = "6%"`, "grade_from = \"6%\"\ngrade_over = \"6%\"", "either grade_from"},
		{`longer_than = "400m"`, `longer_than = "4000m"`, "asks for more length"},
		{`longer_than = "400m"`, `longer_then = "400m"`, `unknown key "warrant.row.longer_then"`},
		{`role = "gear"`, `role = "gears"`, `"gears" is not known here`},
		{`warrant = "hill"`, `warrant = "mountain"`, `no [[warrant]] has the id "mountain"`},
		{`source = "bend"`, `source = "hearsay"`, `no [[source]] has the key "hearsay"`},
		{`status = "ours"`, `status = "certain"`, `"certain" is not known here`},
		{`default = "interpolate"`, `default = "guess"`, "none of its options"},
		{`legend = "STEEPEST {grade}%"`, `legend = "STEEPEST {slope}%"`, `"slope" is not known here`},
		{`gravity_share = 0.15`, `gravity_share = 1.5`, "not between 0 and 0.5"},
		{`every = "1km"`, `every = "1m"`, "repeats nearer than 50 m"},
		{`reaction_s = 2.5`, `reaction_s = nan`, "not a positive number"},
		{`"hill" = "grade"`, `"hill" = "colour"`, `"colour" is not known here`},
		{`[rounding]`, `[rounding`, "not readable as TOML"},
		{`name = "bench"`, `name = "seat"`, `"seat" is not known here`},
	} {
		bad := strings.Replace(string(good), c.was, c.now, 1)
		if bad == string(good) {
			t.Fatalf("%q is not in the set", c.was)
		}
		_, err := ParseRuleSet("mine.toml", strings.NewReader(bad))
		if !errors.Is(err, terrain.ErrInput) || !strings.Contains(err.Error(), c.says) || !strings.HasPrefix(err.Error(), "mine.toml: line ") {
			t.Errorf("%q: %v", c.now, err)
		}
	}
	// The line is the right one, in nested tables too.
	bad := strings.Replace(string(good), `longer_than = "200m"`+"\n[[warrant.row]]", `longer_than = "200"`+"\n[[warrant.row]]", 1)
	line := 1 + strings.Count(bad[:strings.Index(bad, `longer_than = "200"`+"\n")], "\n")
	if _, err := ParseRuleSet("mine.toml", strings.NewReader(bad)); err == nil || !strings.Contains(err.Error(), "mine.toml: line "+itoa(line)+": warrant[0].row[2].longer_than") {
		t.Errorf("line %d: %v", line, err)
	}
	// Two faults, two explanations.
	bad = strings.NewReplacer(`side = "right"`, `side = "middle"`, `every = "1km"`, `every = "fast"`).Replace(string(good))
	if _, err := ParseRuleSet("mine.toml", strings.NewReader(bad)); err == nil || strings.Count(err.Error(), "mine.toml: line ") < 2 {
		t.Errorf("%v", err)
	}
	if _, err := ParseRuleSet("big.toml", bytes.NewReader(make([]byte, maxRuleBytes+2))); !errors.Is(err, terrain.ErrInput) {
		t.Errorf("%v", err)
	}
}

func FuzzParseRuleSet(f *testing.F) {
	for _, name := range []string{"signs/haul-road.toml", "signs/uk-2013.toml", "signs/us-2023.toml"} {
		b, err := data.Files.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Add([]byte("[[warrant]]\n[[warrant.row]]\n"))
	in := passDescent()
	f.Fuzz(func(t *testing.T, b []byte) {
		rs, err := ParseRuleSet("x.toml", bytes.NewReader(b))
		if err != nil {
			if !errors.Is(err, terrain.ErrInput) {
				t.Fatalf("%v", err)
			}
			return
		}
		if s, err := Plan(in, rs); err == nil { // what is accepted can be planned with
			s.Course()
		}
	})
}
