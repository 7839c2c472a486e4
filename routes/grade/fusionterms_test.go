package grade

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"gradeline/routes"
)

// twoDrivesOver is a fusion of a short road of so many nodes with two drives, one backward,
// at some heights.
func twoDrivesOver(t *testing.T, nodes int) *fusion {
	t.Helper()
	rng := rand.New(rand.NewPCG(21, 22))
	p, truthM := fusedHill(rng)
	n := 2*nodes - 1
	p.LengthM = float64(10 * (n - 1))
	p.ElevationM, p.GroundM, p.State = p.ElevationM[:n], p.GroundM[:n], p.State[:n]
	for i := 40; i < 50; i++ {
		p.State[i] = routes.OnBridge
	}
	p.GroundM[80] += 25 // far off
	f := newFusion(p)
	for k := range 2 {
		d := barometerDrive(rng, truthM, .3, nil)
		d.IsBackward = k == 1
		for i := range d.SpeedMPS {
			d.SpeedMPS[i] = 12 + float64(i%5)
		}
		d.HeightM[7] = math.NaN()
		var fit DriveFit
		if why := f.addDrive(k, &d, &fit); why != "" {
			t.Fatal(why)
		}
	}
	f.drives[1].noise = 2.5
	f.drives[1].air = driveAir{isUsed: true, scale: -.02, sd: .025}
	f.drives[0].weight[12] = .4
	for i := range f.x {
		f.x[i] += .3 * rng.NormFloat64()
	}
	return f
}

// fusionWritten is the objective of the fusion at given unknowns, as drives.go and DRIVES.md
// state it, every constant as a figure; linearised about f.x as the equations are.
func fusionWritten(f *fusion, u []float64) float64 {
	n, m := len(f.x), 2+len(f.drives)
	height := func(i int) float64 { return u[i*m] }
	sigma2, sum := f.sigmaM*f.sigmaM, 0.0
	phi := math.Exp(-20 / f.tauM)
	for i := range n {
		e := u[i*m+1]
		if r := f.rasterM[i]; !math.IsNaN(r) {
			off := (r - f.start[i]) / (3.5 * f.sigmaM)
			sum += (r - height(i) - e) * (r - height(i) - e) / (.3 * sigma2) / math.Pow(1+off*off, 2)
		}
		if i == 0 {
			sum += e * e / (.7 * sigma2)
		} else {
			change := e - phi*u[(i-1)*m+1]
			sum += change * change / (.7 * sigma2 * (1 - phi*phi))
		}
	}
	scales := 0.0
	for k := range f.drives {
		d := &f.drives[k]
		g := u[n*m+3*k : n*m+3*k+3]
		for i := range n {
			drift := u[i*m+2+k]
			if i > 0 { // 4 m over 10 km, of 20 m
				step := drift - u[(i-1)*m+2+k]
				sum += step * step / (4 * 4 * d.noise * 20 / 10000)
			}
			if d.weight[i] == 0 {
				continue
			}
			lo, hi := max(0, i-1), min(n-1, i+1)
			riseMPS := d.speedMPS[i] * (f.x[hi] - f.x[lo]) / (float64(hi-lo) * 20)
			if d.isBackward {
				riseMPS = -riseMPS
			}
			r := d.heightM[i] - height(i) - drift - g[0]*(f.x[i]-f.start[n/2]) - g[1]*d.speedMPS[i]*d.speedMPS[i]/(2*9.80665) + g[2]*riseMPS
			sum += d.weight[i] * r * r / (.3 * .3 * d.noise)
		}
		sum += g[1]*g[1]/(.05*.05) + g[2]*g[2]/(1.5*1.5)
		scales += g[0]
	}
	// Each scale is a common one with its own ± 2 % about it. The common one is 0 ± 3 % without a
	// thermometer, here -2 ± 2.5 % with the second drive's: what two such drives' scales cost, by the
	// inverse of their covariance.
	cov := mat.NewSymDense(2, []float64{.02*.02 + .03*.03, .03 * .025, .03 * .025, .02*.02 + .025*.025})
	var inverse mat.Dense
	if err := inverse.Inverse(cov); err != nil {
		panic(err)
	}
	a, b := u[n*m], u[n*m+3]+.02
	sum += inverse.At(0, 0)*a*a + 2*inverse.At(0, 1)*a*b + inverse.At(1, 1)*b*b
	shape := 0.0 // at f.x
	for i := 1; i+1 < n; i++ {
		d, now := height(i-1)-2*height(i)+height(i+1), math.Abs(f.x[i-1]-2*f.x[i]+f.x[i+1])
		sum += 150 * d * d / 400 / math.Max(now/20, 2e-4)
		shape += 150 * now * now / 400 / math.Max(now/20, 2e-4)
	}
	for i := 3; i < n; i++ {
		d, now := height(i)-3*height(i-1)+3*height(i-2)-height(i-3), math.Abs(f.x[i]-3*f.x[i-1]+3*f.x[i-2]-f.x[i-3])
		sum += 150 * 50 / 20.0 * d * d / 400 / math.Max(now/20, 2e-4)
		shape += 150 * 50 / 20.0 * now * now / 400 / math.Max(now/20, 2e-4)
	}
	mean, square := 0.0, 0.0
	for _, x := range f.x {
		mean += x / float64(n)
	}
	for _, x := range f.x {
		square += (x - mean) * (x - mean)
	}
	for i, x := range f.x { // shape is that of the heights over their scale
		sum -= 2 * shape * (x - mean) / square * height(i)
	}
	return sum
}

// The normal equations are those of the objective: at any unknowns u, u'Au - 2b'u is by how
// much it differs from that at none.
func TestTheEquationsOfAFusionAreTheObjectives(t *testing.T) {
	f := twoDrivesOver(t, 61)
	f.x[30] = 2*f.x[31] - f.x[32] + 20*1e-4 // a change of grade under the least
	f.assemble()
	s := &f.sys
	rng := rand.New(rand.NewPCG(1, 2))
	u := make([]float64, s.n+6)
	none := fusionWritten(f, u)
	for range 5 {
		for i := range u {
			u[i] = rng.NormFloat64()
		}
		for c := range 6 {
			u[s.n+c] *= .1
		}
		got := 0.0
		for r := range s.n {
			got += s.a[r*(s.band+1)]*u[r]*u[r] - 2*s.b[r]*u[r] - 1e-6*u[r]*u[r]
			for k := 1; k <= s.band && r+k < s.n; k++ {
				got += 2 * s.a[r*(s.band+1)+k] * u[r] * u[r+k]
			}
			for c := range 6 {
				got += 2 * s.border[r*6+c] * u[r] * u[s.n+c]
			}
		}
		for c := range 6 {
			got -= 2 * s.cornerB[c] * u[s.n+c]
			for e := range 6 {
				got += s.corner.At(c, e) * u[s.n+c] * u[s.n+e]
			}
		}
		within(t, "the equations", got, fusionWritten(f, u)-none, 1e-9)
	}
}

// The cost of the shape has no slope along the heights themselves: it pulls no scale.
func TestTheShapeHasNoScale(t *testing.T) {
	f := twoDrivesOver(t, 61)
	f.assemble()
	s := &f.sys
	s.a, s.b = zeroed(s.a, len(s.a)), zeroed(s.b, len(s.b))
	f.shapeTerms()
	slope, size := 0.0, 0.0
	for i, x := range f.x {
		r := i * s.perNode
		slope -= s.b[r] * x
		size += s.b[r] * x
		for k := 0; k <= s.band && r+k < s.n; k += s.perNode {
			v := s.a[r*(s.band+1)+k] * x * f.x[i+k/s.perNode]
			if k > 0 {
				v *= 2
			}
			slope += v
		}
	}
	if !(math.Abs(slope) < 1e-6*math.Abs(size)) || size == 0 {
		t.Errorf("slope %g of a cost of %g", slope, size)
	}
}

// Where the raster is coarse, ten drives keep the scale of the heights. The ground is exact here but
// counts as that of 90 m cells, and the drives' scales are 1, so every error of the scale is a pull
// of the shape. With a cost that has a scale the heights shrink so far that no drive fits any more.
func TestDrivesKeepTheScaleOfHeights(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 16))
	p, _ := fusedHill(rng)
	truthM := func(s float64) float64 {
		return 900 + 40*math.Sin(s/700) + 12*math.Sin(s/230) + 3*math.Sin(s/90)
	}
	p.CellM, p.Noise, p.Bound = 90, routes.Noise{SigmaM: 5.5, TauM: 317}, errorModel(90, 5.5)
	for i := range p.ElevationM {
		p.ElevationM[i] = truthM(float64(10 * i))
		p.GroundM[i] = p.ElevationM[i]
	}
	var drives []Drive
	for k := range 10 {
		d := barometerDrive(rng, truthM, .2, func(s, _ float64) float64 { return truthM(s) + .2*rng.NormFloat64() })
		d.IsBackward = k%2 == 1
		drives = append(drives, d)
	}
	q, fits, err := Fuse(context.Background(), p, drives)
	if err != nil {
		t.Fatal(err)
	}
	for i := range fits {
		if !fits[i].IsUsed {
			t.Errorf("drive %d: %s", i, fits[i].Why)
		}
	}
	var truth, got []float64
	for i, z := range q.ElevationM {
		truth, got = append(truth, truthM(float64(10*i))), append(got, z)
	}
	_, scale := stat.LinearRegression(truth, got, nil, false)
	if !(math.Abs(scale-1) < .01) {
		t.Errorf("heights are %+.2f %% too large", 100*(scale-1))
	}
}

// The standard deviations drawn from the posterior are those of the inverse of the equations,
// worked out densely. 24 draws hold one road's to 7 %, so those of 24 roads are compared.
func TestTheSpreadOfAFusionIsThatOfTheInverse(t *testing.T) {
	var heights, drawn, want [5]float64 // by span; heights apart
	var scale, wantScale float64
	for nodes := 55; nodes < 79; nodes++ {
		f := twoDrivesOver(t, nodes)
		f.assemble()
		cov := denseInverse(t, f)
		if _, ok := f.step(true); !ok {
			t.Fatal("no solution")
		}
		f.spread()
		m := f.sys.perNode
		n := len(f.x)
		c, along, u := mat.NewDense(n, n, nil), mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
		sum := 0.0
		for i, x := range f.x {
			sum += cov.At(i*m, i*m)
			u.SetVec(i, x-stat.Mean(f.x, nil))
			for k := range n {
				c.Set(i, k, cov.At(i*m, k*m))
			}
		}
		// The scale is the slope of the heights on themselves; the rest is without it.
		u2 := mat.Dot(u, u)
		scale += f.sdScale * f.sdScale
		wantScale += mat.Inner(u, c, u) / (u2 * u2)
		along.Outer(-1/u2, u, u)
		for i := range n {
			along.Set(i, i, along.At(i, i)+1)
		}
		var rest mat.Dense
		rest.Product(along, c, along)
		at := rest.At
		heights[0] += f.sdM * f.sdM / (sum / float64(len(f.x))) / 24
		for j, apart := range []int{5, 10, 25, 50} { // 100, 200, 500, 1,000 m
			sum, n := 0.0, 0.0
			for i := 0; i+apart < len(f.x); i++ {
				sum, n = sum+at(i, i)+at(i+apart, i+apart)-2*at(i, i+apart), n+1
			}
			drawn[j] += f.sdPct[j] * f.sdPct[j]
			want[j] += 1e4 * sum / n / math.Pow(float64(20*apart), 2)
		}
		// Longer than the road: half of the next shorter.
		within(t, "sd over 2 km", f.sdPct[4], f.sdPct[3]/2, 1e-9)
		within(t, "sd over 4 km", f.sdPct[5], f.sdPct[4]/2, 1e-9)
	}
	t.Log(heights[0], drawn, want)
	within(t, "sd of the scale", math.Sqrt(scale), math.Sqrt(wantScale), 0.08)
	within(t, "sd of heights", math.Sqrt(heights[0]), 1, 0.05)
	for j, share := range []float64{0.02, 0.03, 0.04, 0.06} {
		within(t, fmt.Sprintf("sd of a mean over %g m", spansM[j]), math.Sqrt(drawn[j]), math.Sqrt(want[j]), share)
	}
}

// denseInverse is the covariance of all unknowns of two drives' equations.
func denseInverse(t *testing.T, f *fusion) *mat.SymDense {
	t.Helper()
	s := &f.sys
	dense := mat.NewSymDense(s.n+6, nil)
	for r := range s.n {
		for k := 0; k <= s.band && r+k < s.n; k++ {
			dense.SetSym(r, r+k, s.a[r*(s.band+1)+k])
		}
		for c := range 6 {
			dense.SetSym(r, s.n+c, s.border[r*6+c])
		}
	}
	for c := range 6 {
		for e := c; e < 6; e++ {
			dense.SetSym(s.n+c, s.n+e, s.corner.At(c, e))
		}
	}
	var chol mat.Cholesky
	cov := new(mat.SymDense)
	if !chol.Factorize(dense) || chol.InverseTo(cov) != nil {
		t.Fatal("not positive definite")
	}
	return cov
}

// Huber weights: in full within 2 deviations, beyond by their inverse; the misfit is the rms
// of what is left.
func TestWeightsOfADrive(t *testing.T) {
	p := &routes.Profile{StepM: 20, LengthM: 400, CellM: 30}
	f := &fusion{p: p, nodeM: 20, every: 1, x: make([]float64, 21), start: make([]float64, 21)}
	d := fusedDrive{noise: 4, heightM: make([]float64, 21), speedMPS: make([]float64, 21), weight: make([]float64, 21), driftM: make([]float64, 21)}
	for i := range d.heightM {
		d.heightM[i] = .2 * float64(i)
	}
	d.heightM[20] = math.NaN()
	d.driftM[3], f.x[4] = .1, -.3
	f.drives = []fusedDrive{d}
	f.reweigh()
	sum := 0.0
	for i := range 20 {
		r := .2 * float64(i)
		switch i {
		case 3:
			r -= .1
		case 4:
			r += .3
		}
		sum += r * r
		within(t, fmt.Sprintf("weight at %d", i), f.drives[0].weight[i], math.Min(1, 2*.3*2/math.Max(r, 1e-9)), 1e-9)
	}
	within(t, "misfit", f.drives[0].misfitM, math.Sqrt(sum/20), 1e-9)
}

// What keeps a drive out is told in words with its own figures.
func TestWordsOfABadDrive(t *testing.T) {
	for _, c := range []struct {
		d    fusedDrive
		says []string
	}{
		{fusedDrive{global: [3]float64{-.2}}, []string{"-20 %", " 12 %"}},
		{fusedDrive{global: [3]float64{.01, 0, 9}}, []string{" 9 s", " 8 s"}},
		{fusedDrive{misfitM: 1.26}, []string{" 1.3 m", " 0.75 m"}},
	} {
		for _, figure := range c.says {
			if got := c.d.fault(); !strings.Contains(got, figure) {
				t.Errorf("%q, want %q", got, figure)
			}
		}
	}
	worst := &fusion{start: make([]float64, 3), drives: []fusedDrive{{number: 0, misfitM: .8}, {number: 1, misfitM: .9}, {number: 2, misfitM: .7}}}
	fits := make([]DriveFit, 3)
	if !worst.dropWorst(fits) || fits[1].Why == "" || fits[1].MisfitRMSM != .9 || fits[0].Why != "" || len(worst.drives) != 2 || worst.drives[1].number != 2 {
		t.Errorf("%+v, %+v", fits, worst.drives)
	}
	worst.drives = worst.drives[1:]
	if worst.dropWorst(fits) {
		t.Error("a sound drive was left out")
	}
}

// A drive serves from 500 m of the road on, with heights at half of its nodes; a grade line
// of ten nodes takes drives, one of nine none.
func TestWhichDrivesServe(t *testing.T) {
	level := func(nodes int) *fusion {
		p := &routes.Profile{StepM: 10, LengthM: float64(20 * (nodes - 1)), CellM: 30, Noise: routes.Noise{SigmaM: 2, TauM: 200}}
		for range 2*nodes - 1 {
			p.ElevationM, p.GroundM, p.State = append(p.ElevationM, 100), append(p.GroundM, 100), append(p.State, routes.Measured)
		}
		return newFusion(p)
	}
	every := func(fromM, toM, stepM float64) *Drive {
		var d Drive
		for s := fromM; s <= toM; s += stepM {
			d.StationM, d.HeightM, d.SpeedMPS = append(d.StationM, s), append(d.HeightM, 100), append(d.SpeedMPS, 20)
		}
		return &d
	}
	for _, c := range []struct {
		name  string
		nodes int
		drive *Drive
		why   string
	}{
		{"500 m", 60, every(100, 600, 20), ""}, {"480 m", 60, every(100, 580, 20), "cover under 500 m"},
		{"every second node of 500 m", 60, every(100, 620, 40), ""}, {"every third node of 600 m", 60, every(100, 700, 60), "cover under 500 m"},
		{"a line of nine nodes", 9, every(0, 160, 20), "too short"}, {"a line of ten nodes", 10, every(0, 180, 20), "cover under 500 m"},
		{"elsewhere", 60, every(5000, 6000, 20), "no height on this road"},
	} {
		f := level(c.nodes)
		var fit DriveFit
		if got := f.addDrive(0, c.drive, &fit); c.why == "" && got != "" || !strings.Contains(got, c.why) {
			t.Errorf("%s: %q, want %q", c.name, got, c.why)
		}
	}
}
