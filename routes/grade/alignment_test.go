package grade

import (
	"math"
	"math/rand/v2"
)

var speedK = [][3]float64{{40, 4, 9}, {50, 7, 13}, {60, 11, 18}, {70, 17, 23}, {80, 26, 30}, {90, 39, 38}, {100, 52, 45}, {110, 74, 55}}

// alignment gives grades per metre of line (as a fraction), lengthM+1 values.
func alignment(r *rand.Rand, lengthM int) []float64 {
	sp := speedK[r.IntN(len(speedK))]
	maxG := 0.09
	if sp[0] >= 90 {
		maxG = 0.06
	}
	type tan struct{ l, g float64 }
	var ts []tan
	total := 0.0
	for total < float64(lengthM)+2000 {
		regime := r.IntN(3)
		left := 1500 + r.ExpFloat64()*3500
		sign := float64(1 - 2*r.IntN(2))
		for left > 0 {
			l := math.Max(100, math.Min(12000, 380*math.Exp(0.8*r.NormFloat64())))
			g := 0.0
			if regime < 2 {
				g = sign * maxG * (0.25 + 0.75*r.Float64())
				if r.Float64() < 0.08 {
					l = math.Min(12000, l*6)
				}
				if r.Float64() < 0.12 {
					g *= -0.2
				}
			} else {
				g = maxG * 0.4 * r.NormFloat64()
			}
			g = math.Max(-maxG, math.Min(maxG, g))
			if n := len(ts); n > 0 {
				a := math.Abs(g-ts[n-1].g) * 100
				k := sp[2]
				if g < ts[n-1].g {
					k = sp[1]
				}
				if need := k * a; need > math.Min(l, ts[n-1].l)*0.9 {
					f := math.Min(l, ts[n-1].l) * 0.9 / need
					g = ts[n-1].g + (g-ts[n-1].g)*f
				}
			}
			ts = append(ts, tan{l, g})
			total += l
			left -= l
		}
	}
	out := make([]float64, lengthM+1)
	s := 0.0
	bounds := make([]float64, len(ts))
	for i, t := range ts {
		s += t.l
		bounds[i] = s
	}
	j := 0
	for i := range out {
		for bounds[j] < float64(i) {
			j++
		}
		out[i] = ts[j].g
	}
	for j := 0; j+1 < len(ts); j++ {
		a := ts[j+1].g - ts[j].g
		k := sp[2]
		if a < 0 {
			k = sp[1]
		}
		l := math.Min(k*(1+1.5*r.Float64())*math.Abs(a)*100, math.Min(ts[j].l, ts[j+1].l)*0.95)
		for i := int(bounds[j] - l/2); i <= int(bounds[j]+l/2); i++ {
			if i >= 0 && i <= lengthM && l > 0 {
				out[i] = ts[j].g + a*(float64(i)-bounds[j]+l/2)/l
			}
		}
	}
	return out
}
