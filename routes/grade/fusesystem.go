package grade

import (
	"context"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/lapack/lapack64"
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
	border           []float64 // n × globals
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

// globalPriors: the scale has a part that all drives share.
func (f *fusion) globalPriors() {
	s, n := &f.sys, float64(len(f.drives))
	own, common := 1/(driveScaleSD*driveScaleSD), driveCommonScale
	if f.isAlone { // nothing tells it from the road's own grades, which the prior on the shape would flatten
		common = aloneCommonScale
	}
	shared := own * own / (n*own + 1/(common*common))
	for k := range f.drives {
		for j := k; j < len(f.drives); j++ {
			add := -shared
			if j == k {
				add += own
			}
			s.corner.SetSym(3*k, 3*j, s.corner.At(3*k, 3*j)+add)
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

// step solves the equations and returns the largest move of a height; false where they cannot be
// solved. The globals are either solved for, by elimination of the nodes, or kept.
func (f *fusion) step(withGlobals bool) (movedM float64, ok bool) {
	s := &f.sys
	t, ok := lapack64.Pbtrf(blas64.SymmetricBand{Uplo: blas.Upper, N: s.n, K: s.band, Stride: s.band + 1, Data: s.a})
	if !ok {
		return 0, false
	}
	s.factor = t
	if !withGlobals {
		return f.stepNodes(), true
	}
	globals := len(s.cornerB)
	inner := append([]float64(nil), s.border...) // A⁻¹·border
	solveBand(t, inner, globals)
	x := append([]float64(nil), s.b...)
	solveBand(t, x, 1)
	schur, right := mat.NewSymDense(globals, nil), mat.NewVecDense(globals, nil)
	borderM, innerM, xM := mat.NewDense(s.n, globals, s.border), mat.NewDense(s.n, globals, inner), mat.NewVecDense(s.n, x)
	var product mat.Dense
	product.Mul(borderM.T(), innerM)
	right.MulVec(borderM.T(), xM)
	for c := range globals {
		right.SetVec(c, s.cornerB[c]-right.AtVec(c))
		for e := c; e < globals; e++ {
			schur.SetSym(c, e, s.corner.At(c, e)-product.At(c, e))
		}
	}
	if !s.schur.Factorize(schur) {
		return 0, false
	}
	var g, shift mat.VecDense
	if err := s.schur.SolveVecTo(&g, right); err != nil {
		return 0, false
	}
	shift.MulVec(innerM, &g)
	xM.SubVec(xM, &shift)
	for k := range f.drives {
		copy(f.drives[k].global[:], g.RawVector().Data[3*k:3*k+3])
	}
	s.border = inner // spread uses A⁻¹·border
	return f.setNodes(x), true
}

// stepNodes solves for the nodes with fixed globals.
func (f *fusion) stepNodes() (movedM float64) {
	s, globals := &f.sys, len(f.sys.cornerB)
	x := append([]float64(nil), s.b...)
	for r := range x {
		for k := range f.drives {
			row := s.border[r*globals+3*k : r*globals+3*k+3]
			x[r] -= row[0]*f.drives[k].global[0] + row[1]*f.drives[k].global[1] + row[2]*f.drives[k].global[2]
		}
	}
	solveBand(s.factor, x, 1)
	return f.setNodes(x)
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

// unbounded keeps the raster's own bounds, where those with drives cannot be computed.
func (f *fusion) unbounded() {
	f.sdM = math.Inf(1)
	for j := range f.sdPct {
		f.sdPct[j] = math.Inf(1)
	}
}

// spread draws from the posterior and computes the standard deviations of the heights' scale, of
// heights, and of mean grades over the calibrated spans beyond what the scale makes of them.
func (f *fusion) spread() {
	rng := rand.New(rand.NewPCG(1, uint64(len(f.x)))) // the same bounds for the same road
	f.sdPct = make([]float64, len(spansM))
	mean, variance := stat.PopMeanVariance(f.x, nil)
	square := variance * float64(len(f.x))
	var sum2M, scale2 float64
	var counts [8]int
	for range fuseSamples {
		drawn, ok := f.draw(rng)
		if !ok {
			f.unbounded()
			return
		}
		sum2M += floats.Dot(drawn, drawn)
		if variance >= leastReliefM*leastReliefM {
			off := 0.0
			for i, e := range drawn {
				off += e * (f.x[i] - mean) / square
			}
			for i := range drawn {
				drawn[i] -= off * (f.x[i] - mean)
			}
			scale2 += off * off
		}
		for j, spanM := range spansM {
			apart := f.nodesOf(spanM)
			for i := 0; i+apart < len(f.x); i++ {
				pct := 100 * (drawn[i+apart] - drawn[i]) / spanM
				f.sdPct[j] += pct * pct
				counts[j]++
			}
		}
	}
	f.sdM, f.sdScale = math.Sqrt(sum2M/float64(fuseSamples*len(f.x))), math.Sqrt(scale2/fuseSamples)
	for j := range f.sdPct {
		if counts[j] > 0 {
			f.sdPct[j] = math.Sqrt(f.sdPct[j] / float64(counts[j]))
		} else if j > 0 {
			f.sdPct[j] = f.sdPct[j-1] / 2
		}
	}
}

func (f *fusion) nodesOf(spanM float64) int { return int(math.Round(spanM / f.nodeM)) }

// steepestPct is the greatest mean grade over a span, up or down; over all of a shorter road.
func (f *fusion) steepestPct(spanM float64) (pct float64) {
	apart := min(f.nodesOf(spanM), len(f.x)-1)
	if apart < 1 {
		return 0
	}
	for i := 0; i+apart < len(f.x); i++ {
		pct = max(pct, 100*math.Abs(f.x[i+apart]-f.x[i])/(float64(apart)*f.nodeM))
	}
	return pct
}

// draw is one draw from the posterior of the heights about their mean; false where it cannot be
// worked out.
func (f *fusion) draw(rng *rand.Rand) (heights []float64, ok bool) {
	s, globals := &f.sys, len(f.sys.cornerB)
	z, g := make([]float64, s.n), mat.NewVecDense(globals, nil)
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	blas64.Tbsv(blas.NoTrans, s.factor, blas64.Vector{N: s.n, Inc: 1, Data: z})
	for c := range globals {
		g.SetVec(c, rng.NormFloat64())
	}
	var drawn mat.VecDense
	if err := drawn.SolveVec(s.schur.RawU(), g); err != nil {
		return nil, false
	}
	heights = make([]float64, len(f.x))
	for i := range heights {
		r := i * s.perNode
		heights[i] = z[r] - floats.Dot(s.border[r*globals:(r+1)*globals], drawn.RawVector().Data)
	}
	return heights, true
}
