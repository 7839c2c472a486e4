package signs

import "testing"

// Both invented hills give a schedule under every embedded edition, its signs
// in travel order, numbered, each with a source and a reason.
func TestScheduleIsWhole(t *testing.T) {
	for _, id := range []string{"us-2023", "uk-2013", "haul-road"} {
		for _, in := range []Input{passDescent(), quarryDescent()} {
			s := plan(t, in, id)
			if len(s.Placements) == 0 || len(s.Stretches) == 0 || len(s.Cautions) < 3 {
				t.Errorf("%s: %d signs, %d stretches, %d cautions", id, len(s.Placements), len(s.Stretches), len(s.Cautions))
			}
			for i, p := range s.Placements {
				if p.Number != i+1 || p.Why == "" || p.Source.Document == "" || p.Source.Status == "" || p.Need == "" {
					t.Errorf("%s: sign %d is not whole: %+v", id, i, p)
				}
				if i > 0 && s.line.pastM(p.StationM) < s.line.pastM(s.Placements[i-1].StationM)-1e-6 {
					t.Errorf("%s: sign %d stands before sign %d", id, i+1, i)
				}
			}
		}
	}
}
