package recorded

import (
	"math/rand/v2"
	"testing"
	"time"

	"gradeline/routes"
)

// One truck is one, at any rate of fixes, with noise of 10 m, gaps, and a few wild places; two trucks
// that are a kilometre apart on one road are two.
func TestTwoVehiclesAreTold(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const mPerDeg = 111_200.0
	drive := func(everyMs, startM, fromMs int) (out []routes.Fix) {
		for i := range 600 {
			ms := fromMs + i*everyMs
			m := float64(startM) + .025*float64(i*everyMs)
			out = append(out, routes.Fix{At: time.UnixMilli(int64(ms)), LonDeg: (m + 10*rng.NormFloat64()) / mPerDeg, LatDeg: 10 * rng.NormFloat64() / mPerDeg})
		}
		return out
	}
	for _, everyMs := range []int{100, 1000, 5000, 60000} {
		one := drive(everyMs, 0, 0)
		if n, several := AreSeveral(one); several || n > 0 {
			t.Errorf("one truck, each %d ms: %d jumps", everyMs, n)
		}
		one[100].LonDeg++
		if n, several := AreSeveral(one); several || n != 2 && everyMs < 60000 {
			t.Errorf("one wild place, each %d ms: %d jumps", everyMs, n)
		}
	}
	a, b := drive(1000, 0, 0), drive(1000, 1000, 500)
	var two []routes.Fix
	for i := range a {
		two = append(two, a[i], b[i])
	}
	if n, several := AreSeveral(two); !several || n < 1000 {
		t.Errorf("two trucks: %d jumps", n)
	}
	if n, several := AreSeveral(nil); several || n != 0 {
		t.Error("none")
	}
}
