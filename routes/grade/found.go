package grade

import "math"

const (
	foundEdgeSigma, foundEdgeM = 1.5, 0.9
	foundCoreSigma, foundCoreM = 4.0, 2.5
)

// run is a stretch of stations first..last.
type run struct {
	first, last int
	above       bool // the ground lies above the line: tunnel or cut
}

// found returns the stretches where the ground departs from the line by more than noise can: it
// stays beyond the edge threshold and somewhere exceeds the core threshold.
func found(p *problem, x []float64, out []run) []run {
	s := max(p.sigmaM, sigmaFloorM)
	out = out[:0]
	for i := 0; i < p.n; {
		sign := departs(p, x, s, i)
		if sign == 0 {
			i++
			continue
		}
		j, core := i, false
		for ; j < p.n && (p.w[j] == 0 || departs(p, x, s, j) == sign); j++ {
			core = core || p.w[j] > 0 && math.Abs(p.y[j]-x[j]) > max(foundCoreSigma*s, foundCoreM)*p.rel[j]
		}
		last := j - 1
		for last > i && p.w[last] == 0 {
			last--
		}
		if core {
			out = append(out, run{i, last, sign > 0})
		}
		i = j
	}
	return out
}

func departs(p *problem, x []float64, s float64, i int) int {
	if p.w[i] == 0 {
		return 0
	}
	edge := max(foundEdgeSigma*s, foundEdgeM) * p.rel[i]
	switch r := p.y[i] - x[i]; {
	case r > edge:
		return 1
	case r < -edge:
		return -1
	}
	return 0
}
