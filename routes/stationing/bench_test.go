package stationing

import (
	"context"
	"fmt"
	"testing"

	"gradeline/routes"
)

func BenchmarkSample(b *testing.B) {
	line := winding(newRand(1), 4000) // about 100 km
	for _, o := range []Options{{StepM: 5}, {StepM: 5, HalfWidthM: 16, OffsetStepM: 2}} {
		b.Run(fmt.Sprintf("half width %g m", o.HalfWidthM), func(b *testing.B) {
			r := routeOf(b, line)
			s := flatSurface{&plane{origin: line[0], cellM: 10}}
			for b.Loop() {
				g, err := Sample(context.Background(), s, r, o)
				if err != nil || g.Count() < 1000 {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/(r.LengthM/1000), "ns/km")
		})
	}
}

func BenchmarkAssemble(b *testing.B) {
	line := winding(newRand(1), 50_000)
	var fs []routes.Feature
	for i := 0; i+5 < len(line); i += 5 {
		fs = append(fs, feature(i+1, line[i:i+6], "route", "R", "maxspeed", "50"))
	}
	for b.Loop() {
		if rs, _ := Assemble(fs); len(rs) != 1 {
			b.Fatal(len(rs))
		}
	}
}
