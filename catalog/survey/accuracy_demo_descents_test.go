package survey_test

import (
	"math"
	"testing"

	"gradeline/routes"
	"gradeline/routes/descent"
	"gradeline/terrain/synth"
)

// The demonstration's roads have, in truth, the descents that it is made to show.
func TestDemoHasItsDescents(t *testing.T) {
	type want struct {
		road             string
		dir              routes.Direction
		meanPct, lengthM float64 // as laid out; curves and the 3 % ends shift both
		benches          int
		structures       int // within it
	}
	wants := []want{
		{"Veltrane Pass Road", routes.Forward, 6, 10000, 0, 0},
		{"Veltrane Pass Road", routes.Backward, 4.5, 3200, 0, 0},
		{"Old Quendrel Road", routes.Forward, 11.5, 4400, 0, 0},
		{"Old Quendrel Road", routes.Backward, 6.5, 4820, 1, 0},
		{"Brasket Gap Road", routes.Forward, 9.5, 1560, 0, 0},
		{"Brasket Gap Road", routes.Forward, 6.8, 3900, 0, 2},
	}
	found := 0
	seen := make([]bool, len(wants))
	for _, r := range demoScene().Roads {
		p := truthProfile(r)
		for _, dir := range []routes.Direction{routes.Forward, routes.Backward} {
			for _, d := range descent.Find(p, dir, descent.Options{}) {
				found++
				inside := 0
				for _, s := range r.Structures {
					if s.Flagged && s.FromM > math.Min(d.StartM, d.EndM) && s.ToM < math.Max(d.StartM, d.EndM) {
						inside++
					}
				}
				for i, w := range wants {
					if w.road == r.Name && w.dir == dir && math.Abs(d.MeanDowngradePct-w.meanPct) < 0.4 &&
						math.Abs(d.LengthM-w.lengthM) < 0.06*w.lengthM && len(d.Benches) == w.benches && inside == w.structures {
						seen[i] = true
					}
				}
				t.Logf("%s %s: %.1f m at %.2f %%, %d benches, %d structures", r.Name, dir, d.LengthM, d.MeanDowngradePct, len(d.Benches), inside)
			}
		}
	}
	for i, ok := range seen {
		if !ok {
			t.Errorf("not there: %+v", wants[i])
		}
	}
	if found != len(wants) {
		t.Errorf("%d descents, want %d", found, len(wants))
	}
}

// truthProfile is a road's true grade line on 10 m stations.
func truthProfile(r *synth.Road) *routes.Profile {
	n := max(1, int(math.Ceil(r.LengthM/10)))
	step := r.LengthM / float64(n)
	p := &routes.Profile{StepM: step, LengthM: r.LengthM, Reliable: true}
	for i := 0; i <= n; i++ {
		z := r.TruthAtM(math.Min(float64(i)*step, r.LengthM))
		p.GroundM = append(p.GroundM, z)
		p.ElevationM = append(p.ElevationM, z)
		p.State = append(p.State, routes.Measured)
		p.RadiusM = append(p.RadiusM, math.Inf(1))
		p.Points = append(p.Points, [2]float64{})
	}
	return p
}
