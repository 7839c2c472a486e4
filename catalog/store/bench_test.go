package store

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"runtime"
	"sort"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/routes"
)

var descentCount = flag.Int("descents", 1000, "size of the catalogue of TestSizeAndTime; 100000 is the measure")

// sized makes a survey of n routes with two descents of five classes each,
// spread over a country of 40 by 20 degrees.
func sizedSurvey(r *rand.Rand, k int) RouteSurvey {
	rs := survey(fmt.Sprintf("road %d", k), 0)
	rs.ClassesUsed = nil
	lon, lat := -120+40*r.Float64(), 30+20*r.Float64()
	for j := range 2 {
		e := hill(rs.Route.ID, j, routes.Forward)
		for i := range e.Line {
			e.Line[i].LonDeg = lon + float64(j)*0.1 + float64(i)*0.001
			e.Line[i].LatDeg = lat + float64(i)*0.001
		}
		for len(e.Line) < 60 {
			v := e.Line[len(e.Line)-1]
			v.LonDeg += 1e-4
			v.StationM += 10
			e.Line = append(e.Line, v)
		}
		e.Holds = nil
		for h := range 5 {
			e.Holds = append(e.Holds, catalog.Hold{
				Class: fmt.Sprintf("class-%d", h), MassKg: 20000 + 6000*float64(h), Holds: r.IntN(5) > 0, Gear: 5, Ratio: 3.1, Stage: 3,
				SpeedMPS: 5 + float64(r.IntN(15)), EngineRPM: 1900, RetarderUsePct: 80, LimitedBy: catalog.LimitRetarder, HeaviestMassKg: 51234.5,
				Cautions: catalog.Cautions()[:1], OneGearUp: "one gear higher it would run away after 800 m",
				Words: catalog.Words{US: "Gear 5 and 20 mph hold on the retarder alone.", Metric: "Gear 5 and 32 km/h hold on the retarder alone."},
			})
		}
		rs.Entries = append(rs.Entries, e)
	}
	return rs
}

// The measure of the catalogue: rows written a second, size, a box of about ten
// descents, and the whole list. The figures depend on the machine and are only
// told; that all rows come back is asserted.
func TestSizeAndTime(t *testing.T) {
	const seed = 7
	r := rand.New(rand.NewPCG(seed, 2))
	c, path := fresh(t)
	s := c.BeginSurvey(SaveOptions{By: "bench"})
	start := time.Now()
	for k := range *descentCount / 2 {
		if _, err := s.Save(ctx, sizedSurvey(r, k)); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	wrote := time.Since(start)
	st, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	rows := float64(*descentCount * 6)
	t.Logf("%d descents × 5 classes: %.2f s, %.0f descents and holds a second, %.0f MB", *descentCount, wrote.Seconds(), rows/wrote.Seconds(), float64(st.Size())/1e6)

	// A box that holds about ten of the descents.
	side := 20 * 3.16 / sqrtInt(*descentCount)
	for _, f := range []Filter{{NoHolds: true}, {Brief: true}, {}} {
		var took []time.Duration
		met := 0
		for range 300 {
			b := &Box{WestDeg: -120 + (40-2*side)*r.Float64(), SouthDeg: 30 + (20-side)*r.Float64()}
			b.EastDeg, b.NorthDeg = b.WestDeg+2*side, b.SouthDeg+side
			t0 := time.Now()
			f.BBox = b
			list, err := c.Descents(ctx, f)
			took = append(took, time.Since(t0))
			if err != nil {
				t.Fatal(err)
			}
			met += len(list)
		}
		sort.Slice(took, func(i, j int) bool { return took[i] < took[j] })
		t.Logf("box of %.1f descents, without holds %v, brief %v: p50 %v, p99 %v", float64(met)/300, f.NoHolds, f.Brief, took[150], took[297])
	}
	t0 := time.Now()
	n := 0
	if err := c.Each(ctx, Filter{Brief: true}, func(catalog.Entry) error { n++; return nil }); err != nil {
		t.Fatal(err)
	}
	whole := time.Since(t0)
	t0 = time.Now()
	if _, err := c.Descents(ctx, Filter{Limit: 50}); err != nil {
		t.Fatal(err)
	}
	first := time.Since(t0)
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	t.Logf("list of all %d: %v; the 50 most dangerous: %v; %.0f MB of Go memory taken", n, whole, first, float64(m.Sys)/1e6)
	if n != *descentCount {
		t.Errorf("listed %d of %d", n, *descentCount)
	}
}

func sqrtInt(n int) float64 {
	x := float64(n)
	for range 60 {
		x = (x + float64(n)/x) / 2
	}
	return x
}
