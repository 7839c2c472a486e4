package main

import (
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// cut is a survey that was killed in the middle of its work.
type cut struct {
	hill
	net, classes string
	roads        []road
	whole        map[string]any // the answer of a run that was let finish
	wholeCSV     string
	wholeIn      contents
}

const cutRoads = 44

// cutShort runs a survey to its end, and the same again until it is killed with some
// of its routes in the catalogue.
func cutShort(t *testing.T) cut {
	t.Helper()
	h := makeHill(t, 6, nil)
	k := cut{hill: h, roads: drawnNetwork(cutRoads), classes: h.path("classes.toml")}
	k.net = h.writeNetwork(t, "net.geojson", k.roads)
	if err := os.WriteFile(k.classes, []byte(gradeline(t, "classes", "template").want(t, exitDone).out), 0o644); err != nil {
		t.Fatal(err)
	}
	k.whole = parse(t, gradeline(t, k.args(h.path("whole"))...).want(t, exitDone))
	b, err := os.ReadFile(h.path("whole/grade.csv"))
	if err != nil {
		t.Fatal(err)
	}
	k.wholeCSV = string(b)
	k.wholeIn = contentsOf(t, h.path("whole/c.gpkg"))
	if err := os.Mkdir(h.path("killed"), 0o755); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(os.Args[0], k.args(h.path("killed"))...)
	cmd.Env = append(os.Environ(), asProgram+"=1")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	// Killed when the working file says that more routes are done than one commit holds.
	for begun := time.Now(); ; time.Sleep(2 * time.Millisecond) {
		if n := recordsIn(k.working(t, "killed")); n > 28 {
			break
		}
		if time.Since(begun) > time.Minute {
			_ = cmd.Process.Kill()
			t.Fatal("no progress in a minute")
		}
	}
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err == nil || cmd.ProcessState.ExitCode() != -1 {
		t.Fatalf("the survey ended before it was killed: %v", err)
	}
	return k
}

// args is the command line, its outputs in a folder.
func (k *cut) args(dir string, more ...string) []string {
	_ = os.MkdirAll(dir, 0o755) // a failure shows at once
	return append([]string{"survey", "--terrain", k.dem, "--catalog", filepath.Join(dir, "c.gpkg"), "--profile", filepath.Join(dir, "grade.csv"),
		"--classes", k.classes, "--json", k.net}, more...)
}

// working is the file that a survey keeps beside the catalogue.
func (k *cut) working(t *testing.T, dir string) string {
	t.Helper()
	list, err := filepath.Glob(filepath.Join(k.path(dir), "*"+".unfinished"))
	if err != nil || len(list) > 1 {
		t.Fatalf("%v %v", list, err)
	}
	if len(list) == 0 {
		return ""
	}
	return list[0]
}

// recordsIn counts the complete records of a working file while another process writes
// it: each has a mark, a checksum and the lengths of its six parts.
func recordsIn(path string) int {
	b, err := os.ReadFile(path)
	if err != nil {
		return 0
	}
	const heads = 4 * (2 + 6)
	n := 0
	for len(b) >= heads && binary.LittleEndian.Uint32(b) == 0x474c5331 {
		size := heads
		for i := range 6 {
			size += int(binary.LittleEndian.Uint32(b[8+4*i:]))
		}
		if size > len(b) {
			break
		}
		b = b[size:]
		n++
	}
	return n
}

// again copies the killed run's files into a new folder and runs the survey there.
func (k *cut) again(t *testing.T, name string, more ...string) result {
	t.Helper()
	k.copyKilled(t, name)
	return gradeline(t, k.args(k.path(name), more...)...)
}

func (k *cut) copyKilled(t *testing.T, name string) {
	t.Helper()
	if err := os.CopyFS(k.path(name), os.DirFS(k.path("killed"))); err != nil {
		t.Fatal(err)
	}
}

// takenOver checks that the answer is that of an uninterrupted run, and says how many
// of its routes were not surveyed again.
func (k *cut) takenOver(t *testing.T, name string, r result) int {
	t.Helper()
	a := parse(t, r.want(t, exitDone))
	n := int(number(t, a, "taken_over_routes"))
	for key := range k.whole {
		if key != "catalog" && key != "taken_over_routes" && key != "changes" && !sameText(k.whole[key], a[key]) {
			t.Errorf("%s: %s differs from the uninterrupted run's", name, key)
		}
	}
	if b, err := os.ReadFile(k.path(name + "/grade.csv")); err != nil || string(b) != k.wholeCSV {
		t.Errorf("%s: the profile file differs: %v", name, err)
	}
	k.wholeIn.same(t, contentsOf(t, k.path(name+"/c.gpkg")))
	if w := k.working(t, name); w != "" {
		t.Errorf("%s: %s is left", name, w)
	}
	if said := strings.Contains(r.err, "continues the survey"); said != (n > 0) {
		t.Errorf("%s: %d taken over, said %q", name, n, r.err)
	}
	return n
}

// A survey that was killed is taken up: what was finished is not surveyed again, and
// the answer, the catalogue and the profile file are those of an uninterrupted run.
// Whatever changed since is surveyed again.
func TestAKilledSurveyIsTakenUp(t *testing.T) {
	k := cutShort(t)
	first := k.again(t, "again")
	n := k.takenOver(t, "again", first)
	if n < 1 || n >= cutRoads { // how many depends on when the last commit was
		t.Errorf("%d of %d routes taken over", n, cutRoads)
	}
	if !sameText(k.whole["changes"], parse(t, first)["changes"]) {
		t.Error("what the survey says it changed differs from the uninterrupted run's")
	}
	if m := k.takenOver(t, "once more", k.again(t, "once more", "--workers", "1", "--cache", "32")); m != n {
		t.Errorf("%d, then %d routes taken over", n, m)
	}
	if m := k.takenOver(t, "afresh", k.again(t, "afresh", "--afresh")); m != 0 {
		t.Errorf("--afresh took over %d", m)
	}

	// A finished survey leaves nothing to take over.
	r := gradeline(t, append(k.args(k.path("again")), "--force")...)
	if m := k.takenOver(t, "again", r); m != 0 {
		t.Errorf("a finished survey was taken over: %d routes", m)
	}

	// The working file may end in the middle of a record.
	k.copyKilled(t, "torn")
	torn := k.working(t, "torn")
	st, err := os.Stat(torn)
	if err == nil {
		err = os.Truncate(torn, st.Size()-9)
	}
	if err != nil {
		t.Fatal(err)
	}
	if m := k.takenOver(t, "torn", gradeline(t, k.args(k.path("torn"))...)); m < n-1 || m > n {
		t.Errorf("%d routes taken over from a torn file, %d from a whole one", m, n)
	}

	t.Run("another survey has changed the catalogue", func(t *testing.T) { k.changedCatalogue(t, n) })
	t.Run("other rules", func(t *testing.T) {
		for i, more := range [][]string{{"--min-mean", "4.5%"}, {"--units", "us"}, {"--accuracy", "1m"}, {"--by", "Bo"}, {"--vertical-unit", "m"}} {
			a := parse(t, k.again(t, fmt.Sprintf("rules%d", i), more...).want(t, exitDone))
			// The unit is what the file says already: the same heights.
			if m := int(number(t, a, "taken_over_routes")); (m != 0) != (more[0] == "--vertical-unit") {
				t.Errorf("%v: %d routes taken over", more, m)
			}
		}
	})
	t.Run("other classes", func(t *testing.T) {
		b, err := os.ReadFile(k.classes)
		if err == nil {
			err = os.WriteFile(k.classes, []byte(strings.Replace(string(b), "mass_max_kg = 36287", "mass_max_kg = 136287", 1)), 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
		defer os.WriteFile(k.classes, b, 0o644)
		r := k.again(t, "classes")
		if r.code == exitDone && number(t, parse(t, r), "taken_over_routes") != 0 {
			t.Error("taken over with other classes")
		}
		// What no answer shows of a class still bears on its advice.
		if err := os.WriteFile(k.classes, []byte(strings.Replace(string(b), "rollover_share = 0.35", "rollover_share = 0.16", 1)), 0o644); err != nil {
			t.Fatal(err)
		}
		if m := number(t, parse(t, k.again(t, "rollover").want(t, exitDone)), "taken_over_routes"); m != 0 {
			t.Errorf("%v routes taken over with another rollover threshold", m)
		}
	})
	t.Run("one road moved", func(t *testing.T) {
		k.roads[5].north += 0.5
		k.roads[1].name = "Main Street, west"
		k.writeNetwork(t, "net.geojson", k.roads)
		a := parse(t, k.again(t, "moved").want(t, exitDone))
		m := int(number(t, a, "taken_over_routes"))
		if n > 8 && (m >= n || m < n-4) { // also those are done again whose ids follow from the name that changed
			t.Errorf("%d routes taken over, %d before the change", m, n)
		}
		fresh := parse(t, gradeline(t, k.args(k.path("fresh"))...).want(t, exitDone))
		if !sameText(fresh["routes"], a["routes"]) { // ids of descents follow from what the catalogue held before
			t.Error("the routes differ from those of a run on the changed roads")
		}
		if csv, err := os.ReadFile(k.path("moved/grade.csv")); err != nil || string(csv) != readText(t, k.path("fresh/grade.csv")) {
			t.Errorf("the profile file differs: %v", err)
		}
	})
	t.Run("the terrain was written again", func(t *testing.T) {
		later := time.Now().Add(time.Hour)
		if err := os.Chtimes(k.dem, later, later); err != nil {
			t.Fatal(err)
		}
		a := parse(t, k.again(t, "terrain").want(t, exitDone))
		if m := number(t, a, "taken_over_routes"); m != 0 {
			t.Errorf("%v routes taken over", m)
		}
	})
}

func readText(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// changedCatalogue lets another survey, of one road on other ground, write into the
// catalogue between the kill and the next run.
func (k *cut) changedCatalogue(t *testing.T, n int) {
	steep := makeHill(t, 8, nil)
	one := steep.writeNetwork(t, "one.geojson", k.roads[8:9])
	k.copyKilled(t, "between")
	gradeline(t, "survey", "--terrain", steep.dem, "--catalog", k.path("between/c.gpkg"), "--classes", k.classes, one).want(t, exitDone)
	if k.working(t, "between") == "" {
		t.Fatal("another survey dropped the working file")
	}
	a := parse(t, gradeline(t, k.args(k.path("between"))...).want(t, exitDone))
	if m := int(number(t, a, "taken_over_routes")); m != n-1 {
		t.Errorf("%d routes taken over, want all but one of %d", m, n)
	}
	if !sameText(k.whole["descents"], a["descents"]) {
		t.Error("the descents differ from the uninterrupted run's")
	}
	k.wholeIn.same(t, contentsOf(t, k.path("between/c.gpkg")))
}

// An interrupted survey is taken up like a killed one, says so, and writes nothing to
// standard output.
func TestAnInterruptedSurveyIsTakenUp(t *testing.T) {
	h := makeHill(t, 6, nil)
	net := h.writeNetwork(t, "net.geojson", drawnNetwork(40))
	args := []string{"gradeline", "survey", "--terrain", h.dem, "--catalog", h.path("c.gpkg"), "--workers", "1", "--json", net}
	ctx, cancel := context.WithCancel(context.Background())
	go func() {
		for {
			if list, err := filepath.Glob(h.path("*" + ".unfinished")); err != nil || len(list) > 0 && recordsIn(list[0]) > 8 {
				cancel()
				return
			}
			time.Sleep(time.Millisecond)
		}
	}()
	var out, errOut strings.Builder
	if code := run(ctx, args, strings.NewReader(""), &out, &errOut); code != exitInterrupted || out.Len() > 0 || !strings.Contains(errOut.String(), "kept") {
		t.Fatalf("exit code %d, %q, %q", code, out.String(), errOut.String())
	}
	a := parse(t, gradeline(t, args[1:]...).want(t, exitDone))
	if n := number(t, a, "taken_over_routes"); n < 8 || len(a["routes"].([]any)) != 40 {
		t.Errorf("%v routes taken over of %d", n, len(a["routes"].([]any)))
	}
}
