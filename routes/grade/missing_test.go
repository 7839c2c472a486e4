package grade

import (
	"strings"
	"testing"

	"gradeline/routes"
	"gradeline/terrain"
)

// Gaps in which a descent can hide are doubts, ground that is none at any length;
// those at a line's end that a raster leaves are none.
func TestMissingGroundIsInDoubt(t *testing.T) {
	const n, stepM = 1001, 10.0 // 10 km
	for _, c := range []struct {
		name        string
		first, last int
		isFiller    bool
		want        bool
	}{
		{"void of 790 m", 300, 378, false, false},
		{"void of 820 m", 300, 381, false, true},
		{"void at the end", 800, 1000, false, false},
		{"filler of 110 m", 300, 310, true, true},
		{"filler at the end", 990, 1000, true, true},
	} {
		g := &routes.Ground{StepM: stepM, LengthM: stepM * (n - 1), Miss: make([]terrain.Miss, n)}
		state := make([]routes.StationState, n)
		for i := c.first; i <= c.last; i++ {
			state[i], g.Miss[i] = routes.InVoid, terrain.Void
			if c.isFiller {
				g.Miss[i] = terrain.NoGround
			}
		}
		got, missingM := missingDoubts(g, state)
		if (len(got) == 1) != c.want || c.want && (got[0].FromM != float64(c.first)*stepM-doubtMarginM || missingM != float64(c.last-c.first+1)*stepM) {
			t.Errorf("%s: %+v, %g m", c.name, got, missingM)
		}
	}
	if missingWords(1950, 10_000) != "" || !strings.Contains(missingWords(2050, 10_000), "20 %") {
		t.Error("a fifth of a line is the bound")
	}
	list := inOrder([]routes.Doubt{{FromM: 500, ToM: 900}, {FromM: 100, ToM: 300}, {FromM: 200, ToM: 600}})
	if len(list) != 1 || list[0].FromM != 100 || list[0].ToM != 900 {
		t.Errorf("%+v", list)
	}
}
