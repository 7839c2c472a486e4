package survey

import (
	"context"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/routes/stationing"
)

// BenchmarkExtract reads and joins the Delaware extract of paulmach/osm's test data, and
// surveys each 40th of its roads over drawn hills, next to straight lines of 20 km there.
func BenchmarkExtract(b *testing.B) {
	ctx, class := context.Background(), testClass(b)
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/paulmach/osm").Output()
	if err != nil {
		b.Fatal(err)
	}
	file := filepath.Join(strings.TrimSpace(string(out)), "testdata", "delaware-latest.osm.pbf")
	var roads []routes.Route
	b.Run("read", func(b *testing.B) {
		for b.Loop() {
			list, _ := network.Read(ctx, []string{file}, network.Options{})
			roads = roads[:0]
			for r, err := range list {
				if err != nil {
					b.Fatal(err)
				}
				roads = append(roads, r)
			}
		}
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		b.ReportMetric(kmOf(roads), "km")
		b.ReportMetric(float64(m.Sys>>20), "MB-of-memory")
	})
	var some []routes.Route
	for i := 0; i < len(roads); i += 40 {
		some = append(some, roads[i])
	}
	var lines []routes.Route
	for i := range 10 {
		const lengthM = 20_000.0
		r := routes.Route{ID: "line", Line: orb.LineString{{-75.5, 38.5 + 0.1*float64(i)}, {-75.5 + lengthM/degreeEastM, 38.5 + 0.1*float64(i)}}}
		r.LengthM = stationing.DistanceM(r.Line[0], r.Line[1])
		r.VertexM = []float64{0, r.LengthM}
		lines = append(lines, r)
	}
	rng := rand.New(rand.NewPCG(7, 7))
	ground := drawnGround{}
	for range 40 {
		ground.hills = append(ground.hills, [4]float64{(rng.Float64() - 83.8) * degreeEastM, (rng.Float64()*1.4 - 7.6) * degreeNorthM, 40 + 100*rng.Float64(), 1500 + 2000*rng.Float64()})
	}
	o := Options{Classes: []vehicle.Class{class}}
	for name, list := range map[string][]routes.Route{"roads": some, "lines": lines} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				for i := range list {
					if res := One(ctx, ground, &list[i], o); res.Err != nil {
						b.Fatal(res.Err)
					}
				}
			}
			b.ReportMetric(kmOf(list), "km")
			b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N)/kmOf(list), "ms/km")
		})
	}
}

func kmOf(list []routes.Route) float64 {
	sum := 0.0
	for i := range list {
		sum += list[i].LengthM / 1000
	}
	return sum
}
