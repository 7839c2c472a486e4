package recorded

import (
	"math"
	"math/rand/v2"
	"syscall"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// BenchmarkLay is the cost of laying a drive at 1 Hz and 60 km/h on a winding road of 20 km with a
// point every 10 m, as milliseconds of a core for each kilometre.
func BenchmarkLay(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	const mPerDeg = 111_200.0
	var points []orb.Point
	var distanceM []float64
	x, y, heading := 0.0, 0.0, 0.0
	for i := range 2001 {
		points, distanceM = append(points, orb.Point{x / mPerDeg, y / mPerDeg}), append(distanceM, 10*float64(i))
		heading += .12 * math.Sin(float64(i)/25)
		x, y = x+10*math.Cos(heading), y+10*math.Sin(heading)
	}
	var fixes []routes.Fix
	for s := 0.0; s < 20000; s += 60 / 3.6 {
		i := int(s / 10)
		t := s/10 - float64(i)
		at := func(k int) float64 {
			return points[i][k] + t*(points[i+1][k]-points[i][k]) + 4*rng.NormFloat64()/mPerDeg
		}
		fixes = append(fixes, routes.Fix{At: time.Unix(int64(len(fixes)), 0), LonDeg: at(0), LatDeg: at(1)})
	}
	line, ok := NewLine(points, distanceM, points[1000])
	if !ok {
		b.Fatal("no line")
	}
	began := processorS()
	for b.Loop() {
		on, _ := line.Lay(fixes)
		if list, _ := Passes(on); len(list) != 1 || len(on) != len(fixes) {
			b.Fatalf("%d passes, %d of %d fixes", len(list), len(on), len(fixes))
		}
	}
	b.ReportMetric(1e3*(processorS()-began)/float64(b.N)/20, "cpu-ms/km/drive")
}

// processorS is the processor time of this process: other programs do not count.
func processorS() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return math.NaN()
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)/1e6
}
