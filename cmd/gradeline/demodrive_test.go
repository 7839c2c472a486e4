package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"gradeline/data"
	"gradeline/routes"
	"gradeline/routes/stationing"
	"gradeline/routes/vector"
	"gradeline/terrain/synth"
)

var writeDrive = flag.Bool("demo.drive", false, "write the demo's invented drive")

// driveStory is the invented trainee's speed by station of Veltrane Pass Road:
// too fast at the crest, well held, then left to run and braked hard, a stop at
// the foot.
var driveStory = []struct{ stationM, speedKMH float64 }{
	{3400, 74}, {4300, 72}, {4570, 63}, {4720, 56}, {5050, 41}, {8200, 40}, {9050, 55}, {9300, 57}, {9345, 34}, {9700, 39},
	{13200, 40}, {14450, 47}, {14600, 22}, {14621, 1.2}, {14640, 20}, {14900, 45}, {15600, 60},
}

// demoDrive makes that drive as a recorder would: a point every 2 s, places off
// by a few metres that wander, heights of a barometer with a slow error, a scale and an offset, no
// speeds.
func demoDrive(t *testing.T) []byte {
	t.Helper()
	road, err := fs.ReadFile(data.Files, "demo/routes.geojson")
	if err != nil {
		t.Fatal(err)
	}
	var line orb.LineString
	if _, err := vector.Read(context.Background(), "-", vector.Options{Stdin: bytes.NewReader(road)}, func(f routes.Feature) error {
		if f.Tags["route"] == "Veltrane Pass Road" {
			line = f.Line
		}
		return nil
	}); err != nil || len(line) < 2 {
		t.Fatal(err, len(line))
	}
	place := func(stationM float64) orb.Point {
		for i := 1; i < len(line); i++ {
			l := stationing.DistanceM(line[i-1], line[i])
			if stationM <= l || i == len(line)-1 {
				k := stationM / l
				return orb.Point{line[i-1][0] + k*(line[i][0]-line[i-1][0]), line[i-1][1] + k*(line[i][1]-line[i-1][1])}
			}
			stationM -= l
		}
		return line[0]
	}
	speed := func(stationM float64) float64 {
		for i := 1; i < len(driveStory); i++ {
			if a, b := driveStory[i-1], driveStory[i]; stationM < b.stationM {
				// Even acceleration between the story's points: v² is straight in s.
				k := (stationM - a.stationM) / (b.stationM - a.stationM)
				return math.Sqrt(a.speedKMH*a.speedKMH+k*(b.speedKMH*b.speedKMH-a.speedKMH*a.speedKMH)) / 3.6
			}
		}
		return 0
	}
	roads := synth.DemoRoads()
	truth := roads[slices.IndexFunc(roads, func(r *synth.Road) bool { return r.Name == "Veltrane Pass Road" })]
	heights, slowM := rand.New(rand.NewPCG(20260504, 9)), 0.0
	rng := rand.New(rand.NewPCG(20260504, 8))
	var east, north float64
	begin := time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)
	var b bytes.Buffer
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="gradeline demo" xmlns="http://www.topografix.com/GPX/1/1">
 <trk>
  <name>Training drive</name>
  <desc>INVENTED: nobody drove this, and no such road exists.</desc>
  <trkseg>
`)
	const dt, standS = 0.5, 45.0
	stationM, stoodS := driveStory[0].stationM, 0.0
	for k := 0; ; k++ {
		v := speed(stationM)
		if v == 0 {
			break
		}
		if k%4 == 0 {
			slowM = .875*slowM + .242*heights.NormFloat64() // .5 m over 15 s
			east, north = 0.93*east+0.9*rng.NormFloat64(), 0.93*north+0.9*rng.NormFloat64()
			p := stationing.Direct(stationing.Direct(place(stationM), 90, east+0.4*rng.NormFloat64()), 0, north+0.4*rng.NormFloat64())
			fmt.Fprintf(&b, "   <trkpt lat=\"%.6f\" lon=\"%.6f\"><ele>%.1f</ele><time>%s</time></trkpt>\n", p[1], p[0], 6+800+1.015*(truth.TruthAtM(min(stationM, truth.LengthM))-800)+slowM+.2*heights.NormFloat64(), begin.Add(time.Duration(float64(k)*dt*1e9)).Format(time.RFC3339))
		}
		if stationM >= 14621 && stoodS < standS {
			stoodS += dt
			continue
		}
		stationM += v * dt
	}
	b.WriteString("  </trkseg>\n </trk>\n</gpx>\n")
	return b.Bytes()
}

func TestDemoDriveIsReproduced(t *testing.T) {
	want := demoDrive(t)
	if *writeDrive {
		if err := os.WriteFile(filepath.Join(tree, "data/demo/drive.gpx"), want, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	got, err := fs.ReadFile(data.Files, "demo/drive.gpx")
	if err != nil || !bytes.Equal(got, want) {
		t.Errorf("data/demo/drive.gpx is not what its story makes: %v", err)
	}
}

// The debrief finds in the demo's drive what its story put there.
func TestDebriefTellsTheDemosStory(t *testing.T) {
	dir := demoDir(t)
	cat, gpx := filepath.Join(dir, "demo.gpkg"), filepath.Join(dir, "drive.gpx")
	const id = "veltrane-pass-road-f-4.7"
	plot := filepath.Join(dir, "drive.svg")
	a := parse(t, gradeline(t, "debrief", id, gpx, "--class", "us-5axle", "--mass", "36t", "--catalog", cat, "--plot", plot, "--json").want(t, exitDone))
	d := a["debrief"].(map[string]any)
	crest := d["crest"].(map[string]any)
	// The crest is at station 4,720; the gear is due where the story is still at 72 km/h.
	if crest["verdict"] != "too fast" || math.Abs(number(t, crest, "speed_mps")*3.6-72) > 4 || math.Abs(number(t, crest, "crest_speed_mps")*3.6-56) > 4 {
		t.Errorf("crest %v", crest)
	}
	if v := number(t, d, "most_mps") * 3.6; v < 53 || v > 61 {
		t.Errorf("highest speed %.1f km/h, the story has 57", v)
	}
	over := d["over"].([]any)
	if len(over) < 2 || len(over) > 4 {
		t.Errorf("%d stretches over the advised speed: %v", len(over), over)
	}
	stops := d["stops"].([]any)
	if len(stops) != 1 || math.Abs(number(t, stops[0].(map[string]any), "at_m")-(14621-4720)) > 25 {
		t.Errorf("stops %v", stops)
	}
	events := d["service_brakes"].(map[string]any)["events"].([]any)
	hard := false
	for _, x := range events {
		e := x.(map[string]any)
		hard = hard || number(t, e, "from_m") < 9345-4720 && number(t, e, "to_m") > 9300-4720
	}
	if !hard {
		t.Errorf("the hard braking at 4.6 km is not among %v", events)
	}
	// Without the mass the truck may have been light, and the retarder may have done it.
	unknown := parse(t, gradeline(t, "debrief", id, gpx, "--class", "us-5axle", "--catalog", cat, "--json").want(t, exitDone))["debrief"].(map[string]any)
	if least := number(t, unknown["service_brakes"].(map[string]any), "at_least_j"); least >= number(t, d["service_brakes"].(map[string]any), "at_least_j") {
		t.Errorf("at least %.0f J without a mass", least)
	}
	if number(t, d, "covered_pct") < 99 || len(d["gaps"].([]any)) != 0 {
		t.Errorf("covered %v, gaps %v", d["covered_pct"], d["gaps"])
	}
	if b, err := os.ReadFile(plot); err != nil || !bytes.Contains(b, []byte("<svg")) || !bytes.Contains(b, []byte("INVENTED")) {
		t.Errorf("plot: %v", err)
	}
	for units, parts := range map[string][]string{"us": {"mph", " ft", "TOO FAST", "INVENTED", "planning aid", "does not show"}, "metric": {"km/h", "MJ", "Stops"}} {
		r := gradeline(t, "debrief", id, gpx, "--class", "us-5axle", "--catalog", cat, "--units", units).want(t, exitDone)
		for _, p := range parts {
			if !strings.Contains(r.out, p) {
				t.Errorf("%s: lacks %q:\n%s", units, p, r.out)
			}
		}
	}
	gradeline(t, "debrief", "veltrane-pass-road-b-4.1", gpx, "--class", "us-5axle", "--catalog", cat).want(t, exitFailed).says(t, "the opposite direction")
	gradeline(t, "debrief", "brasket-gap-road-f-5.8", gpx, "--class", "us-5axle", "--catalog", cat).want(t, exitFailed).says(t, "drive.gpx", "none of its points")
	gradeline(t, "debrief", id, filepath.Join(dir, "routes.geojson"), "--class", "us-5axle", "--catalog", cat).want(t, exitFailed).says(t, "routes.geojson")
	gradeline(t, "debrief", id, "none.gpx", "--class", "us-5axle", "--catalog", cat).want(t, exitFailed).says(t, "none.gpx", "GPX track")
	gradeline(t, "debrief", id, "--class", "us-5axle", "--catalog", cat).want(t, exitUsage).says(t, "recording")
	gradeline(t, "debrief", id, gpx, "--catalog", cat).want(t, exitUsage).says(t, "--class is needed")
}
