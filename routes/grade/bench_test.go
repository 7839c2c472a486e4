package grade

import (
	"context"
	"fmt"
	"math"
	"testing"
)

// BenchmarkRecover shows the time per kilometre, which must not grow with length.
func BenchmarkRecover(b *testing.B) {
	for _, cell := range []float64{1, 10, 30, 90} {
		for _, km := range []int{10, 100, 1000} {
			dx := stepFromCell(cell)
			z := make([]float64, km*1000/int(dx)+1)
			for i := range z {
				z[i] = 300 * math.Sin(float64(i)*dx/9000)
			}
			g := lineGround(spoil(z, dx, cell, 1, 1), dx, cell)
			b.Run(fmt.Sprintf("cell=%g/km=%d", cell, km), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if _, err := Recover(context.Background(), g, Options{}); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N)/float64(km), "ms/km")
			})
		}
	}
}
