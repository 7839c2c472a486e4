package catalog

import (
	"cmp"
	"slices"
)

// Heaviest returns the hold of the heaviest class, of two equally heavy the worse one; nil where no
// class has an answer.
func Heaviest(holds []Hold) *Hold {
	var best *Hold
	for i := range holds {
		h := &holds[i]
		if best == nil || h.MassKg > best.MassKg || h.MassKg == best.MassKg && worse(h, best) {
			best = h
		}
	}
	return best
}

// HoldFor returns the hold of a class, of the heaviest class for ""; nil where it has no answer.
func HoldFor(holds []Hold, class string) *Hold {
	if class == "" {
		return Heaviest(holds)
	}
	for i := range holds {
		if holds[i].Class == class {
			return &holds[i]
		}
	}
	return nil
}

// HoldsOf returns those holds that are for one of the classes.
func HoldsOf(holds []Hold, classes []string) []Hold {
	return slices.DeleteFunc(holds, func(h Hold) bool { return !slices.Contains(classes, h.Class) })
}

func worse(a, b *Hold) bool {
	if a.Holds != b.Holds {
		return !a.Holds
	}
	return a.SpeedMPS < b.SpeedMPS
}

// DangerRank is the result for the heaviest class: 0 not held, 1 no advice, 2 held.
func DangerRank(heaviest *Hold) int {
	switch {
	case heaviest == nil:
		return 1
	case !heaviest.Holds:
		return 0
	}
	return 2
}

// CompareDanger orders entries by danger: not held first, then by the
// lowest advised speed of the heaviest class, then by the largest drop, then by id.
func CompareDanger(a, b Entry) int {
	ha, hb := Heaviest(a.Holds), Heaviest(b.Holds)
	speedMPS := func(h *Hold) float64 {
		if h == nil {
			return 0
		}
		return h.SpeedMPS
	}
	return cmp.Or(cmp.Compare(DangerRank(ha), DangerRank(hb)), cmp.Compare(speedMPS(ha), speedMPS(hb)),
		cmp.Compare(b.Descent.DropM, a.Descent.DropM), cmp.Compare(a.Descent.ID, b.Descent.ID))
}
