package survey_test

import (
	"context"
	"flag"
	"fmt"
	"math"
	"sync"
	"testing"
	"time"

	"gradeline/routes"
	"gradeline/routes/grade"
	"gradeline/routes/recorded"
	"gradeline/terrain/synth"
)

var (
	drivesSet   = flag.String("accuracy.drives", "", "measure drives on so many roads, as in 24")
	drivesCells = []float64{10, 30, 90}
)

// drivesOf draws drives over a road and lays them on its profile's line, as a survey does.
func drivesOf(road *synth.Road, p *routes.Profile, rec synth.Recorder, n int) []grade.Drive {
	stations := make([]float64, p.Count())
	for i := range stations {
		stations[i] = p.StationM(i)
	}
	line, _ := recorded.NewLine(p.Points, stations, p.Points[len(p.Points)/2])
	var out []grade.Drive
	for k := range n {
		fixes := []routes.Fix{}
		for _, f := range road.Drive(rec, k) {
			fixes = append(fixes, routes.Fix{At: time.Unix(0, 0).Add(time.Duration(f.TimeS * 1e9)), LonDeg: f.LonDeg, LatDeg: f.LatDeg, SpeedMPS: f.SpeedMPS, HeightM: f.HeightM})
		}
		on, _ := line.Lay(fixes)
		list, rising := recorded.Passes(on)
		for i, pass := range list {
			d := grade.Drive{IsBackward: !rising[i]}
			for _, at := range pass {
				d.StationM, d.HeightM, d.SpeedMPS = append(d.StationM, at.DistanceM), append(d.HeightM, at.Fix.HeightM), append(d.SpeedMPS, at.Fix.SpeedMPS)
			}
			out = append(out, d)
		}
	}
	return out
}

// driveCase is one row of the table of drives.
type driveCase struct {
	name string
	rec  synth.Recorder
	n    int
}

func driveCases() []driveCase {
	harsh := func(change func(*synth.Recorder)) synth.Recorder {
		r := synth.BestRecorder
		change(&r)
		return r
	}
	return []driveCase{
		{"none", synth.OrdinaryRecorder, 0},
		{"1 ordinary", synth.OrdinaryRecorder, 1}, {"3 ordinary", synth.OrdinaryRecorder, 3}, {"10 ordinary", synth.OrdinaryRecorder, 10},
		{"3 poor", synth.PoorRecorder, 3}, {"3 best", synth.BestRecorder, 3},
		{"3, common scale 5 %", harsh(func(r *synth.Recorder) { r.CommonRatio = .05 }), 3},
		{"3, white .6 m, drift 3 m", harsh(func(r *synth.Recorder) { r.WhiteM, r.DriftM = .6, 3 }), 3},
		{"3, drift 6 m", harsh(func(r *synth.Recorder) { r.DriftM = 6 }), 3},
		{"3, places 10 m", harsh(func(r *synth.Recorder) { r.PlaceM = 10 }), 3},
		{"3, 0.2 Hz", harsh(func(r *synth.Recorder) { r.EveryS = 5 }), 3},
		{"3, whole metres", harsh(func(r *synth.Recorder) { r.StepM = 1 }), 3},
		{"3, lag 2 s", harsh(func(r *synth.Recorder) { r.LagS = 2 }), 3},
		{"3, smoothed 5 s", harsh(func(r *synth.Recorder) { r.SmoothS = 5 }), 3},
	}
}

// coverSpans counts how often the bound of the mean grade holds over a span.
func coverSpans(road *synth.Road, p *routes.Profile, spanM float64) (in, all int) {
	truthM := func(s float64) float64 { return road.TruthAtM(clampTo(s/p.LengthM*road.LengthM, road.LengthM)) }
	for at := 0.0; at+spanM <= p.LengthM; at += spanM / 2 {
		got := p.ElevationAtM(at+spanM) - p.ElevationAtM(at)
		if math.IsNaN(got) {
			continue
		}
		all++
		if 100*math.Abs(got-truthM(at+spanM)+truthM(at))/spanM <= p.MeanErrPct(at, at+spanM) {
			in++
		}
	}
	return in, all
}

type driveRow struct {
	s                     score
	in, all               [3]int
	halfPct, fuseS, kmAll float64
	unused                int
}

// BenchmarkAccuracyOfDrives measures what drives make of a grade line, kind by kind:
// go test ./catalog/survey -run '^$' -bench AccuracyOfDrives -benchtime 1x -args -accuracy.drives=24
func BenchmarkAccuracyOfDrives(b *testing.B) {
	roads := 0
	if _, err := fmt.Sscan(*drivesSet, &roads); err != nil {
		b.Skip("give -accuracy.drives")
	}
	spans := [3]float64{100, 500, 2000}
	table := map[[2]int]*driveRow{}
	var mu sync.Mutex
	var wg sync.WaitGroup
	seeds := synth.Testing[len(synth.Testing)-roads:] // constants were chosen by the first ones
	gate := make(chan struct{}, 2)
	for _, o := range optionsOf(seeds) {
		wg.Add(1)
		gate <- struct{}{}
		go func() {
			defer wg.Done()
			defer func() { <-gate }()
			road, all, err := runRoad(context.Background(), o, drivesCells, ours())
			if err != nil {
				b.Error(err)
				return
			}
			for ci, c := range all {
				for ki, kind := range driveCases() {
					ds := drivesOf(road, c.profile, kind.rec, kind.n)
					t0 := time.Now()
					p, fits, err := grade.Fuse(context.Background(), c.profile, ds)
					if err != nil {
						b.Error(err)
						return
					}
					took := time.Since(t0).Seconds()
					s := measureRoad(road, recovered{profile: p, cellM: c.cellM})
					mu.Lock()
					row := table[[2]int{ci, ki}]
					if row == nil {
						row = &driveRow{}
						table[[2]int{ci, ki}] = row
					}
					row.s.add(s)
					for j, spanM := range spans {
						in, n := coverSpans(road, p, spanM)
						row.in[j], row.all[j] = row.in[j]+in, row.all[j]+n
					}
					row.halfPct += p.Bound.MeanErrPct(1000, 0) * s.km
					row.fuseS, row.kmAll = row.fuseS+took, row.kmAll+s.km
					for _, f := range fits {
						if !f.IsUsed {
							row.unused++
						}
					}
					mu.Unlock()
				}
			}
		}()
	}
	wg.Wait()
	for ci, cellM := range drivesCells {
		for ki, kind := range driveCases() {
			r := table[[2]int{ci, ki}]
			if r == nil {
				continue
			}
			fmt.Printf("%3g m  %-26s rmse %.3f  F1 %.3f  cover100/500/2000 %.3f %.3f %.3f  cover mean/ends/height %.3f %.3f %.3f  ±1km %.3f  ms/km %.2f  unused %d\n", cellM, kind.name, rms(r.s.gradeAll), r.s.f1(),
				float64(r.in[0])/float64(r.all[0]), float64(r.in[1])/float64(r.all[1]), float64(r.in[2])/float64(r.all[2]),
				share(r.s.coverMatched), share(r.s.coverEnds), share(r.s.coverElev), r.halfPct/r.kmAll, 1000*r.fuseS/r.kmAll, r.unused)
		}
	}
}
