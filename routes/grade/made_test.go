package grade

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"gradeline/routes"
)

// leg is one tangent; the curve at its end has length curveM, half on each side.
type leg struct{ lengthM, gradePct, curveM float64 }

// heights gives a grade line of tangents and parabolic curves every stepM.
func heights(stepM float64, legs ...leg) []float64 {
	total := 0.0
	for _, l := range legs {
		total += l.lengthM
	}
	grade := func(s float64) float64 {
		at := 0.0
		for i, l := range legs {
			end := at + l.lengthM
			if i+1 < len(legs) && s > end-l.curveM/2 && s < end+l.curveM/2 {
				return l.gradePct + (legs[i+1].gradePct-l.gradePct)*(s-end+l.curveM/2)/l.curveM
			}
			if s <= end {
				return l.gradePct
			}
			at = end
		}
		return legs[len(legs)-1].gradePct
	}
	z := []float64{500}
	for i := 1; float64(i)*stepM <= total+1e-6; i++ {
		h := z[i-1]
		for k := 0; k < 10; k++ {
			h += grade((float64(i-1)+(float64(k)+0.5)/10)*stepM) / 100 * stepM / 10
		}
		z = append(z, h)
	}
	return z
}

// spoil adds the total error usual at a cell size, times factor.
func spoil(z []float64, stepM, cellM, factor float64, seed uint64) []float64 {
	r := rand.New(rand.NewPCG(seed, 7))
	corr := ar(r, len(z), tauFromCell(cellM)/2/stepM)
	out := make([]float64, len(z))
	for i := range z {
		out[i] = z[i] + factor*sigmaFromCell(cellM)*(math.Sqrt(0.7)*corr[i]+math.Sqrt(0.3)*r.NormFloat64())
	}
	return out
}

// ridge adds ground above (or below) the road between two stations, its slope
// against the road steepPct at both ends and flat in the middle third.
func ridge(z []float64, stepM, fromM, toM, heightM float64) {
	for i := range z {
		s := float64(i) * stepM
		if s > fromM && s < toM {
			u := math.Min(s-fromM, toM-s) / (toM - fromM) * 3
			z[i] += heightM * math.Sin(math.Pi/2*math.Min(1, u))
		}
	}
}

func mustRecover(t testing.TB, g *routes.Ground, o Options) *routes.Profile {
	t.Helper()
	q, err := Recover(context.Background(), g, o)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

// rmsePct is the grade RMSE of 100 m means between two stations.
func rmsePct(q *routes.Profile, truth []float64, fromM, toM float64) float64 {
	a, b := max(0, int(fromM/q.StepM)), min(len(truth), int(toM/q.StepM)+1)
	ss, m := gradeSquares(truth[a:b], q.ElevationM[a:b], q.StepM)
	return math.Sqrt(ss / float64(m))
}

// atMost fails where a figure passes its limit and logs it otherwise.
func atMost(t *testing.T, what string, got, limit float64) {
	t.Helper()
	if !(got <= limit) {
		t.Errorf("%s: %.3f, limit %.3f", what, got, limit)
	} else {
		t.Logf("%s: %.3f (limit %.3f)", what, got, limit)
	}
}

var rolling = []leg{{1500, 2, 200}, {2500, -5, 300}, {1800, 1, 200}, {2200, 6, 300}, {2000, -3, 0}}
