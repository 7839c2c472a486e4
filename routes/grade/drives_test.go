package grade

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"gonum.org/v1/gonum/mat"

	"gradeline/routes"
)

// fusedHill is a grade line as a raster of 30 m cells gives it: 6 km, of which 3 fall by
// 6 %, and its truth.
func fusedHill(rng *rand.Rand) (p *routes.Profile, truthM func(float64) float64) {
	truthM = func(s float64) float64 { return 900 - .06*math.Max(0, math.Min(3000, s-1500)) }
	p = &routes.Profile{StepM: 10, LengthM: 6000, CellM: 30, Noise: routes.Noise{SigmaM: sigmaFromCell(30), TauM: tauFromCell(30)}, Reliable: true, Bound: errorModel(30, sigmaFromCell(30))}
	e, phi := 0.0, math.Exp(-10/p.Noise.TauM)
	for i := range 601 {
		e = phi*e + math.Sqrt(1-phi*phi)*p.Noise.SigmaM*rng.NormFloat64()
		h := truthM(float64(i)*10) + e
		p.GroundM, p.ElevationM, p.State = append(p.GroundM, h+rng.NormFloat64()), append(p.ElevationM, h), append(p.State, routes.Measured)
	}
	return p, truthM
}

// barometerDrive is a drive over it with white noise and drift.
func barometerDrive(rng *rand.Rand, truthM func(float64) float64, whiteM float64, change func(s, h float64) float64) Drive {
	var d Drive
	drift := 30.0
	for s := 0.0; s <= 6000; s += 20 {
		drift += 2 * math.Sqrt(20/10e3) * rng.NormFloat64()
		h := truthM(s) + drift + whiteM*rng.NormFloat64()
		if change != nil {
			h = change(s, h)
		}
		d.StationM, d.HeightM, d.SpeedMPS = append(d.StationM, s), append(d.HeightM, h), append(d.SpeedMPS, 20)
	}
	return d
}

func rmsGradePct(p *routes.Profile, truthM func(float64) float64) float64 {
	sum, n := 0.0, 0
	for s := 0.0; s+100 <= p.LengthM; s += 100 {
		e := p.ElevationAtM(s+100) - p.ElevationAtM(s) - truthM(s+100) + truthM(s)
		sum, n = sum+e*e, n+1
	}
	return math.Sqrt(sum / float64(n))
}

// Three sound drives bring the grade line nearer to the truth and its bounds with it.
func TestDrivesSharpenAGradeLine(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	p, truthM := fusedHill(rng)
	drives := []Drive{barometerDrive(rng, truthM, .3, nil), barometerDrive(rng, truthM, .3, nil), barometerDrive(rng, truthM, .3, nil)}
	before := append([]float64(nil), p.ElevationM...)
	q, fits, err := Fuse(context.Background(), p, drives)
	if err != nil {
		t.Fatal(err)
	}
	if a, b := rmsGradePct(q, truthM), rmsGradePct(p, truthM); a > .35*b {
		t.Errorf("grade RMSE %.3f with drives, %.3f without", a, b)
	}
	for i, spanM := range q.Bound.SpanM {
		if q.Bound.SpanPct[i] > p.Bound.SpanPct[i] {
			t.Errorf("the bound over %.0f m is wider: %.3f, %.3f", spanM, q.Bound.SpanPct[i], p.Bound.SpanPct[i])
		}
	}
	for i, f := range fits {
		if !f.IsUsed || f.MisfitRMSM > .5 {
			t.Errorf("drive %d: %+v", i, f)
		}
	}
	for i := range before {
		if before[i] != p.ElevationM[i] {
			t.Fatal("the profile that was given is changed")
		}
	}
}

// A barometer that jumps about is left out by name and does no harm; one that covers a
// part of the road leaves the raster's bounds elsewhere.
func TestABadDriveIsLeftOut(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	p, truthM := fusedHill(rng)
	good := []Drive{barometerDrive(rng, truthM, .3, nil), barometerDrive(rng, truthM, .3, nil)}
	bad := barometerDrive(rng, truthM, 1.6, nil)
	short := barometerDrive(rng, truthM, .3, nil)
	short.StationM, short.HeightM, short.SpeedMPS = short.StationM[:15], short.HeightM[:15], short.SpeedMPS[:15]
	without, _, err := Fuse(context.Background(), p, good)
	if err != nil {
		t.Fatal(err)
	}
	q, fits, err := Fuse(context.Background(), p, append(good, bad, short))
	if err != nil {
		t.Fatal(err)
	}
	if !fits[0].IsUsed || !fits[1].IsUsed || fits[2].IsUsed || !strings.Contains(fits[2].Why, "sound barometer") || fits[3].IsUsed || !strings.Contains(fits[3].Why, "cover under 500 m") {
		t.Errorf("%+v", fits)
	}
	if a, b := rmsGradePct(q, truthM), rmsGradePct(without, truthM); a > 1.1*b {
		t.Errorf("grade RMSE %.3f with the bad drive, %.3f without", a, b)
	}
	half := good[0]
	half.StationM, half.HeightM, half.SpeedMPS = half.StationM[:150], half.HeightM[:150], half.SpeedMPS[:150]
	if q, _, err = Fuse(context.Background(), p, []Drive{half}); err != nil {
		t.Fatal(err)
	}
	if got, want := q.BoundOver(4000, 5000).ElevationM, p.Bound.ElevationM; got != want {
		t.Errorf("beyond the drive heights are within %.2f m, by the raster %.2f m", got, want)
	}
}

// Drives that say nothing, or nonsense, never break a grade line.
func TestNonsenseDrives(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 1))
	p, truthM := fusedHill(rng)
	for name, change := range map[string]func(s, h float64) float64{
		"constant":  func(float64, float64) float64 { return 500 },
		"no number": func(float64, float64) float64 { return math.NaN() },
		"upside":    func(_, h float64) float64 { return -h },
		"wild":      func(s, _ float64) float64 { return 1e5 * math.Sin(s) },
	} {
		d := barometerDrive(rng, truthM, .3, change)
		q, fits, err := Fuse(context.Background(), p, []Drive{d})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if fits[0].IsUsed || fits[0].Why == "" || q.Bound.ElevationM != p.Bound.ElevationM {
			t.Errorf("%s: %+v", name, fits[0])
		}
	}
}

// The elimination of nodes and globals against a dense solution of the same normal
// equations by gonum's mat.
func TestFusionAgainstDenseLeastSquares(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	p, truthM := fusedHill(rng)
	d := barometerDrive(rng, truthM, .3, nil)
	f := newFusion(p)
	var fit DriveFit
	if why := f.addDrive(0, &d, &fit); why != "" {
		t.Fatal(why)
	}
	f.assemble()
	s := &f.sys
	n := s.n + len(s.cornerB)
	dense, right := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for r := range s.n {
		for k := 0; k <= s.band && r+k < s.n; k++ {
			dense.SetSym(r, r+k, s.a[r*(s.band+1)+k])
		}
		for c := range s.cornerB {
			dense.SetSym(r, s.n+c, s.border[r*len(s.cornerB)+c])
		}
		right.SetVec(r, s.b[r])
	}
	for c := range s.cornerB {
		for e := c; e < len(s.cornerB); e++ {
			dense.SetSym(s.n+c, s.n+e, s.corner.At(c, e))
		}
		right.SetVec(s.n+c, s.cornerB[c])
	}
	var chol mat.Cholesky
	if !chol.Factorize(dense) {
		t.Fatal("not positive definite")
	}
	var want mat.VecDense
	if err := chol.SolveVecTo(&want, right); err != nil {
		t.Fatal(err)
	}
	if _, ok := f.step(true); !ok {
		t.Fatal("no solution")
	}
	for i := range f.x {
		if w := want.AtVec(i * s.perNode); math.Abs(f.x[i]-w) > 1e-5 {
			t.Fatalf("node %d at %.6f m, dense %.6f m", i, f.x[i], w)
		}
	}
	for c := range 3 {
		if w := want.AtVec(s.n + c); math.Abs(f.drives[0].global[c]-w) > 1e-7 {
			t.Errorf("global %d is %g, dense %g", c, f.drives[0].global[c], w)
		}
	}
}

// A grade line from drives alone is near the truth in shape, its bound holds although all drives
// share a scale that is 3 % wrong, and it is wider than with a raster.
func TestDrivesAlone(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 6))
	p, truthM := fusedHill(rng)
	stretched := func(s, h float64) float64 { return 850 + 1.03*(h-850) }
	var drives []Drive
	for k := range 4 {
		d := barometerDrive(rng, truthM, .3, stretched)
		if k%2 == 1 {
			d.IsBackward = true
			for i, j := 0, len(d.StationM)-1; i < j; i, j = i+1, j-1 {
				d.StationM[i], d.StationM[j] = d.StationM[j], d.StationM[i]
				d.HeightM[i], d.HeightM[j] = d.HeightM[j], d.HeightM[i]
			}
		}
		drives = append(drives, d)
	}
	bare := *p
	bare.GroundM, bare.ElevationM, bare.State, bare.Points = nil, nil, nil, make([]orb.Point, 601)
	q, fits, err := FromDrives(context.Background(), &bare, drives)
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range fits {
		if !f.IsUsed {
			t.Errorf("drive %d: %+v", i, f)
		}
	}
	with, _, err := Fuse(context.Background(), p, drives)
	if err != nil {
		t.Fatal(err)
	}
	got, want := (q.ElevationAtM(1500)-q.ElevationAtM(4500))/30, 6.0
	bound := q.MeanErrPct(1500, 4500)
	if math.Abs(got-want) > bound || math.Abs(got-1.03*want) > .1 {
		t.Errorf("a mean of %.2f ± %.2f, the truth is %.2f", got, bound, want)
	}
	// The scale of a season is known to 3 % (one standard deviation), so the bound is at least 1.96 times that.
	if least := 1.96 * driveCommonScale * want; bound < least || bound <= with.MeanErrPct(1500, 4500) {
		t.Errorf("bound %.2f, at least %.2f; with a raster %.2f", bound, least, with.MeanErrPct(1500, 4500))
	}
	if rms := rmsGradePct(q, truthM); rms > .3 {
		t.Errorf("grade RMSE %.3f", rms)
	}
	for name, list := range map[string][]Drive{"two": drives[:2], "one way": {drives[0], drives[2], drives[0]}, "none": nil} {
		if _, _, err := FromDrives(context.Background(), &bare, list); err == nil {
			t.Errorf("%s gave a grade line", name)
		}
	}
}
