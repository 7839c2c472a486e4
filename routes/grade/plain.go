package grade

import (
	"math"

	"gradeline/routes"
)

// RawDifference returns the ground itself as the grade line, with misses interpolated linearly.
// Only the accuracy report should use it, for comparison.
func RawDifference(g *routes.Ground) *routes.Profile {
	return plain(g, func(z []float64) []float64 { return z })
}

// MovingWindow returns the ground averaged over windowM, flagged structures and
// misses bridged first. For comparison only.
func MovingWindow(g *routes.Ground, windowM float64) *routes.Profile {
	return plain(g, func(z []float64) []float64 {
		half := max(0, int(windowM/2/g.StepM))
		sum := make([]float64, len(z)+1)
		for i, v := range z {
			sum[i+1] = sum[i] + v
		}
		out := make([]float64, len(z))
		for i := range z {
			h := min(half, i, len(z)-1-i) // shrinks at the ends so that a slope stays a slope
			out[i] = (sum[i+h+1] - sum[i-h]) / float64(2*h+1)
		}
		return out
	})
}

func plain(g *routes.Ground, smooth func([]float64) []float64) *routes.Profile {
	s := new(section)
	if err := s.sectionFromGround(g); err != nil {
		n := g.Count()
		q := base(g, 0)
		for i := 0; i < n; i++ {
			q.GroundM[i], q.ElevationM[i], q.State[i] = math.NaN(), math.NaN(), routes.InVoid
		}
		q.Unreliable = err.Error()
		return q
	}
	q := base(g, s.cellM)
	n := g.Count()
	z := make([]float64, n)
	for i := range z {
		j, c := i, s.mid
		if s.flipped {
			j = n - 1 - i
		}
		q.GroundM[i] = float64(s.z[j*s.cols+c])
		q.State[i] = missState(g, q.GroundM, i)
		z[i] = q.GroundM[i]
		if s.flagged[j] {
			z[i] = math.NaN()
		}
	}
	fill(z)
	copy(q.ElevationM, smooth(z))
	count(q)
	q.Reliable = true
	return q
}

// fill interpolates NaN linearly; at the ends it holds the nearest value, and
// leaves an all-NaN slice alone.
func fill(z []float64) {
	last := -1
	for i, v := range z {
		if math.IsNaN(v) {
			continue
		}
		for k := last + 1; k < i; k++ {
			if last < 0 {
				z[k] = v
			} else {
				z[k] = z[last] + (v-z[last])*float64(k-last)/float64(i-last)
			}
		}
		last = i
	}
	if last >= 0 {
		for k := last + 1; k < len(z); k++ {
			z[k] = z[last]
		}
	}
}
