package vehicle

// CurvePoint is one point of a power curve.
type CurvePoint struct{ RPM, PowerW float64 }

// Curve is power against engine speed, by rising speed.
type Curve []CurvePoint

// PowerW returns the power at an engine speed between the first and last point.
// Outside them it returns 0: a curve says nothing beyond its ends.
//
// Between points it takes the lower of a straight line in power and a straight
// line in torque. For a power that goes as any n^p with 0 ≤ p ≤ 2 the lower of
// the two never lies above the truth.
func (c Curve) PowerW(rpm float64) float64 {
	const slack = 1e-9 // of the speed: an end reached through a ratio is the end
	n := len(c)
	if n == 0 || !(rpm >= c[0].RPM*(1-slack)) || rpm > c[n-1].RPM*(1+slack) {
		return 0
	}
	lo, hi := 0, n-1
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; c[mid].RPM <= rpm {
			lo = mid
		} else {
			hi = mid
		}
	}
	if hi == lo {
		return c[lo].PowerW
	}
	a, b := c[lo], c[hi]
	t := min(1, max(0, (rpm-a.RPM)/(b.RPM-a.RPM)))
	byPower := a.PowerW + t*(b.PowerW-a.PowerW)
	byTorque := rpm * (a.PowerW/a.RPM + t*(b.PowerW/b.RPM-a.PowerW/a.RPM))
	return min(byPower, byTorque)
}

// Scaled returns the curve with every power multiplied by share.
func (c Curve) Scaled(share float64) Curve {
	out := make(Curve, len(c))
	for i, p := range c {
		out[i] = CurvePoint{p.RPM, p.PowerW * share}
	}
	return out
}
