package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"gradeline/catalog/store"
)

// roadsOf writes the demo's roads that keep says, in the order that it says.
func roadsOf(t *testing.T, dir, name string, arrange func(fs []any) []any) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, "routes.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	var fc map[string]any
	if err := json.Unmarshal(b, &fc); err != nil {
		t.Fatal(err)
	}
	fc["features"] = arrange(fc["features"].([]any))
	if b, err = json.Marshal(fc); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

var moments = regexp.MustCompile(`"at": "[^"]*"|"route_file": "[^"]*"`)

// The same roads over the same terrain give the same catalogue to the last digit,
// whatever the number of workers and the order of the roads: JSON writes each
// figure so that it reads back to the bit.
func TestTheSameCatalogueWhateverTheWorkersAndTheOrder(t *testing.T) {
	dir := demoDir(t)
	dem := filepath.Join(dir, "terrain.tif")
	turned := roadsOf(t, dir, "turned.geojson", func(fs []any) []any { slices.Reverse(fs); return fs })
	var want string
	for i, k := range []struct{ workers, roads string }{{"1", filepath.Join(dir, "routes.geojson")}, {"2", filepath.Join(dir, "routes.geojson")}, {"5", turned}} {
		cat := filepath.Join(dir, fmt.Sprintf("c%d.gpkg", i))
		gradeline(t, "survey", "--terrain", dem, "--workers", k.workers, "--catalog", cat, "--invented", k.roads).want(t, exitDone)
		got := gradeline(t, "list", "--json", "--catalog", cat).want(t, exitDone).out
		for _, id := range []string{"veltrane-pass-road-f-4.7", "old-quendrel-road-b-13.7"} {
			got += gradeline(t, "show", id, "--json", "--catalog", cat).want(t, exitDone).out // with its profile
		}
		if got = moments.ReplaceAllString(got, ""); i == 0 {
			want = got
		} else if got != want {
			t.Errorf("%s workers, %s: another catalogue", k.workers, filepath.Base(k.roads))
		}
	}
}

// Two surveys and five readers at once on one catalogue: all end well, nothing is
// lost, and no reader ever sees half a road.
func TestTwoSurveysAndFiveReaders(t *testing.T) {
	dir := demoDir(t)
	dem, cat := filepath.Join(dir, "terrain.tif"), filepath.Join(dir, "both.gpkg")
	isVeltrane := func(f any) bool {
		return strings.HasPrefix(fmt.Sprint(f.(map[string]any)["properties"].(map[string]any)["name"]), "Veltrane")
	}
	one := roadsOf(t, dir, "one.geojson", func(fs []any) []any {
		return slices.DeleteFunc(fs, func(f any) bool { return !isVeltrane(f) })
	})
	two := roadsOf(t, dir, "two.geojson", func(fs []any) []any { return slices.DeleteFunc(fs, isVeltrane) })
	survey := func(roads string) result {
		return quietly("survey", "--terrain", dem, "--catalog", cat, "--invented", "--accept-moves", roads)
	}
	if r := survey(one); r.code != exitDone {
		t.Fatal(r.err)
	}
	var readers, writers sync.WaitGroup
	done := make(chan struct{})
	for _, roads := range []string{one, two} {
		writers.Go(func() {
			for range 3 {
				if r := survey(roads); r.code != exitDone {
					t.Errorf("survey: %d %s", r.code, r.err)
				}
			}
		})
	}
	for range 5 {
		readers.Go(func() {
			for {
				r := quietly("list", "--json", "--catalog", cat)
				var a struct{ Descents []struct{ Route string } }
				if err := json.Unmarshal([]byte(r.out), &a); err != nil || r.code != exitDone {
					t.Errorf("list: %d %v %s", r.code, err, r.err)
				}
				roads := map[string]int{}
				for _, d := range a.Descents {
					roads[d.Route]++
				}
				for road, n := range roads {
					if n != 2 {
						t.Errorf("a reader saw %d descents of %s", n, road)
					}
				}
				select {
				case <-done:
					return
				default:
				}
			}
		})
	}
	writers.Wait()
	close(done)
	readers.Wait()
	gradeline(t, "doctor", "--catalog", cat).want(t, exitDone)
	if n := strings.Count(gradeline(t, "list", "--json", "--catalog", cat).want(t, exitDone).out, `"crest_elevation_m"`); n != 6 {
		t.Errorf("%d descents", n)
	}
}

// A survey that stands still because another program is changing its catalogue says
// once which and for how long at most, and ends well when the other is done.
func TestASurveySaysWhomItWaitsFor(t *testing.T) {
	h := makeHill(t, 6, nil)
	h.survey(t, exitDone)
	cat, err := store.Open(t.Context(), h.path("c.gpkg"), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer cat.Close()
	batch := cat.BeginSurvey(store.SaveOptions{RoutesPerCommit: 10})
	if _, err := batch.Save(t.Context(), store.RouteSurvey{Route: store.RouteRecord{ID: "other"}}); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(os.Args[0], "survey", "--terrain", h.dem, "--catalog", h.path("c.gpkg"), h.road)
	cmd.Env = append(os.Environ(), asProgram+"=1")
	said, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	var lines []string
	for sc := bufio.NewScanner(said); sc.Scan(); {
		if strings.HasPrefix(sc.Text(), "warning: heights were not compared with those of 1 road") { // the other one's
			continue
		}
		lines = append(lines, sc.Text())
		if strings.HasPrefix(sc.Text(), "waits for ") {
			if err := batch.Close(); err != nil {
				t.Error(err)
			}
		}
	}
	if err := cmd.Wait(); err != nil {
		t.Fatalf("%v: %q", err, lines)
	}
	if len(lines) != 1 || !strings.HasSuffix(lines[0], "is changing "+h.path("c.gpkg")+", for up to 10 minutes") ||
		runtime.GOOS == "linux" && !strings.Contains(lines[0], fmt.Sprintf("(process %d)", os.Getpid())) {
		t.Errorf("%q", lines)
	}
}

// quietly runs a command as a process of its own, as two people would, where no test
// may fail at once.
func quietly(args ...string) result {
	var out, errOut bytes.Buffer
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = append(os.Environ(), asProgram+"=1")
	cmd.Stdout, cmd.Stderr = &out, &errOut
	if err := cmd.Run(); cmd.ProcessState == nil {
		return result{-1, "", err.Error()}
	}
	return result{cmd.ProcessState.ExitCode(), out.String(), errOut.String()}
}
