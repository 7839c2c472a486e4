package resurvey

import "gradeline/catalog"

// IsHarder reports whether a is harder for a class than b: it is not held where b is, or only at a
// lower speed, or has no advice. With equal advice, it is harder where it is steeper within its
// bound, steeper over 500 m, longer or deeper.
func IsHarder(a, b *catalog.Entry, class string) bool {
	if d := harshness(a, class) - harshness(b, class); d != 0 {
		return d > 0
	}
	x, y := catalog.HoldFor(a.Holds, class), catalog.HoldFor(b.Holds, class)
	if x != nil && y != nil {
		switch {
		case x.SpeedMPS != y.SpeedMPS:
			return x.SpeedMPS < y.SpeedMPS
		case len(x.SurfacesOut) != len(y.SurfacesOut):
			return len(x.SurfacesOut) > len(y.SurfacesOut)
		}
	}
	p, q := &a.Descent, &b.Descent
	return p.MeanDowngradePct+p.MeanDowngradeErrPct > q.MeanDowngradePct+q.MeanDowngradeErrPct ||
		p.Steepest500Pct > q.Steepest500Pct || p.LengthM > q.LengthM || p.DropM > q.DropM
}

// harshness orders the answers for a class on a hill: held, without an answer, not held.
func harshness(e *catalog.Entry, class string) int {
	h := catalog.HoldFor(e.Holds, class)
	switch {
	case h == nil:
		return 1
	case h.Holds:
		return 0
	}
	return 2
}
