package signs

import (
	"math"
	"testing"

	"gradeline/routes"
)

// A loaded truck rolls over at 0.35 g (from memory): 14.35 m/s on a radius of 60 m. A ramp
// stands 200 m before the curve where nobody says how far. Computed.
func TestWhereACurveRollsATruckOver(t *testing.T) {
	in := passDescent()
	in.Profile.Structures = []routes.Structure{}
	ri := RunawayInput{Descent: in.Descent, Profile: in.Profile, FromMPS: 35 * mph}
	run, err := Runaway(ri)
	if err != nil {
		t.Fatal(err)
	}
	tightest := math.Inf(1)
	for _, s := range run {
		if s.CurveMPS > 0 {
			tightest = math.Min(tightest, s.CurveMPS)
		}
	}
	if want := math.Sqrt(0.35 * 9.80665 * 60); math.Abs(tightest-want) > 1e-9 {
		t.Errorf("%g m/s at the tightest curve, want %g", tightest, want)
	}
	for _, c := range RampCandidates(ri, run, 0) {
		for _, r := range c.reasons {
			if r.curveM == 6210 && c.StationM != 6010 {
				t.Errorf("the ramp before the curve at 6,210 m stands at %g m", c.StationM)
			}
		}
	}
}
