package catalog

import "testing"

// A mass that is held ends at its own, with what is to spare rounded down; one that is not
// held names the heaviest that is.
func TestHoldsUpToEndsAtTheMassAsked(t *testing.T) {
	for _, c := range []struct {
		h    Hold
		want string
		kg   float64
	}{
		{Hold{Holds: true, MassKg: 40000, HeaviestMassKg: 55599}, "40.0 t, with 38 % to spare", 40000},
		{Hold{Holds: true, MassKg: 40000, HeaviestMassKg: 40000}, "40.0 t, with 0 % to spare", 40000},
		{Hold{Holds: true, MassKg: 40000, HeaviestMassKg: 100000}, "40.0 t, with over 100 % to spare", 40000},
		{Hold{MassKg: 40000, HeaviestMassKg: 30000}, "30.0 t", 30000},
		{Hold{MassKg: 40000}, "none", 0},
	} {
		if got := c.h.HoldsUpTo(Metric); got != c.want || c.h.HoldsUpToKg() != c.kg {
			t.Errorf("%+v: %q, %g kg; want %q", c.h, got, c.h.HoldsUpToKg(), c.want)
		}
	}
}

// Where grip limits, the masses that hold are not one range, and the heaviest is no promise for those
// below.
func TestHoldsUpToWhereGripLimits(t *testing.T) {
	h := Hold{HeaviestMassKg: 20500, MassKg: 40000, LimitedBy: LimitFriction}
	if got := h.HoldsUpTo(Metric); got != "20.5 t, but not every mass below" {
		t.Error(got)
	}
	h.LimitedBy = LimitRetarder
	if got := h.HoldsUpTo(US); got != "45,100 lb" {
		t.Error(got)
	}
}
