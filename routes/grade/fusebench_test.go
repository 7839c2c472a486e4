package grade

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"syscall"
	"testing"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// BenchmarkFuse is the cost of drives on a road of 20 km, as milliseconds of a core for each
// kilometre and drive.
func BenchmarkFuse(b *testing.B) {
	for _, n := range []int{1, 3, 10} {
		b.Run(fmt.Sprintf("%d drives", n), func(b *testing.B) {
			rng := rand.New(rand.NewPCG(5, 6))
			p, _ := fusedHill(rng)
			truthM := func(s float64) float64 { return 900 - .06*3000/math.Pi*math.Sin(s/3000*math.Pi) }
			p.LengthM, p.GroundM, p.ElevationM, p.State = 20000, nil, nil, nil
			for i := range 2001 {
				h := truthM(float64(i) * 10)
				p.GroundM, p.ElevationM, p.State = append(p.GroundM, h+2*rng.NormFloat64()), append(p.ElevationM, h), append(p.State, 0)
			}
			var drives []Drive
			for range n {
				var d Drive
				drift := 0.0
				for s := 0.0; s <= p.LengthM; s += 20 {
					drift += 2 * math.Sqrt(20/10e3) * rng.NormFloat64()
					d.StationM, d.HeightM, d.SpeedMPS = append(d.StationM, s), append(d.HeightM, truthM(s)+drift+.4*rng.NormFloat64()), append(d.SpeedMPS, 20)
				}
				drives = append(drives, d)
			}
			began := processorS()
			for b.Loop() {
				if _, fits, err := Fuse(context.Background(), p, drives); err != nil || !fits[0].IsUsed {
					b.Fatal(fits, err)
				}
			}
			b.ReportMetric(1e3*(processorS()-began)/float64(b.N)/20/float64(n), "cpu-ms/km/drive")
		})
	}
}

// processorS is the processor time of this process: other programs do not count.
func processorS() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return math.NaN()
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)/1e6
}

// Several right-hand sides at once give what LAPACK gives for each.
func TestBandSolveIsLapacks(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	const n, k, cols = 60, 7, 4
	a := make([]float64, n*(k+1))
	for i := range n {
		a[i*(k+1)] = 20
		for j := 1; j <= k && i+j < n; j++ {
			a[i*(k+1)+j] = rng.NormFloat64()
		}
	}
	u, ok := lapack64.Pbtrf(blas64.SymmetricBand{Uplo: blas.Upper, N: n, K: k, Stride: k + 1, Data: a})
	if !ok {
		t.Fatal("not positive definite")
	}
	got := make([]float64, n*cols)
	for i := range got {
		got[i] = rng.NormFloat64()
	}
	want := slices.Clone(got)
	lapack64.Pbtrs(u, blas64.General{Rows: n, Cols: cols, Stride: cols, Data: want})
	forwardBand(u, got, cols)
	backwardBand(u, got, cols)
	for i := range got {
		if math.Abs(got[i]-want[i]) > 1e-12 {
			t.Fatalf("%d: %g, LAPACK %g", i, got[i], want[i])
		}
	}
}
