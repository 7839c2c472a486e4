package signs

import (
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
)

// A street that is no descent can warrant a hill sign: 8 % over more than 750 ft does by
// the United States' rows (second-hand), over less it does not.
func TestSteepPartsOutsideDescentsAreJudged(t *testing.T) {
	part := func(lengthM, meanPct, errPct float64) []routes.SteepPart {
		return []routes.SteepPart{{StartM: 100, EndM: 100 + lengthM, LengthM: lengthM, MeanDowngradePct: meanPct, MeanDowngradeErrPct: errPct}}
	}
	us := ruleSet(t, "us-2023")
	for _, c := range []struct {
		parts []routes.SteepPart
		want  Verdict
		row   string
	}{
		{part(751*catalog.FootM, 8.4, 0.3), Warranted, "8 %"}, {part(750*catalog.FootM, 8.4, 0.3), "", ""}, {part(500, 6.2, 0.1), "", ""},
		{part(501*catalog.FootM, 9.2, 0.1), Warranted, "9 %"}, {part(900*catalog.FootM, 8.1, 0.3), CantTell, "8 %"}, {part(1200*catalog.FootM, 7.2, 0.1), Warranted, "7 %"},
		{part(90, 14, 0.1), "", ""}, {part(3001*catalog.FootM, 5.2, 0.1), Warranted, "5 %"},
	} {
		got := WarrantsOfParts(c.parts, us)
		if c.want == "" {
			if len(got) != 0 {
				t.Errorf("%+v: %+v", c.parts, got)
			}
			continue
		}
		if len(got) != 1 || got[0].Verdict != c.want || !strings.HasPrefix(got[0].Row, c.row) || !strings.Contains(got[0].Words, "us-2023") {
			t.Errorf("%+v: %+v, want %s", c.parts, got, c.want)
		}
	}
	if got := WarrantsOfParts(part(500, 8.2, 0.1), ruleSet(t, "de-stvo")); len(got) != 1 || got[0].Verdict != Candidate {
		t.Errorf("%+v", got)
	}
}
