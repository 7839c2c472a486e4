package synth

import "math"

// Kind is the composition of a road's profile. The plan, the ground and the raster are drawn as for
// other roads; only the vertical alignment differs.
type Kind uint8

// The kinds. Those whose grades change quickly are slow roads (40 to 60 km/h): on a fast road the
// vertical curves would be longer than the parts.
const (
	OrdinaryRoad    Kind = iota
	ShortSteepParts      // climbs and descents of 5–7 % with parts of 300–500 m at 11–13 %
	ShortBenches         // climbs and descents of 5–7 % with benches of 200–500 m at -1 to 1 %
	EndsOnSlopes         // an ordinary road that begins and ends on a grade of 3–8 %
)

// Part is a stretch of the true profile that belongs to the kind, by station of the digitised line,
// in order.
type Part struct {
	FromM, ToM float64
	GradePct   float64 // of the tangent, rising along the line positive
}

// drawKindSpeed draws a design speed that leaves room for the kind's parts.
func drawKindSpeed(d dice, k Kind, drawnKMH float64) float64 {
	if k == ShortSteepParts || k == ShortBenches {
		return 40 + 10*float64(d.IntN(3))
	}
	return drawnKMH
}

// drawKindTangents draws the tangents of a road of a kind; isPart marks those that define the kind.
func drawKindTangents(d dice, p params, lengthM float64) (ts []tangent, isPart []bool) {
	total := 0.0
	add := func(t tangent, part bool) {
		ts, isPart = append(ts, t), append(isPart, part)
		total += t.lengthM
	}
	if p.kind == EndsOnSlopes {
		end := func() tangent { return tangent{d.between(1200, 3000), d.sign() * d.between(3, 8)} }
		last := end()
		add(end(), true)
		for total < lengthM-last.lengthM {
			for _, t := range drawRegime(d, p) {
				if total < lengthM-last.lengthM {
					add(tangent{math.Min(t.lengthM, math.Max(100, lengthM-last.lengthM-total)), t.gradePct}, false)
				}
			}
		}
		add(tangent{2 * last.lengthM, last.gradePct}, true)
		return ts, isPart
	}
	sign := d.sign()
	for total < lengthM {
		add(tangent{d.between(500, 1500), d.between(-1.5, 1.5)}, false)
		sign = -sign
		grade := sign * d.between(5, 7)
		add(tangent{d.between(900, 2200), grade}, false)
		for range 1 + d.IntN(3) {
			if p.kind == ShortSteepParts {
				add(tangent{d.between(300, 500), sign * d.between(11, 13)}, true)
			} else {
				add(tangent{d.between(200, 500), d.between(-1, 1)}, true)
			}
			add(tangent{d.between(900, 2200), sign * clamp(math.Abs(grade)+d.between(-0.7, 0.7), 5, 7)}, false)
		}
	}
	return ts, isPart
}

// generalise keeps a line's first and last point and about one every everyM metres.
func generalise(x, y []float64, everyM float64) []int {
	keep := []int{0}
	since := 0.0
	for i := 1; i+1 < len(x); i++ {
		if since += math.Hypot(x[i]-x[i-1], y[i]-y[i-1]); since >= everyM {
			keep, since = append(keep, i), 0
		}
	}
	return append(keep, len(x)-1)
}
