package grade

import (
	"flag"
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"

	"gradeline/terrain/synth"
)

var (
	oracleFrom  = flag.Uint64("oracle.from", 74001, "first seed of BenchmarkOracle")
	oracleRoads = flag.Int("oracle.roads", 24, "roads of BenchmarkOracle at each cell size")
)

// oracleRoad is a drawn road at even stations of about 10 m: the truth, the ground's error, and which
// stations rest on the road's own ground without a gross error.
type oracleRoad struct {
	stepM         float64
	truth, errorM []float64
	onGround      []bool
}

const oracleStepM = 10.0

func drawOracleRoad(b *testing.B, o synth.Options) (*roadCase, *oracleRoad) {
	rc := synthCase(b, o)
	road, err := synth.NewRoad(o)
	if err != nil {
		b.Fatal(err)
	}
	every := max(1, int(math.Round(oracleStepM/rc.ground.StepM)))
	r := &oracleRoad{stepM: float64(every) * rc.ground.StepM}
	centre := 0
	for i, m := range rc.ground.OffsetM {
		if m == 0 {
			centre = i
		}
	}
	for i := 0; i < rc.ground.Count(); i += every {
		z := float64(rc.ground.SectionM[i*len(rc.ground.OffsetM)+centre])
		on := math.Abs(z-rc.truth[i]) <= gmEnd*sigmaFromCell(o.CellM) // false without a height
		for _, s := range road.Structures {
			at := float64(i) * rc.ground.StepM
			on = on && (at < s.FromM-o.CellM || at > s.ToM+o.CellM)
		}
		r.truth, r.errorM, r.onGround = append(r.truth, rc.truth[i]), append(r.errorM, z-rc.truth[i]), append(r.onGround, on)
	}
	return rc, r
}

// covariance is the autocovariance of the ground's error over all roads, by lag in stations.
func covariance(roads []*oracleRoad, lags int) []float64 {
	out, count := make([]float64, lags), make([]float64, lags)
	for _, r := range roads {
		for i := range r.truth {
			for k := 0; k < lags && i+k < len(r.truth); k++ {
				if r.onGround[i] && r.onGround[i+k] {
					out[k] += r.errorM[i] * r.errorM[i+k]
					count[k]++
				}
			}
		}
	}
	for k := range out { // tapered, so that it stays positive definite
		out[k] *= (1 - float64(k)/float64(lags)) / math.Max(1, count[k])
	}
	return out
}

// curveShapes are the height that each vertical curve of the truth adds for a change of grade of one,
// by station: where each curve is and what form it has, but not by how much it turns.
func curveShapes(r *oracleRoad) (shapes [][]float64, changes []float64) {
	const least = 1e-5 // 1/m: radii over 100 km are tangents
	n := len(r.truth)
	bend := make([]float64, n)
	for i := 1; i+1 < n; i++ {
		bend[i] = (r.truth[i+1] - 2*r.truth[i] + r.truth[i-1]) / r.stepM
	}
	for i := 1; i+1 < n; {
		from := i
		for i+1 < n && math.Abs(bend[i]) > least*r.stepM && math.Signbit(bend[i]) == math.Signbit(bend[from]) {
			i++
		}
		if i == from {
			i++
			continue
		}
		change := 0.0
		for _, v := range bend[from:i] {
			change += v
		}
		shape := make([]float64, n)
		grade, height := 0.0, 0.0
		for k := from; k < n; k++ {
			shape[k] = height
			if k < i {
				grade += bend[k] / change
			}
			height += grade * r.stepM
		}
		shapes, changes = append(shapes, shape), append(changes, change)
	}
	return shapes, changes
}

// oracleHeights is the best linear estimate of a road's heights by one who knows the covariance of
// the ground's error over all the roads, all structures and gross errors, and where every vertical
// curve is, and of the grades only how much they usually change.
func oracleHeights(b *testing.B, r *oracleRoad, cov []float64, changeSD float64) []float64 {
	shapes, _ := curveShapes(r)
	n := len(r.truth)
	level, slope := make([]float64, n), make([]float64, n)
	for i := range n {
		level[i], slope[i] = 1, float64(i)*r.stepM
	}
	columns := append([][]float64{level, slope}, shapes...)
	var rows []int
	for i, on := range r.onGround {
		if on {
			rows = append(rows, i)
		}
	}
	c, a, y := mat.NewSymDense(len(rows), nil), mat.NewDense(len(rows), len(columns), nil), mat.NewVecDense(len(rows), nil)
	for i, at := range rows {
		for k := i; k < len(rows); k++ {
			if lag := rows[k] - at; lag < len(cov) {
				c.SetSym(i, k, cov[lag])
			}
		}
		c.SetSym(i, i, cov[0]*1.0001)
		for k := range columns {
			a.Set(i, k, columns[k][at])
		}
		y.SetVec(i, r.truth[at]+r.errorM[at])
	}
	var chol mat.Cholesky
	if !chol.Factorize(c) {
		b.Fatal("the covariance is not positive definite")
	}
	var ca mat.Dense
	var cy, right, theta mat.VecDense
	if err := chol.SolveTo(&ca, a); err != nil {
		b.Fatal(err)
	}
	if err := chol.SolveVecTo(&cy, y); err != nil {
		b.Fatal(err)
	}
	var normal mat.Dense
	normal.Mul(a.T(), &ca)
	for k := 1; k < len(columns); k++ {
		normal.Set(k, k, normal.At(k, k)+1/(changeSD*changeSD))
	}
	right.MulVec(a.T(), &cy)
	if err := theta.SolveVec(&normal, &right); err != nil {
		b.Fatal(err)
	}
	out := make([]float64, n)
	for k, column := range columns {
		for i := range out {
			out[i] += theta.AtVec(k) * column[i]
		}
	}
	return out
}

// BenchmarkOracle prints the error of grades over 100 m of road on its own ground: of the grade line,
// and of the best linear estimate of an oracle (oracleHeights).
func BenchmarkOracle(b *testing.B) {
	for b.Loop() {
		for _, cellM := range []float64{10, 30, 90} {
			var cases []*roadCase
			var roads []*oracleRoad
			sum, count := 0.0, 0.0
			for i := range *oracleRoads {
				rc, r := drawOracleRoad(b, synth.Options{Seed: *oracleFrom + uint64(i), CellM: cellM, LengthM: 9000})
				cases, roads = append(cases, rc), append(roads, r)
				_, changes := curveShapes(r)
				for _, g := range changes {
					sum, count = sum+g*g, count+1
				}
			}
			cov := covariance(roads, int(4*tauFromCell(cellM)/oracleStepM))
			var ours, oracle, m float64
			for i, r := range roads {
				p := mustRecover(b, cases[i].ground, Options{})
				best := oracleHeights(b, r, cov, math.Sqrt(sum/count))
				w := int(math.Round(100 / r.stepM))
				for k := 0; k+w < len(r.truth); k += w {
					from, to := float64(k)*r.stepM, float64(k+w)*r.stepM
					isOut := true
					for _, on := range r.onGround[k : k+w+1] {
						isOut = isOut && on
					}
					e := 100 * (p.ElevationAtM(to) - p.ElevationAtM(from) - r.truth[k+w] + r.truth[k]) / (to - from)
					if !isOut || math.IsNaN(e) {
						continue
					}
					o := 100 * (best[k+w] - best[k] - r.truth[k+w] + r.truth[k]) / (to - from)
					ours, oracle, m = ours+e*e, oracle+o*o, m+1
				}
			}
			fmt.Printf("%g m cells: %d roads, %.0f places of 100 m, ground's error %.2f m; grade line %.3f, oracle %.3f points\n",
				cellM, len(roads), m, math.Sqrt(cov[0]), math.Sqrt(ours/m), math.Sqrt(oracle/m))
		}
	}
}
