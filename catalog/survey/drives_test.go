package survey_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/survey"
	"gradeline/terrain/synth"
)

// writeDrive writes a drawn drive as CSV with one column of heights.
func writeDrive(t testing.TB, road *synth.Road, k int, heights, path string) {
	t.Helper()
	var b strings.Builder
	fmt.Fprintf(&b, "time_s,lon_deg,lat_deg,speed_mps,%s\n", heights)
	for _, f := range road.Drive(synth.OrdinaryRecorder, k) {
		fmt.Fprintf(&b, "%g,%.7f,%.7f,%.1f,%.2f\n", f.TimeS, f.LonDeg, f.LatDeg, f.SpeedMPS, f.HeightM)
	}
	if err := os.WriteFile(path, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
}

// From files to the answer: drives of a folder sharpen the grade line of their road,
// each with what became of it; what is no barometer's is named and left out.
func TestASurveyTakesDrivesIn(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	road, err := synth.NewRoad(keptOptions)
	if err != nil {
		t.Fatal(err)
	}
	rasters, err := writeRasters(road, 30, dir)
	if err != nil {
		t.Fatal(err)
	}
	lines := filepath.Join(dir, "road.geojson")
	if _, err := readBackRoute(ctx, road, synth.Listed, lines); err != nil {
		t.Fatal(err)
	}
	folder := filepath.Join(dir, "drives")
	if err := os.Mkdir(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	for k := range 3 {
		writeDrive(t, road, k, "baro_m", filepath.Join(folder, fmt.Sprintf("drive-%d.csv", k)))
	}
	writeDrive(t, road, 3, "gnss_m", filepath.Join(folder, "satellite.csv"))
	if err := os.WriteFile(filepath.Join(folder, "notes.csv"), []byte("driver,day\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	run := func(drives ...string) (facts survey.RouteFacts, entries []survey.DescentFacts, gaps string) {
		job, err := survey.Begin(ctx, survey.Setup{Terrain: rasters, Roads: []string{lines}, DrivePaths: drives, KeepAll: true, DryRun: true,
			Options: survey.Options{Units: catalog.Metric, Workers: 1}})
		if err != nil {
			t.Fatal(err)
		}
		defer job.Close()
		if err := job.Run(ctx); err != nil {
			t.Fatal(err)
		}
		for f, err := range job.Routes() {
			if err != nil {
				t.Fatal(err)
			}
			facts = f
		}
		for d, err := range job.Descents() {
			if err != nil {
				t.Fatal(err)
			}
			entries = append(entries, d)
		}
		for g, err := range job.Gaps() {
			if err != nil {
				t.Fatal(err)
			}
			gaps += g + "\n"
		}
		return facts, entries, gaps
	}
	_, without, _ := run()
	facts, with, gaps := run(folder)
	if len(facts.Drives) != 3 {
		t.Fatalf("%+v", facts.Drives)
	}
	for i, d := range facts.Drives {
		if !d.IsUsed || d.ToM-d.FromM < .95*facts.LengthM || d.MisfitRMSM <= 0 || !strings.HasSuffix(d.File, fmt.Sprintf("drive-%d.csv", i)) || (i%2 == 1) != (d.Direction == 1) {
			t.Errorf("%+v of %.0f m", d, facts.LengthM)
		}
	}
	if !strings.Contains(gaps, "satellite.csv") || !strings.Contains(gaps, "too noisy") || !strings.Contains(gaps, "notes.csv") {
		t.Errorf("left out in silence: %s", gaps)
	}
	if len(with) == 0 || len(with) < len(without) {
		t.Fatalf("%d descents with drives, %d without", len(with), len(without))
	}
	narrower := 0
	for _, w := range with {
		for _, o := range without {
			if w.Direction == o.Direction && w.StartM < o.StartM+500 && w.StartM > o.StartM-500 && w.MeanDowngradeErrPct < o.MeanDowngradeErrPct {
				narrower++
			}
		}
	}
	if narrower == 0 {
		t.Errorf("no bound is narrower: %+v, %+v", with, without)
	}
	if _, err := survey.Begin(ctx, survey.Setup{Terrain: rasters, Roads: []string{lines}, DrivePaths: []string{filepath.Join(dir, "none.csv")}}); err == nil || !strings.Contains(err.Error(), "none.csv") {
		t.Errorf("a file that is not there: %v", err)
	}
}

// The fingerprint of drives is that of what they say: a survey that was cut short is
// taken up with the same drives, and not with others.
func TestDrivesHaveOneFingerprint(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	const head = "time_s,lon_deg,lat_deg,baro_m,service_brake\n"
	file := filepath.Join(dir, "drive.csv")
	stampOf := func(rows string) string {
		if err := os.WriteFile(file, []byte(head+rows), 0o600); err != nil {
			t.Fatal(err)
		}
		d, skipped, err := survey.ReadDrives(ctx, []string{file}, false)
		if err != nil || len(skipped) > 0 {
			t.Fatal(skipped, err)
		}
		return d.Stamp()
	}
	const rows = "0,1,2,700,0\n1,1,2.0001,701,1\n2,1,2.0002,702,0\n"
	first := stampOf(rows)
	if again := stampOf(rows); again != first {
		t.Errorf("the same drive reads %s and %s", first, again)
	}
	if other := stampOf(strings.Replace(rows, "702", "702.5", 1)); other == first {
		t.Error("another height, the same fingerprint")
	}
}
