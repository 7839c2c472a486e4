package survey_test

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"

	"gradeline/routes"
	"gradeline/routes/grade"
	"gradeline/terrain/synth"
)

// BenchmarkAccuracyOfDrivesAlone measures grade lines without any terrain:
// go test ./catalog/survey -run '^$' -bench AccuracyOfDrivesAlone -benchtime 1x -args -accuracy.drives=24
func BenchmarkAccuracyOfDrivesAlone(b *testing.B) {
	options := driveOptions(b)
	seasons := synth.OrdinaryRecorder
	seasons.CommonRatio = .05
	cases := []driveCase{{"3 ordinary", synth.OrdinaryRecorder, 3}, {"4 ordinary", synth.OrdinaryRecorder, 4}, {"10 ordinary", synth.OrdinaryRecorder, 10}, {"4 poor", synth.PoorRecorder, 4}, {"4, common scale 5 %", seasons, 4}}
	for _, c := range driveCases() {
		if strings.Contains(c.name, "weather") {
			cases = append(cases, driveCase{strings.Replace(c.name, "3", "4", 1), c.rec, 4})
		}
	}
	rows := make([]driveRow, len(cases))
	refused := make([]int, len(cases))
	var mu sync.Mutex
	var wg sync.WaitGroup
	gate := make(chan struct{}, 2)
	for _, o := range options {
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
				q, fits, err := grade.FromDrives(context.Background(), bare, layDrives(p, drawDrives(road, kind.rec, kind.n)))
				mu.Lock()
				if err != nil {
					refused[ki]++
				} else {
					rows[ki].note(road, q, fits, 90)
				}
				mu.Unlock()
			}
		}()
	}
	wg.Wait()
	for ki, kind := range cases {
		fmt.Printf("%-24s %s  refused %d\n", kind.name, &rows[ki], refused[ki])
	}
}
