package survey_test

import (
	"context"
	"fmt"
	"sync"
	"testing"

	"gradeline/routes"
	"gradeline/routes/grade"
	"gradeline/terrain/synth"
)

// BenchmarkAccuracyOfDrivesAlone measures grade lines without any terrain:
// go test ./catalog/survey -run '^$' -bench AccuracyOfDrivesAlone -benchtime 1x -args -accuracy.drives=24
func BenchmarkAccuracyOfDrivesAlone(b *testing.B) {
	roads := 0
	if _, err := fmt.Sscan(*drivesSet, &roads); err != nil {
		b.Skip("give -accuracy.drives")
	}
	seasons := synth.OrdinaryRecorder
	seasons.CommonRatio = .05
	cases := []driveCase{{"3 ordinary", synth.OrdinaryRecorder, 3}, {"4 ordinary", synth.OrdinaryRecorder, 4}, {"10 ordinary", synth.OrdinaryRecorder, 10}, {"4 poor", synth.PoorRecorder, 4}, {"4, common scale 5 %", seasons, 4}}
	spans := [3]float64{100, 500, 2000}
	rows := make([]driveRow, len(cases))
	refused := make([]int, len(cases))
	var mu sync.Mutex
	var wg sync.WaitGroup
	gate := make(chan struct{}, 2)
	for _, o := range optionsOf(synth.Testing[len(synth.Testing)-roads:]) {
		wg.Add(1)
		gate <- struct{}{}
		go func() {
			defer wg.Done()
			defer func() { <-gate }()
			road, all, err := runRoad(context.Background(), o, []float64{90}, ours())
			if err != nil {
				b.Error(err)
				return
			}
			p := all[0].profile
			bare := &routes.Profile{StepM: p.StepM, LengthM: p.LengthM, Points: p.Points, RadiusM: p.RadiusM, Structures: p.Structures}
			for ki, kind := range cases {
				q, fits, err := grade.FromDrives(context.Background(), bare, drivesOf(road, p, kind.rec, kind.n))
				mu.Lock()
				row := &rows[ki]
				for _, f := range fits {
					if !f.IsUsed {
						row.unused++
					}
				}
				if err != nil {
					refused[ki]++
					mu.Unlock()
					continue
				}
				s := measureRoad(road, recovered{profile: q, cellM: 90})
				row.s.add(s)
				for j, spanM := range spans {
					in, n := coverSpans(road, q, spanM)
					row.in[j], row.all[j] = row.in[j]+in, row.all[j]+n
				}
				row.halfPct, row.kmAll = row.halfPct+q.Bound.MeanErrPct(1000, 0)*s.km, row.kmAll+s.km
				mu.Unlock()
			}
		}()
	}
	wg.Wait()
	for ki, kind := range cases {
		r := &rows[ki]
		fmt.Printf("%-24s rmse %.3f  F1 %.3f  cover100/500/2000 %.3f %.3f %.3f  cover mean/ends %.3f %.3f  ±1km %.3f  unused %d  refused %d\n", kind.name, rms(r.s.gradeAll), r.s.f1(),
			float64(r.in[0])/float64(r.all[0]), float64(r.in[1])/float64(r.all[1]), float64(r.in[2])/float64(r.all[2]), share(r.s.coverMatched), share(r.s.coverEnds), r.halfPct/r.kmAll, r.unused, refused[ki])
	}
}
