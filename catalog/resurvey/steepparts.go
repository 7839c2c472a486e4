package resurvey

import (
	"fmt"
	"math"
	"slices"

	"gradeline/catalog"
)

// SameSteepParts reports whether two surveys of a road have the same steep parts outside descents.
func SameSteepParts(a, b []catalog.SteepPart) bool {
	return slices.EqualFunc(a, b, func(x, y catalog.SteepPart) bool {
		return x.Direction == y.Direction && x.StartM == y.StartM && x.EndM == y.EndM &&
			x.MeanDowngradePct == y.MeanDowngradePct && x.MeanDowngradeErrPct == y.MeanDowngradeErrPct && slices.Equal(x.Flags, y.Flags)
	})
}

// SteepPartsWords sums up the steep parts of a road.
func SteepPartsWords(parts []catalog.SteepPart) string {
	if len(parts) == 0 {
		return "no steep part outside descents"
	}
	steepestPct, lengthM := 0.0, 0.0
	for i := range parts {
		steepestPct = math.Max(steepestPct, parts[i].MeanDowngradePct)
		lengthM += parts[i].LengthM
	}
	return fmt.Sprintf("steep parts outside descents: %d, together %.0f m, up to %.1f %%", len(parts), lengthM, steepestPct)
}
