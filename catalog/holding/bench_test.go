package holding

import (
	"math"
	"testing"
)

// longHill is 20 km at 10 m stations: long waves, a bench, a counter-grade and
// short pitches, from 2,400 m down. Made up for the benchmark and the properties.
func longHill() Hill {
	const n, step = 2000, 10.0
	h := Hill{LocalErrPct: 0.4, GradeErrPct: 0.1, StationM: []float64{0}, ElevationM: []float64{2400}, RadiusM: []float64{math.Inf(1)}}
	for i := range n {
		x := float64(i) * step
		g := 5 + 1.5*math.Sin(x/900) + 0.8*math.Sin(x/130)
		switch {
		case i > 700 && i < 800:
			g = 1
		case i > 1300 && i < 1340:
			g = -2
		case i > 1500 && i < 1508:
			g = 9
		}
		h.StationM = append(h.StationM, x+step)
		h.DowngradePct = append(h.DowngradePct, g)
		h.ElevationM = append(h.ElevationM, h.ElevationM[i]-g/100*step)
		h.RadiusM = append(h.RadiusM, 400+300*math.Sin(x/500))
	}
	return h
}

// Aim: under 1 ms for a 20 km descent at 10 m stations and a 12-speed box.
func BenchmarkAdvise20km(b *testing.B) {
	h, c := longHill(), mustClass(b, "eu-5axle")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Advise(h, c, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkAdvisePlain(b *testing.B) {
	h, c := PlainHill(6, 9656), mustClass(b, "ca-tridem")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Advise(h, c, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// The worst case for the list of hardest stretches: a hill that steepens all the
// way down, so that every span counts.
func BenchmarkAdviseSteepening20km(b *testing.B) {
	h, c := longHill(), mustClass(b, "ca-tridem")
	for i := range h.DowngradePct {
		h.DowngradePct[i] = 3 + 5*float64(i)/2000
		h.ElevationM[i+1] = h.ElevationM[i] - h.DowngradePct[i]/10
	}
	for b.Loop() {
		if _, err := Advise(h, c, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
