package store

import (
	"database/sql/driver"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
	"unsafe"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/routes"
)

// sizedSurvey makes a route with two descents of five classes each,
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

// asSurveyed gives a survey the bulk of a real one: the advice for nine classes as a
// survey of the demo wrote it, each descent's figures varied, a vertex each 10 m, and the
// profile each 5 m.
func asSurveyed(r *rand.Rand, rs RouteSurvey, real []catalog.Entry) RouteSurvey {
	rs.Profile = roughProfile(r, 30000)
	for i := range rs.Entries {
		e := &rs.Entries[i]
		for v := e.Line[len(e.Line)-1]; len(e.Line) < 475; e.Line = append(e.Line, v) {
			v.LonDeg += 1e-4
			v.LatDeg += 1e-5 * math.Sin(v.StationM/150)
			v.ElevationM -= 0.6 + 0.2*math.Sin(v.StationM/400)
			v.StationM += 10
		}
		for k := range e.Line { // as a survey rounds it
			v := &e.Line[k]
			v.LonDeg, v.LatDeg, v.ElevationM, v.StationM = math.Round(1e7*v.LonDeg)/1e7, math.Round(1e7*v.LatDeg)/1e7, math.Round(1e4*v.ElevationM)/1e4, math.Round(1e3*v.StationM)/1e3
		}
		e.Holds = e.Holds[:0]
		for _, h := range real[r.IntN(len(real))].Holds {
			varyHold(r, &h)
			e.Holds = append(e.Holds, h)
		}
	}
	return rs
}

// varyHold makes another hill's advice of one: figures up to a tenth off, other digits in
// the words.
func varyHold(r *rand.Rand, h *catalog.Hold) {
	f := 0.9 + 0.2*r.Float64()
	for _, v := range []*float64{&h.EngineRPM, &h.RetarderUsePct, &h.HeaviestMassKg, &h.FrictionNeeded, &h.FrictionApplied, &h.MassLightKg, &h.SlowFromM, &h.GearByM, &h.TimeS, &h.DemandPowerW, &h.AvailablePowerW} {
		*v *= f
	}
	digits := func(s string) string {
		b := []byte(s)
		for i, c := range b {
			if c >= '1' && c <= '9' {
				b[i] = byte('1' + r.IntN(9))
			}
		}
		return string(b)
	}
	h.Words.US, h.Words.Metric, h.OneGearUp, h.HeatCase = digits(h.Words.US), digits(h.Words.Metric), digits(h.OneGearUp), digits(h.HeatCase)
	h.Heat = slices.Clone(h.Heat)
	for i := range h.Heat {
		s := &h.Heat[i]
		*s = catalog.HeatStation{StationM: math.Round(10*f*s.StationM) / 10, TempC: math.Ceil(10*f*s.TempC) / 10, BalanceC: math.Ceil(10*f*s.BalanceC) / 10, StrokeM: math.Ceil(1e5*s.StrokeM) / 1e5, ForceShare: math.Floor(1e4*s.ForceShare) / 1e4}
	}
	h.Gears = slices.Clone(h.Gears)
	for i := range h.Gears {
		h.Gears[i].StationM *= f
	}
	h.Limits = slices.Clone(h.Limits)
	for i := range h.Limits {
		h.Limits[i].StationM *= f
		h.Limits[i].LengthM *= f
		h.Limits[i].Note = digits(h.Limits[i].Note)
	}
}

// roughProfile is a road with curves over ground with a noise of 1.2 m.
func roughProfile(r *rand.Rand, lengthM float64) *routes.Profile {
	p := plainProfile(lengthM * 2)
	p.StepM, p.LengthM = 5, lengthM
	for i := range p.ElevationM {
		x := float64(i)
		p.ElevationM[i] = 2000 - 0.3*x - 20*math.Sin(x/120)
		p.GroundM[i] = p.ElevationM[i] + 1.2*r.NormFloat64()
		p.Points[i] = orb.Point{11 + 6e-5*x, 46 + 1e-3*math.Sin(x/60)}
		p.RadiusM[i], p.EaseM[i] = math.Inf(1), 0.4*math.Sin(x/90)
		if i%80 < 20 {
			p.RadiusM[i] = float64(60 + i/80%40*10)
		}
	}
	return p
}

// demoEntries are those of a real survey of the demo's road.
func demoEntries(t testing.TB) []catalog.Entry {
	c, err := Open(ctx, version3(t), Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	list, err := c.Descents(ctx, Filter{})
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// fillSized writes n descents of five classes (nine where they are whole), route after
// route, and gives the time inside the store alone, and what all threads worked in it. As in a
// survey, they are packed on all processors while others are saved.
func fillSized(t testing.TB, c *Catalog, r *rand.Rand, n int, whole bool) (wrote, worked time.Duration) {
	s := c.BeginSurvey(SaveOptions{By: "bench"})
	var real []catalog.Entry
	if whole {
		real = demoEntries(t)
	}
	const atOnce = 50 // roads that are drawn at random before their time is measured
	for k := 0; k < n/2; k += atOnce {
		var roads []RouteSurvey
		for i := k; i < min(k+atOnce, n/2); i++ {
			rs := sizedSurvey(r, i)
			if whole {
				rs = asSurveyed(r, rs, real)
			}
			roads = append(roads, rs)
		}
		start, cpu := time.Now(), cpuTime(t)
		saveAll(t, s, roads)
		wrote, worked = wrote+time.Since(start), worked+cpuTime(t)-cpu
	}
	start, cpu := time.Now(), cpuTime(t)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return wrote + time.Since(start), worked + cpuTime(t) - cpu
}

// saveAll packs and saves roads as a survey does.
func saveAll(t testing.TB, s *Survey, roads []RouteSurvey) {
	ready := make([]chan *Packed, len(roads))
	for i := range ready {
		ready[i] = make(chan *Packed, 1)
	}
	var next atomic.Int64
	for range runtime.GOMAXPROCS(0) {
		go func() {
			for i := int(next.Add(1)) - 1; i < len(roads); i = int(next.Add(1)) - 1 {
				packed, _ := Pack(&roads[i]) // Save reports a fault
				ready[i] <- packed
			}
		}()
	}
	for i := range roads {
		if _, err := s.SavePacked(ctx, roads[i], <-ready[i]); err != nil {
			t.Fatal(err)
		}
	}
}

// cpuTime is what this process has worked, in and outside the kernel.
func cpuTime(t testing.TB) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// boxTimes are the sorted times of boxes of about ten descents, by the clock and of the processor:
// the other work of a busy machine is in the first only.
type boxTimes struct{ took, worked []time.Duration }

// askBoxes asks for a thousand boxes; read gives the number of descents.
func askBoxes(t testing.TB, r *rand.Rand, n int, f Filter, read func(f Filter) (n int, err error)) (b boxTimes) {
	runtime.LockOSThread() // for threadTime
	defer runtime.UnlockOSThread()
	side := 20 * math.Sqrt(10/float64(n))
	met := 0
	for range 1000 {
		box := &Box{WestDeg: -120 + (40-2*side)*r.Float64(), SouthDeg: 30 + (20-side)*r.Float64()}
		box.EastDeg, box.NorthDeg = box.WestDeg+2*side, box.SouthDeg+side
		f.BBox = box
		start, cpu := time.Now(), threadTime(t)
		n, err := read(f)
		b.took, b.worked = append(b.took, time.Since(start)), append(b.worked, threadTime(t)-cpu)
		if err != nil {
			t.Fatal(err)
		}
		met += n
	}
	if met == 0 {
		t.Fatal("no box holds a descent")
	}
	slices.Sort(b.took)
	slices.Sort(b.worked)
	return b
}

// report gives the median and the time that one of a hundred exceeds.
func (b boxTimes) report(t *testing.B, name string) {
	ms := func(sorted []time.Duration, share int) float64 { return sorted[len(sorted)*share/100].Seconds() * 1e3 }
	t.ReportMetric(ms(b.took, 50), name+"-p50-ms")
	t.ReportMetric(ms(b.took, 99), name+"-p99-ms")
	t.ReportMetric(ms(b.worked, 50), name+"-p50-cpu-ms")
	t.ReportMetric(ms(b.worked, 99), name+"-p99-cpu-ms")
}

// bareBoxes reads the rows of a box as SQLite and its driver give them, and makes nothing of them.
type bareBoxes struct{ c *Catalog }

func (b bareBoxes) read(f Filter) (n int, err error) {
	err = b.c.file.Read(ctx, func(q gpkg.Querier) error {
		d := q.Direct()
		l := lister{c: b.c, f: f}
		if err := l.choose(q); err != nil {
			return err
		}
		queries := []string{descentQuery, reviewQuery, holdQuery}
		if f.NoHolds {
			queries = queries[:2]
		}
		for fids := l.fids; len(fids) > 0; {
			g := &readGroup{fids: fids[:min(keysAtOnce, len(fids))]}
			fids = fids[len(g.fids):]
			var ids []driver.Value
			for i, query := range queries {
				args, _ := g.keys(d.Args(), func(int) bool { return true }, func(k int) driver.Value {
					if i == 1 {
						return ids[k]
					}
					return g.fids[k]
				})
				err := d.Each(query, args, func(row []driver.Value) error {
					if i == 0 {
						ids = append(ids, row[0])
						n++
					}
					return nil
				})
				if err != nil {
					return err
				}
			}
		}
		return nil
	})
	return n, err
}

// threadTime is what the caller's thread has worked: a clock, because getrusage counts in ticks of
// 4 ms.
func threadTime(t testing.TB) time.Duration {
	const threadCPU = 3 // CLOCK_THREAD_CPUTIME_ID of Linux
	var now syscall.Timespec
	if _, _, e := syscall.Syscall(syscall.SYS_CLOCK_GETTIME, threadCPU, uintptr(unsafe.Pointer(&now)), 0); e != 0 {
		t.Fatal(e)
	}
	return time.Duration(now.Nano())
}

// The measure of the catalogue as it grows: rows (descents and holds) written a
// second, size, a box of about ten descents, the whole list and its memory.
//
//	go test ./catalog/store -run '^$' -bench Catalogue -benchtime 1x
func BenchmarkCatalogue(b *testing.B) {
	for _, n := range []int{1000, 10_000, 100_000} {
		b.Run(fmt.Sprintf("descents=%d", n), func(b *testing.B) {
			for range b.N {
				measure(b, n, false)
			}
			b.ReportMetric(0, "ns/op")
		})
	}
	b.Run("as surveyed, descents=2000", func(b *testing.B) {
		for range b.N {
			measure(b, 2000, true)
		}
		b.ReportMetric(0, "ns/op")
	})
}

func measure(b *testing.B, n int, whole bool) {
	const seed = 7
	r := rand.New(rand.NewPCG(seed, 2))
	c, path := fresh(b)
	wrote, worked := fillSized(b, c, r, n, whole)
	st, err := os.Stat(path)
	if err != nil {
		b.Fatal(err)
	}
	rows := 6 * n
	if whole {
		rows = 10 * n
	}
	b.ReportMetric(float64(rows)/wrote.Seconds(), "rows/s")
	b.ReportMetric(float64(rows)/worked.Seconds(), "rows/cpu-s") // tells more on a busy machine
	b.ReportMetric(float64(st.Size())/1e6, "file-MB")
	b.ReportMetric(float64(st.Size())/float64(n), "bytes/descent")
	read := func(f Filter) (int, error) { list, err := c.Descents(ctx, f); return len(list), err }
	bare := bareBoxes{c: c}
	askBoxes(b, r, n, Filter{NoHolds: true}, bare.read).report(b, "SQLite-map-box")
	askBoxes(b, r, n, Filter{Brief: true}, bare.read).report(b, "SQLite-box")
	kept := mostKept
	mostKept = 0 // as if each box were the first
	askBoxes(b, r, n, Filter{NoHolds: true}, read).report(b, "first-map-box")
	askBoxes(b, r, n, Filter{Brief: true}, read).report(b, "first-box")
	mostKept = kept
	askBoxes(b, r, n, Filter{Brief: true}, read)
	askBoxes(b, r, n, Filter{NoHolds: true}, read).report(b, "map-box")
	askBoxes(b, r, n, Filter{Brief: true}, read).report(b, "box")
	start, listed := time.Now(), 0
	if err := c.Each(ctx, Filter{Brief: true}, func(catalog.Entry) error { listed++; return nil }); err != nil {
		b.Fatal(err)
	}
	if listed != n {
		b.Fatalf("listed %d of %d", listed, n)
	}
	b.ReportMetric(time.Since(start).Seconds(), "list-s")
	start = time.Now()
	if _, err := c.Descents(ctx, Filter{Limit: 50}); err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(time.Since(start).Seconds()*1e3, "worst-50-ms")
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	b.ReportMetric(float64(m.Sys)/1e6, "Go-MB")
	if err := c.Close(); err != nil {
		b.Fatal(err)
	}
	os.Remove(path)
}

// All of a larger catalogue comes back, each descent once, in order of danger.
func TestAllOfManyComeBack(t *testing.T) {
	const n = 1000
	c, _ := fresh(t)
	fillSized(t, c, rand.New(rand.NewPCG(7, 2)), n, false)
	seen := map[string]bool{}
	var last *catalog.Entry
	err := c.Each(ctx, Filter{Brief: true}, func(e catalog.Entry) error {
		if last != nil && catalog.CompareDanger(*last, e) >= 0 {
			t.Errorf("%s stands after the less dangerous %s", e.Descent.ID, last.Descent.ID)
		}
		last = &e
		if len(e.Holds) != 5 {
			t.Errorf("%s has %d holds", e.Descent.ID, len(e.Holds))
		}
		seen[e.Descent.ID] = true
		return nil
	})
	if err != nil || len(seen) != n {
		t.Errorf("%d of %d, %v", len(seen), n, err)
	}
}

// What packing a survey's entries costs, part by part, for each descent:
//
//	go test ./catalog/store -run '^$' -bench Packing -count 5
func BenchmarkPacking(b *testing.B) {
	r := rand.New(rand.NewPCG(7, 2))
	real := demoEntries(b)
	var roads []RouteSurvey
	for k := range 20 {
		roads = append(roads, asSurveyed(r, sizedSurvey(r, k), real))
	}
	each := func(name string, do func(rs *RouteSurvey, e *catalog.Entry) error) {
		b.Run(name, func(b *testing.B) {
			start := cpuTime(b)
			for i := range b.N {
				rs := &roads[i/2%len(roads)]
				if err := do(rs, &rs.Entries[i%2]); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric((cpuTime(b)-start).Seconds()*1e6/float64(b.N), "cpu-µs/op")
		})
	}
	each("check", func(_ *RouteSurvey, e *catalog.Entry) error {
		return checkSurvey(&RouteSurvey{Route: RouteRecord{ID: "r"}, Entries: []catalog.Entry{*e}})
	})
	each("profile", func(rs *RouteSurvey, e *catalog.Entry) error {
		_, err := packProfile(stretchOf(rs.Profile, &e.Descent))
		return err
	})
	each("line", func(_ *RouteSurvey, e *catalog.Entry) error { packLine(e.Line); return nil })
	each("geometry", func(_ *RouteSurvey, e *catalog.Entry) error { gpkg.AppendLine(nil, drawn(e.Line)); return nil })
	each("advice", func(_ *RouteSurvey, e *catalog.Entry) error { _, err := packAdvice(e.Holds); return err })
}
