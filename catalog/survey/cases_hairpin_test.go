package survey_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

const (
	hairpinLegs   = 8
	hairpinLegM   = 350.0
	hairpinApartM = 60.0
	hairpinPct    = 7.0
	hairpinTurnM  = 3.0 // drop in a turn of 94 m
)

// hairpinHill is a hillside of eight legs at 7 %, 60 m apart, between legs a
// plane slope; the road is level before and after.
func hairpinHill(x, y float64) float64 {
	fallM := hairpinPct / 100 * hairpinLegM
	leg := func(k int) float64 {
		u := math.Max(0, math.Min(hairpinLegM, x))
		if k%2 == 1 {
			u = hairpinLegM - u
		}
		return 1000 - float64(k)*(fallM+hairpinTurnM) - hairpinPct/100*u
	}
	v := math.Max(0, math.Min(hairpinLegs-1, -y/hairpinApartM))
	k := int(math.Min(v, hairpinLegs-2))
	v -= float64(k)
	return (1-v)*leg(k) + v*leg(k+1)
}

func hairpinLine() orb.LineString {
	var line orb.LineString
	for x := -2000.0; x < 0; x += 40 {
		line = append(line, madeAt(x, 0))
	}
	for k := range hairpinLegs {
		y, r := -hairpinApartM*float64(k), hairpinApartM/2
		from, to, side := 0.0, hairpinLegM, 1.0
		if k%2 == 1 {
			from, to, side = hairpinLegM, 0, -1
		}
		line = append(line, madeAt(from, y), madeAt(to, y))
		for a := 0.2; a < math.Pi && k+1 < hairpinLegs; a += 0.2 {
			line = append(line, madeAt(to+side*r*math.Sin(a), y-r+r*math.Cos(a)))
		}
	}
	for x := -40.0; x > -2000; x -= 40 {
		line = append(line, madeAt(x, -hairpinApartM*(hairpinLegs-1)))
	}
	return line
}

const (
	hairpinLengthM = hairpinLegs*hairpinLegM + (hairpinLegs-1)*math.Pi*hairpinApartM/2
	hairpinDropM   = hairpinLegs*hairpinPct/100*hairpinLegM + (hairpinLegs-1)*hairpinTurnM
)

func oneHairpinDescent(t *testing.T, cellM float64, seed uint64) routes.Descent {
	t.Helper()
	res := surveyed(t, noisyGround(cellM, seed, hairpinHill), madeWay(1, hairpinLine()))
	if len(res.Entries) != 1 || !res.Profile.Reliable {
		t.Fatalf("%g m cells, seed %d: %d descents, want 1; %s", cellM, seed, len(res.Entries), res.Profile.Unreliable)
	}
	d := res.Entries[0].Descent
	t.Logf("%g m cells, seed %d: %.0f m of %.0f, drop %.0f m of %.0f, %.2f ± %.2f %%, ends ± %.0f m", cellM, seed, d.LengthM, hairpinLengthM,
		d.DropM, hairpinDropM, d.MeanDowngradePct, d.MeanDowngradeErrPct, d.StartErrM)
	return d
}

// Case 8: up to 30 m cells a stack of hairpins is one descent of its whole length and drop.
func TestAHairpinStackIsOneDescent(t *testing.T) {
	for _, cellM := range []float64{1, 10, 30} {
		d := oneHairpinDescent(t, cellM, 8)
		if math.Abs(d.LengthM-hairpinLengthM) > math.Hypot(d.StartErrM, d.EndErrM) {
			t.Errorf("%g m cells: %.0f m long, truth %.0f", cellM, d.LengthM, hairpinLengthM)
		}
		if math.Abs(d.DropM-hairpinDropM) > 0.06*hairpinDropM {
			t.Errorf("%g m cells: drop %.0f m, truth %.0f", cellM, d.DropM, hairpinDropM)
		}
	}
}

// Case 8, missed in part: 90 m cells mix legs 60 m apart. The stack stays one
// severe descent, but over six noises its drop comes out up to 18 % short and its
// mean up to 0.8 points low, 0.4 more than its bound says.
func TestKnownMissHairpinStackAtNinetyMetresIsEased(t *testing.T) {
	const truePct = 100 * hairpinDropM / hairpinLengthM
	leastDrop, past := 1.0, 0.0
	for seed := uint64(1); seed <= 6; seed++ {
		d := oneHairpinDescent(t, 90, seed)
		leastDrop = math.Min(leastDrop, d.DropM/hairpinDropM)
		past = math.Max(past, truePct-d.MeanDowngradePct-d.MeanDowngradeErrPct)
		if d.LengthM < 0.85*hairpinLengthM || d.MeanDowngradePct < 5 {
			t.Errorf("seed %d: %.0f m at %.2f %%: no longer severe, truth %.0f m at %.2f %%", seed, d.LengthM, d.MeanDowngradePct, hairpinLengthM, truePct)
		}
	}
	if leastDrop < 0.75 || leastDrop > 0.95 || past < 0.1 || past > 0.6 {
		t.Errorf("least drop %.2f of the truth, mean %.2f points past its bound: no longer the miss on record", leastDrop, past)
	}
}
