package survey_test

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/survey"
	"gradeline/terrain/synth"
)

var manyDrives = flag.Int("drives.many", 0, "recordings of one road that BenchmarkManyDrives reads and fuses, as in 1000")

// BenchmarkManyDrives is the cost of many recordings over one road, from their files to the grade line,
// beyond the survey without them:
// go test ./catalog/survey -run '^$' -bench ManyDrives -benchtime 1x -args -drives.many=1000
func BenchmarkManyDrives(b *testing.B) {
	if *manyDrives <= 0 {
		b.Skip("give -drives.many")
	}
	ctx, dir := context.Background(), b.TempDir()
	road, err := synth.NewRoad(synth.Options{Seed: 1003, LengthM: 20000})
	if err != nil {
		b.Fatal(err)
	}
	rasters, err := writeRasters(road, 30, dir)
	if err != nil {
		b.Fatal(err)
	}
	lines := filepath.Join(dir, "road.geojson")
	if _, err := readBackRoute(ctx, road, synth.Listed, lines); err != nil {
		b.Fatal(err)
	}
	folder := filepath.Join(dir, "drives")
	if err := os.Mkdir(folder, 0o700); err != nil {
		b.Fatal(err)
	}
	for k := range *manyDrives {
		writeDrive(b, road, k, "baro_m", filepath.Join(folder, fmt.Sprintf("drive-%04d.csv", k)))
	}
	survey := func(paths ...string) (cpuS float64, used, all int) {
		began := processorS()
		job, err := survey.Begin(ctx, survey.Setup{Terrain: rasters, Roads: []string{lines}, DrivePaths: paths, KeepAll: true, DryRun: true, Options: survey.Options{Units: catalog.Metric, Workers: 1}})
		if err != nil {
			b.Fatal(err)
		}
		defer job.Close()
		if err := job.Run(ctx); err != nil {
			b.Fatal(err)
		}
		cpuS = processorS() - began
		for f, err := range job.Routes() {
			if err != nil {
				b.Fatal(err)
			}
			for _, d := range f.Drives {
				if all++; d.IsUsed {
					used++
				}
			}
		}
		return cpuS, used, all
	}
	runtime.GC()
	without, _, _ := survey()
	beforeMB := peakMB(b)
	for b.Loop() {
		with, used, all := survey(folder)
		b.ReportMetric(1000*(with-without)/float64(*manyDrives)/(road.LengthM/1000), "cpu-ms/km/drive")
		b.ReportMetric(peakMB(b)-beforeMB, "MB-more")
		b.ReportMetric(peakMB(b), "MB-peak")
		b.ReportMetric(float64(used), "used")
		b.ReportMetric(float64(all), "laid")
	}
}

func processorS() float64 {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)/1e6
}

// peakMB is the greatest memory of this process so far.
func peakMB(b *testing.B) float64 {
	text, err := os.ReadFile("/proc/self/status")
	if err != nil {
		b.Skip("no /proc")
	}
	for line := range strings.Lines(string(text)) {
		var kB float64
		if _, err := fmt.Sscanf(line, "VmHWM: %f kB", &kB); err == nil {
			return kB / 1024
		}
	}
	b.Fatal("no VmHWM")
	return 0
}
