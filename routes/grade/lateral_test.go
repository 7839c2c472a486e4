package grade

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The rms departure of a cross-section from the best straight one with a cross-fall of 6 %
// at most, by hand: three columns 3 m apart.
func TestFlatnessOfACrossSection(t *testing.T) {
	for _, c := range []struct {
		name string
		row  []float32
		c    int
		want float64
	}{
		{"level", []float32{5, 5, 5}, 1, 0},
		{"a cross-fall of 6 %", []float32{5.18, 5, 4.82}, 1, 0},
		{"8 %: 2 % are left, of 6 cm at 3 m each side", []float32{5.24, 5, 4.76}, 1, math.Sqrt(2 * .06 * .06 / 3)},
		{"the other way", []float32{4.76, 5, 5.24}, 1, math.Sqrt(2 * .06 * .06 / 3)},
		{"a ditch of 30 cm: from the mean .1, .1 and .2", []float32{5, 4.7, 5}, 1, math.Sqrt(.02)},
		{"a cliff counts 1.2 m", []float32{15, 5, 5}, 1, 1.2},
		{"nothing known counts as much", []float32{nan32, nan32, nan32}, 1, 1.2},
		{"one known", []float32{nan32, 5, nan32}, 1, 0},
		{"at the edge, two columns 5 % apart", []float32{5, 5.15, 9}, 0, 0},
		{"at the edge, 10 %: 4 % are left, of 12 cm", []float32{5, 5.3, 9}, 0, .06},
	} {
		if got := flatness(c.row, c.c, 1, 3); math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%s: %.6f m, want %.6f", c.name, got, c.want)
		}
	}
}

var nan32 = float32(math.NaN())

// lateralCost is what a path of columns costs, written out apart from the code: the height's
// departure in deviations squared, 9 at most and for a miss; 60 a metre of departure from a
// road's cross-section, 15 above 3 m cells; the offset's square against 5 m, one each 180 m
// counted from both sides; a move of .07 m a metre.
func lateralCost(sec *section, p *problem, x []float64, path []int) float64 {
	doM := sec.offsetM[1] - sec.offsetM[0]
	span := int(math.Max(1, math.Round(3/doM)))
	perFlat := 15.0
	if p.cellM <= 3 {
		perFlat = 60
	}
	sum := 0.0
	for i, c := range path {
		row := sec.z[i*sec.cols : (i+1)*sec.cols]
		if row[c] != row[c] {
			sum += 9
		} else {
			if x != nil {
				d := (float64(row[c]) - x[i] - sec.refM) / (math.Max(.3, p.sigmaM) * p.rel[i])
				sum += math.Min(9, d*d)
			}
			sum += perFlat * flatness(row, c, span, doM)
		}
		sum += sec.offsetM[c] * sec.offsetM[c] / 25 * math.Min(1, 2*p.stepM/180)
		if i > 0 {
			m := float64(c-path[i-1]) * doM / (.07 * p.stepM)
			sum += m * m / 2
		}
	}
	return sum
}

// The path across the sections is the cheapest of all: every one is tried that moves by .4 m
// a metre at most, or by one column where that is less.
func TestTheLateralPathIsTheCheapest(t *testing.T) {
	moved := 0
	for seed := uint64(1); seed <= 60; seed++ {
		rng := rand.New(rand.NewPCG(seed, 9))
		k := []struct{ stepM, doM, cellM, sigmaM float64 }{{10.25, 2.05, 2, .2}, {9.8, 1.96, 3, .5}, {12.4, 2.5, 10, 1}, {5, 2, 10, .25}, {120, 9.6, 3.1, .5}}[seed%5]
		const n, cols = 5, 5
		sec := &section{n: n, stepM: k.stepM, cellM: k.cellM, cols: cols, mid: 2, refM: 500}
		p := &problem{n: n, stepM: k.stepM, sigmaM: k.sigmaM, cellM: k.cellM}
		x := make([]float64, n)
		for c := range cols {
			sec.offsetM = append(sec.offsetM, float64(c-2)*k.doM)
		}
		for i := range n {
			p.rel = append(p.rel, 1+.5*rng.Float64())
			x[i] = rng.NormFloat64()
			for range cols {
				z := float32(500 + x[i] + .7*rng.NormFloat64())
				if rng.IntN(9) == 0 {
					z = nan32
				}
				sec.z = append(sec.z, z)
			}
		}
		pilot := x
		if seed%7 == 0 {
			pilot = nil
		}
		reach := max(1, int(math.Ceil(.4*k.stepM/k.doM)))
		best := math.Inf(1)
		path, bestPath := make([]int, n), make([]int, n)
		for code := range 3125 {
			isAllowed := true
			for i, rest := 0, code; i < n; i, rest = i+1, rest/5 {
				path[i] = rest % 5
				isAllowed = isAllowed && (i == 0 || max(path[i]-path[i-1], path[i-1]-path[i]) <= reach)
			}
			if isAllowed {
				if cost := lateralCost(sec, p, pilot, path); cost < best {
					best = cost
					copy(bestPath, path)
				}
			}
		}
		var l lateral
		index, rough := make([]int32, n), make([]float64, n)
		l.flatten(sec)
		l.path(sec, p, pilot, index, rough)
		for i, c := range index {
			path[i] = int(c)
			if i > 0 && c != index[i-1] {
				moved++
			}
		}
		if got := lateralCost(sec, p, pilot, path); got > best*(1+1e-5) {
			t.Errorf("seed %d: path %v costs %.5f, the cheapest %v %.5f", seed, path, got, bestPath, best)
		}
		cheapest := math.Inf(1)
		for _, c := range l.cost {
			cheapest = math.Min(cheapest, c)
		}
		within(t, "cost of the path", cheapest, best, 1e-5)
	}
	if moved < 20 {
		t.Errorf("the paths move %d times", moved)
	}
}

// The road's place across moves by .4 m a metre at most: over 10 m by two columns of 2 m, over
// 10.2 m by a third. The only even places are three columns apart.
func TestHowFarThePathMovesAcross(t *testing.T) {
	for stepM, moves := range map[float64]int{10: 0, 10.2: 3} {
		sec := &section{n: 2, stepM: stepM, cellM: 2, cols: 7, mid: 3, offsetM: []float64{-6, -4, -2, 0, 2, 4, 6}, z: []float32{0, 0, 0, 10, -10, 10, -10, 10, 0, 0, 0, 0, 0, -10}}
		p := &problem{n: 2, stepM: stepM, sigmaM: .3, cellM: 2, rel: []float64{1, 1}}
		var l lateral
		index, rough := make([]int32, 2), make([]float64, 2)
		l.flatten(sec)
		l.path(sec, p, nil, index, rough)
		if got := int(index[1] - index[0]); got != moves {
			t.Errorf("over %g m by %d columns, want %d", stepM, got, moves)
		}
	}
}
