package grade

import (
	"context"
	"math"

	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"gradeline/routes"
	"gradeline/terrain"
)

// fuseSystem is the normal equations: a band of node unknowns (height, raster error and
// a drift for each drive, interleaved by node) with a border of the drives' globals.
type fuseSystem struct {
	perNode, n, band int
	a                []float64 // upper band, row by row, band+1 wide
	b                []float64
	border           []float64 // n × globals; after a step with globals U⁻ᵀ·border, U being the factor
	corner           *mat.SymDense
	cornerB          []float64
	factor           blas64.TriangularBand
	schur            mat.Cholesky
}

// solve iterates to the heights; the bounds' standard deviations follow at the end.
func (f *fusion) solve(ctx context.Context) error {
	for pass := range fusePasses {
		if err := ctx.Err(); err != nil {
			return err
		}
		f.assemble()
		isLast := pass == fusePasses-1
		movedM, ok := f.step(isLast || pass%globalsEvery == 0)
		if !ok {
			return &routes.Fault{Kind: terrain.ErrInput, What: "the drives and the grade line cannot be combined", Fix: "use fewer drives, or check their heights"}
		}
		if isLast {
			break
		}
		if pass > 0 {
			f.reweigh()
		}
		if pass == learnAfter {
			f.learnNoise()
		}
		if pass > learnAfter+1 && movedM < fuseStopM {
			f.assemble()
			if _, ok := f.step(true); ok {
				break
			}
		}
	}
	f.spread()
	return nil
}

// assemble sets up the equations at the current heights.
func (f *fusion) assemble() {
	s, n, m := &f.sys, len(f.x), 2+len(f.drives)
	s.perNode, s.n, s.band = m, n*m, 3*m
	s.a = zeroed(s.a, s.n*(s.band+1))
	s.b = zeroed(s.b, s.n)
	globals := 3 * len(f.drives)
	s.border = zeroed(s.border, s.n*globals)
	s.corner, s.cornerB = mat.NewSymDense(globals, nil), make([]float64, globals)
	f.rasterTerms()
	for k := range f.drives {
		f.driveTerms(k)
	}
	f.globalPriors()
	f.shapeTerms()
	for i := range s.n { // keeps a drift without data determined
		least := 1e-6
		if f.isAlone && i%s.perNode == 0 { // the level belongs to the heights, not to the drifts
			least = 1e-10
		}
		s.a[i*(s.band+1)] += least
	}
}

func zeroed(v []float64, n int) []float64 {
	if cap(v) < n {
		return make([]float64, n)
	}
	v = v[:n]
	clear(v)
	return v
}

// square adds weight·(Σ coef·unknown − value)² / 2; at must ascend.
func (s *fuseSystem) square(weight, value float64, at []int, coef []float64) {
	for i, r := range at {
		for j := i; j < len(at); j++ {
			s.a[r*(s.band+1)+at[j]-r] += weight * coef[i] * coef[j]
		}
		s.b[r] += weight * coef[i] * value
	}
}

// rasterTerms: ground = height + correlated error + white noise, weighed robustly.
func (f *fusion) rasterTerms() {
	s := &f.sys
	sigma2 := f.sigmaM * f.sigmaM
	white := 1 / (rasterWhiteShare * sigma2)
	phi := math.Exp(-f.nodeM / f.tauM)
	link := 1 / ((1 - rasterWhiteShare) * sigma2 * (1 - phi*phi))
	for i := range f.x {
		h, e := i*s.perNode, i*s.perNode+1
		if r := f.rasterM[i]; !math.IsNaN(r) {
			t := (r - f.start[i]) / (3.5 * f.sigmaM)
			w := 1 / (1 + t*t)
			s.square(white*w*w, r, []int{h, e}, []float64{1, 1})
		}
		if i == 0 {
			s.square(1/((1-rasterWhiteShare)*sigma2), 0, []int{e}, []float64{1})
		} else {
			s.square(link, 0, []int{e - s.perNode, e}, []float64{-phi, 1})
		}
	}
}

// driveTerms: a drive's height = height + drift + scale·(height − middle) + port·v²/2g −
// lag·v·grade in travel.
func (f *fusion) driveTerms(k int) {
	s, d := &f.sys, &f.drives[k]
	globals := len(s.cornerB)
	white := 1 / (driveWhiteM * driveWhiteM * d.noise)
	walk := 1 / (driveDriftM * driveDriftM * d.noise * f.nodeM / 10e3)
	for i := range f.x {
		h, drift := i*s.perNode, i*s.perNode+2+k
		if i > 0 {
			s.square(walk, 0, []int{drift - s.perNode, drift}, []float64{-1, 1})
		}
		if d.weight[i] == 0 {
			continue
		}
		w, z := white*d.weight[i], d.heightM[i]
		s.square(w, z, []int{h, drift}, []float64{1, 1})
		g := f.globalRow(d, i)
		for c := range 3 {
			s.border[h*globals+3*k+c] += w * g[c]
			s.border[drift*globals+3*k+c] += w * g[c]
			s.cornerB[3*k+c] += w * g[c] * z
			for e := c; e < 3; e++ {
				s.corner.SetSym(3*k+c, 3*k+e, s.corner.At(3*k+c, 3*k+e)+w*g[c]*g[e])
			}
		}
	}
}

// globalRow is how a drive's height at a node depends on its scale, port and lag.
func (f *fusion) globalRow(d *fusedDrive, i int) [3]float64 {
	const twoG = 2 * terrain.GravityMPS2
	v, lo, hi := d.speedMPS[i], max(0, i-1), min(len(f.x)-1, i+1)
	rise := v * (f.x[hi] - f.x[lo]) / (float64(hi-lo) * f.nodeM)
	if d.isBackward {
		rise = -rise
	}
	return [3]float64{f.x[i] - f.start[len(f.start)/2], v * v / twoG, -rise}
}

// globalPriors: the scale has a part that all drives share, as far as recorded temperature does not
// tell it. The covariance of the scales is own² for each and sd·sd between any two.
func (f *fusion) globalPriors() {
	s := &f.sys
	own := 1 / (driveScaleSD * driveScaleSD)
	common, expected := make([]float64, len(f.drives)), make([]float64, len(f.drives))
	sum := 1.0
	for k := range f.drives {
		common[k], expected[k] = f.drives[k].air.sd, f.drives[k].air.scale
		if f.isAlone { // nothing tells it from the road's own grades, which the prior on the shape would flatten
			common[k] = aloneCommonScale
		}
		sum += own * common[k] * common[k]
	}
	for k := range f.drives {
		for j := range f.drives {
			add := -own * common[k] * own * common[j] / sum
			if j == k {
				add += own
			}
			s.cornerB[3*k] += add * expected[j]
			if j >= k {
				s.corner.SetSym(3*k, 3*j, s.corner.At(3*k, 3*j)+add)
			}
		}
		for c, sd := range []float64{drivePortSD, driveLagSD} {
			s.corner.SetSym(3*k+1+c, 3*k+1+c, s.corner.At(3*k+1+c, 3*k+1+c)+1/(sd*sd))
		}
	}
}

// shapeTerms: built roads seldom change grade, so a change costs by its size, not by its square. A
// road with all its heights halved would cost half, and where the raster says little of the scale
// the heights would shrink: up to 3 % with ten drives at 90 m cells. So the cost is that over the
// scale of the heights. Its slope along the heights themselves is none.
func (f *fusion) shapeTerms() {
	s, m, dx := &f.sys, f.sys.perNode, f.nodeM
	cost := 0.0
	for i := 1; i+1 < len(f.x); i++ {
		change := math.Abs(f.x[i-1]-2*f.x[i]+f.x[i+1]) / dx
		w := shapeGrade / max(change, shapeLeast) / (dx * dx)
		s.square(w, 0, []int{(i - 1) * m, i * m, (i + 1) * m}, []float64{1, -2, 1})
		cost += w * change * change * dx * dx
	}
	for i := 0; i+3 < len(f.x); i++ {
		change := math.Abs(f.x[i+3]-f.x[i]+3*(f.x[i+1]-f.x[i+2])) / dx
		w := shapeGrade * shapeJerkM / dx / max(change, shapeLeast) / (dx * dx)
		s.square(w, 0, []int{i * m, (i + 1) * m, (i + 2) * m, (i + 3) * m}, []float64{-1, 3, -3, 1})
		cost += w * change * change * dx * dx
	}
	mean := stat.Mean(f.x, nil)
	_, variance := stat.PopMeanVariance(f.x, nil)
	if variance < leastReliefM*leastReliefM {
		return
	}
	for i, x := range f.x {
		s.b[i*m] += cost * (x - mean) / (variance * float64(len(f.x)))
	}
}

// setNodes stores a solution.
func (f *fusion) setNodes(x []float64) (movedM float64) {
	for i := range f.x {
		movedM = max(movedM, math.Abs(x[i*f.sys.perNode]-f.x[i]))
		f.x[i] = x[i*f.sys.perNode]
		for k := range f.drives {
			f.drives[k].driftM[i] = x[i*f.sys.perNode+2+k]
		}
	}
	return movedM
}

// offM is a drive's height at a node, corrected for its scale, port and lag.
func (f *fusion) offM(d *fusedDrive, i int) float64 {
	g := f.globalRow(d, i)
	return d.heightM[i] - d.global[0]*g[0] - d.global[1]*g[1] - d.global[2]*g[2]
}

// reweigh sets the Huber weights and the misfit of each drive from its residuals.
func (f *fusion) reweigh() {
	for k := range f.drives {
		d := &f.drives[k]
		sum, n := 0.0, 0
		for i := range f.x {
			if math.IsNaN(d.heightM[i]) {
				continue
			}
			r := math.Abs(f.offM(d, i) - f.x[i] - d.driftM[i])
			d.weight[i] = min(1, driveHuber*driveWhiteM*math.Sqrt(d.noise)/max(r, 1e-9))
			sum, n = sum+r*r, n+1
		}
		d.misfitM = math.Sqrt(sum / float64(max(1, n)))
	}
}
