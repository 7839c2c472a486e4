package survey_test

import (
	"context"
	"flag"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"gradeline/routes"
	"gradeline/routes/grade"
	"gradeline/routes/recorded"
	"gradeline/terrain/synth"
)

var (
	drivesRoads = flag.Int("accuracy.drives", 0, "measure drives on so many roads, as in 24")
	drivesFrom  = flag.Int("accuracy.drives.from", 0, "roads of the set that are passed over")
	drivesSet   = flag.String("accuracy.drives.set", "tuning", "roads of the drives: tuning, or holdout")
	drivesKind  = flag.String("accuracy.drives.kind", "", "roads of the drives: steep-parts for roads with short steep parts")
	drivesOnly  = flag.String("accuracy.drives.only", "", "kinds of drives by a regular expression, as in ordinary")
	drivesCells = []float64{10, 30, 90}
	drivesAt    = flag.Float64("accuracy.drives.cell", 0, "cells of the drives' roads in metres; 0 for 10, 30 and 90")
)

// driveOptions are the roads that the flags ask for.
func driveOptions(b *testing.B) []synth.Options {
	seeds := map[string][]uint64{"tuning": synth.DriveTuning, "holdout": synth.DriveHoldOut}[*drivesSet]
	seeds = seeds[min(len(seeds), max(0, *drivesFrom)):]
	if *drivesRoads <= 0 || *drivesRoads > len(seeds) {
		b.Skipf("give -accuracy.drives, up to %d", len(seeds))
	}
	if *drivesAt > 0 {
		drivesCells = []float64{*drivesAt}
	}
	out := optionsOf(seeds[:*drivesRoads])
	for i := range out {
		if *drivesKind == "steep-parts" {
			out[i].Kind = synth.ShortSteepParts
		}
	}
	return out
}

// drawDrives draws drives over a road as recorders write them.
func drawDrives(road *synth.Road, rec synth.Recorder, n int) (drives [][]routes.Fix) {
	for k := range n {
		fixes := []routes.Fix{}
		for _, f := range road.Drive(rec, k) {
			fixes = append(fixes, routes.Fix{At: time.Unix(0, 0).Add(time.Duration(f.TimeS * 1e9)), LonDeg: f.LonDeg, LatDeg: f.LatDeg, SpeedMPS: f.SpeedMPS, HeightM: f.HeightM, TempC: f.TempC})
		}
		drives = append(drives, fixes)
	}
	return drives
}

// layDrives lays drives on a profile's line, as a survey does.
func layDrives(p *routes.Profile, drives [][]routes.Fix) (out []grade.Drive) {
	stations := make([]float64, p.Count())
	for i := range stations {
		stations[i] = p.StationM(i)
	}
	line, _ := recorded.NewLine(p.Points, stations, p.Points[len(p.Points)/2])
	for _, fixes := range drives {
		on, _ := line.Lay(fixes)
		list, rising := recorded.Passes(on)
		for i, pass := range list {
			d := grade.Drive{IsBackward: !rising[i]}
			for _, at := range pass {
				d.StationM, d.HeightM, d.SpeedMPS = append(d.StationM, at.DistanceM), append(d.HeightM, at.Fix.HeightM), append(d.SpeedMPS, at.Fix.SpeedMPS)
				d.TempC = append(d.TempC, at.Fix.TempC)
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
	known := synth.OrdinaryRecorder // the same slow error, noise and drift
	known.ScaleRatio, known.LagS, known.PortRatio, known.PlaceM = 0, 0, 0, 0
	all := []driveCase{
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
		{"3 ordinary, scale, lag, port and places known", known, 3},
		{"3 in weather of 9 K, no thermometer", weather(synth.NoThermometer), 3},
		{"3 in weather of 9 K, thermometer", weather(synth.OutsideThermometer), 3},
		{"3 in weather of 9 K, thermometer 15 K too warm", weather(synth.WarmThermometer), 3},
		{"3 in weather of 9 K, always 20 °C", weather(synth.ConstantThermometer), 3},
		{"3 in weather of 9 K, Fahrenheit", weather(synth.FahrenheitThermometer), 3},
	}
	only := regexp.MustCompile(*drivesOnly)
	return slices.DeleteFunc(all, func(c driveCase) bool { return !only.MatchString(c.name) })
}

// weather are ordinary drives in air that is not the standard one, by 9 K (one standard deviation).
func weather(t synth.Thermometer) synth.Recorder {
	r := synth.OrdinaryRecorder
	r.WeatherK, r.Thermometer = 9, t
	return r
}

// coverSpans are the errors of mean grades over a span in their bounds.
func coverSpans(road *synth.Road, p *routes.Profile, spanM float64) (inBounds []float64) {
	truthM := func(s float64) float64 { return road.TruthAtM(clampTo(s/p.LengthM*road.LengthM, road.LengthM)) }
	for at := 0.0; at+spanM <= p.LengthM; at += spanM / 2 {
		got := p.ElevationAtM(at+spanM) - p.ElevationAtM(at)
		if math.IsNaN(got) {
			continue
		}
		inBounds = append(inBounds, 100*math.Abs(got-truthM(at+spanM)+truthM(at))/spanM/p.MeanErrPct(at, at+spanM))
	}
	return inBounds
}

// driveSpansM are the lengths over which the cover of bounds is counted.
var driveSpansM = [6]float64{100, 200, 500, 1000, 2000, 4000}

type driveRow struct {
	s                     score
	inBounds              [6][]float64
	halfPct, fuseS, kmAll float64
	layS, driveKM         float64
	unused                int
}

// note adds a road's fused grade line.
func (r *driveRow) note(road *synth.Road, p *routes.Profile, fits []grade.DriveFit, cellM float64) {
	s := measureRoad(road, recovered{profile: p, cellM: cellM})
	r.s.add(s)
	for j, spanM := range driveSpansM {
		r.inBounds[j] = append(r.inBounds[j], coverSpans(road, p, spanM)...)
	}
	r.halfPct, r.kmAll = r.halfPct+p.Bound.MeanErrPct(1000, 0)*s.km, r.kmAll+s.km
	for _, f := range fits {
		if !f.IsUsed {
			r.unused++
		}
	}
}

// String is a line of the table.
func (r *driveRow) String() string {
	var cover, q95 strings.Builder
	for _, list := range r.inBounds {
		in := 0
		for _, x := range list {
			if x <= 1 {
				in++
			}
		}
		fmt.Fprintf(&cover, " %.3f", float64(in)/float64(len(list)))
		fmt.Fprintf(&q95, " %.2f", quantile(list, .95))
	}
	steep := &r.s.detail.steepest[1]
	line := fmt.Sprintf("rmse %.3f  F1 %.3f  cover%s  95 %% within bounds times%s  of %d descents mean/own/ends %.3f %.3f %.3f  heights %.3f  ±1km %.3f  unused %d  steepest 500 m median %+.2f cover %.3f",
		rms(r.s.gradeAll), r.s.f1(), cover.String(), q95.String(), r.s.coverMatched.all, share(r.s.coverMatched), share(r.s.coverStated), share(r.s.coverEnds), share(r.s.coverElev), r.halfPct/r.kmAll, r.unused, quantile(steep.errPct, .5), share(steep.cover))
	if r.driveKM > 0 {
		line += fmt.Sprintf("  ms per km and drive: fusing %.2f, laying %.2f", 1000*r.fuseS/r.driveKM, 1000*r.layS/r.driveKM)
	}
	return line
}

// BenchmarkAccuracyOfDrives measures what drives make of a grade line, kind by kind:
// go test ./catalog/survey -run '^$' -bench AccuracyOfDrives -benchtime 1x -args -accuracy.drives=24
func BenchmarkAccuracyOfDrives(b *testing.B) {
	options := driveOptions(b)
	table := map[[2]int]*driveRow{}
	var mu sync.Mutex
	var wg sync.WaitGroup
	gate := make(chan struct{}, 2)
	for _, o := range options {
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
					drawn := drawDrives(road, kind.rec, kind.n)
					t0 := time.Now()
					ds := layDrives(c.profile, drawn)
					t1 := time.Now()
					p, fits, err := grade.Fuse(context.Background(), c.profile, ds)
					if err != nil {
						b.Error(err)
						return
					}
					took := time.Since(t1)
					mu.Lock()
					row := table[[2]int{ci, ki}]
					if row == nil {
						row = &driveRow{}
						table[[2]int{ci, ki}] = row
					}
					row.note(road, p, fits, c.cellM)
					row.fuseS, row.layS, row.driveKM = row.fuseS+took.Seconds(), row.layS+t1.Sub(t0).Seconds(), row.driveKM+float64(kind.n)*p.LengthM/1000
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
			fmt.Printf("%3g m  %-26s %s\n", cellM, kind.name, r)
		}
	}
}
