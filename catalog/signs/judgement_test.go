package signs

import (
	"bytes"
	"strings"
	"testing"
)

// Germany and the Vienna Convention have no numeric warrant: VwV-StVO on signs 108 and
// 110 goes by what road users can see and may underestimate (second-hand). Nothing is
// called warranted, missing or superfluous by figures; candidates carry their figures.
func TestJudgementListsCandidates(t *testing.T) {
	for id, code := range map[string]string{"de-stvo": "108", "vienna-1968": "A,2a"} {
		s := plan(t, hillOf(0.3, 2500, 7.2), id)
		if len(s.Stretches) != 1 || s.Stretches[0].Verdict != Candidate || s.Stretches[0].MeanPct < 7 {
			t.Errorf("%s: %v", id, s.Stretches)
		}
		found := false
		for _, p := range s.Placements {
			found = found || p.Designation == code && p.Need == NeedCandidate && p.AheadM >= 150
			if p.Need == NeedWarranted || p.Need == NeedCantTell {
				t.Errorf("%s: %s is %s", id, p.Designation, p.Need)
			}
		}
		notes := strings.Join(s.Notes, "\n")
		if !found || !strings.Contains(notes, "7.2 ± ") || !strings.Contains(notes, "an engineer judges") {
			t.Errorf("%s: %v, %s", id, found, notes)
		}
		if got := AuditStanding(s, nil, AuditOptions{}); len(got) != 0 {
			t.Errorf("%s: a candidate is missing: %+v", id, got)
		}
		posted(t, &s, PostOptions{})
		for _, p := range s.Posts {
			if p.Action != ActionDecide && p.Faces[0].Need != NeedCurve {
				t.Errorf("%s: post %d is to %s", id, p.Number, p.Action)
			}
		}
		s = plan(t, hillOf(0.3, 2500, 2), id)
		if s.Stretches[0].Verdict != NotListed || len(s.Placements) > 1 || !strings.Contains(strings.Join(s.Notes, "\n"), "not a criterion of") {
			t.Errorf("%s: %v, %d signs", id, s.Stretches, len(s.Placements))
		}
	}
}

// Sign 108 stands 150 to 250 m before the hill outside built-up areas (StVO 40 (2), from memory).
func TestPlacingInGermany(t *testing.T) {
	rs, err := FindRuleSet("de-stvo")
	if err != nil {
		t.Fatal(err)
	}
	for kmh, wantM := range map[float64]float64{30: 150, 50: 150, 75: 200, 100: 250, 120: 250} {
		if d := rs.Placement.Advance(kmh/3.6, 0, 0); d.LengthM != wantM {
			t.Errorf("%g km/h: %+v, want %g m", kmh, d, wantM)
		}
	}
}

// Sign 817.2 stands only with 523.1 and 525 or 526, or with 554.1 and 526 (Traffic Signs
// Manual chapter 4, 2013, beside paragraph 6.9; second-hand).
func TestEscapeLaneCombinations(t *testing.T) {
	for _, id := range []string{"uk-2013", "uk-2018"} {
		b, err := Template(id)
		if err != nil {
			t.Fatal(err)
		}
		rs, err := ParseRuleSet(id, bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			with []string
			ok   bool
		}{{[]string{"523.1", "525"}, true}, {[]string{"526", "523.1"}, true}, {[]string{"554.1", "526"}, true},
			{[]string{"554.1", "525"}, false}, {[]string{"523.1"}, false}, {nil, false}, {[]string{"523.1", "525", "526"}, false}} {
			if got := rs.Combinations[0].allows(c.with); got != c.ok {
				t.Errorf("%s: 817.2 with %v: %t", id, c.with, got)
			}
		}
		bad := strings.Replace(string(b), `plaques = ["554.1", "526"]`, `plaques = ["554.1", "525"]`, 1)
		if _, err := ParseRuleSet(id, strings.NewReader(bad)); err == nil || !strings.Contains(err.Error(), "not a combination") || !strings.Contains(err.Error(), "line ") {
			t.Errorf("%s: %v", id, err)
		}
	}
}

// What the files say about roads and sizes is checked, each fault with its line.
func TestRoadsAndSizesAreChecked(t *testing.T) {
	b, err := Template("us-2023")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ from, to, want string }{
		{`id = "multi-lane"`, `id = "conventional"`, "occurs twice"},
		{`roads = ["conventional"]`, `roads = ["lane"]`, `no [[road]] has the id "lane"`},
		{`size = "30 x 30 in"`, `size = ""`, "size[0].size"},
		{`signs = ["W7-4c"]`, `signs = []`, "no designation"},
		{`offset = "12ft"`, `offset = "12"`, "road[0].offset"},
		{`units = "us"`, "units = \"us\"\nmode = \"guess\"", `"guess" is not known here`},
		{`units = "us"`, "units = \"us\"\nwarning_shape = \"star\"", `"star" is not known here`},
	} {
		_, err := ParseRuleSet("own.toml", strings.NewReader(strings.Replace(string(b), c.from, c.to, 1)))
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "line ") {
			t.Errorf("%s: %v", c.to, err)
		}
	}
}
