package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// alterByPython runs SQL on a catalogue as any other program may.
func alterByPython(t *testing.T, path, sql string) {
	t.Helper()
	cmd := exec.Command("/usr/bin/python3", "-c", "import sqlite3, sys; c = sqlite3.connect(sys.argv[1]); c.executescript(sys.argv[2]); c.commit()", path, sql)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
}

// prints fails unless the output has every part.
func (r result) prints(t *testing.T, parts ...string) {
	t.Helper()
	for _, p := range parts {
		if !strings.Contains(r.out, p) {
			t.Errorf("%q lacks %q", r.out, p)
		}
	}
}

func copyOfDemo(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(demoDir(t), "demo.gpkg"))
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "mine.gpkg")
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// A catalogue with an emptied spatial index gives no all-clear, and doctor mends it.
func TestDoctorMendsAnIndex(t *testing.T) {
	path := copyOfDemo(t)
	alterByPython(t, path, "DELETE FROM rtree_descents_geom")
	gradeline(t, "list", "--bbox=-180,-90,180,90", "--catalog", path).want(t, exitFailed).says(t, "spatial index", "doctor --repair")
	gradeline(t, "overlay", "avoid", "--class", "ca-btrain-63t", "--bbox=-180,-90,180,90", "-o", filepath.Join(t.TempDir(), "a.geojson"), "--catalog", path).want(t, exitFailed)
	gradeline(t, "doctor", "--catalog", path).want(t, exitFailed).prints(t, "spatial index")
	gradeline(t, "doctor", "--repair", "--by", "Ada", "--catalog", path).want(t, exitDone).prints(t, "repaired: descents", "no fault found")
	if r := gradeline(t, "list", "--bbox=-180,-90,180,90", "--catalog", path).want(t, exitDone); !strings.Contains(r.out, "6 descents") {
		t.Error(r.out)
	}
}

// A trigger in a received file is refused by every command, and doctor leaves a clean
// file with the same data, the old one beside it.
func TestDoctorTakesDataOver(t *testing.T) {
	path := copyOfDemo(t)
	before := gradeline(t, "list", "--catalog", path).want(t, exitDone).out
	alterByPython(t, path, "CREATE TRIGGER better AFTER INSERT ON reviews BEGIN UPDATE holds SET gear = 14, speed_mps = 33; DELETE FROM history; END")
	for _, args := range [][]string{
		{"list"}, {"review", "old-quendrel-road-f", "--state", "field-checked", "--by", "Ada"}, {"merge", filepath.Join(demoDir(t), "demo.gpkg")},
	} {
		gradeline(t, append(args, "--catalog", path)...).want(t, exitFailed).says(t, `trigger "better" on "reviews"`)
	}
	gradeline(t, "doctor", "--catalog", path).want(t, exitFailed).prints(t, `trigger "better" on "reviews"`)
	gradeline(t, "merge", path, "--catalog", copyOfDemo(t)).want(t, exitFailed).says(t, `trigger "better"`)
	gradeline(t, "doctor", "--repair", "--by", "Ada", "--catalog", path).want(t, exitDone).prints(t, "kept-refused", "no fault found")
	if after := gradeline(t, "list", "--catalog", path).want(t, exitDone).out; after != before {
		t.Errorf("%s\nbefore\n%s", after, before)
	}
}

func TestASiteIsTakenOut(t *testing.T) {
	path := copyOfDemo(t)
	gradeline(t, "sites", "remove", "pullout-old-quendrel-road-11.2", "--catalog", path).want(t, exitUsage)
	gradeline(t, "sites", "remove", "pullout-old-quendrel-road-11.2", "--by", "Ada", "--why", "built over", "--catalog", path).want(t, exitDone).says(t, "is removed from")
	gradeline(t, "sites", "remove", "pullout-old-quendrel-road-11.2", "--by", "Ada", "--catalog", path).want(t, exitFailed).says(t, "no site")
	if r := gradeline(t, "sites", "list", "--catalog", path).want(t, exitDone); !strings.Contains(r.out, "6 sites") {
		t.Error(r.out)
	}
}

// The same file of places imported twice adds nothing; a place that is new among them is added.
func TestPlacesOnRecordAreNotAddedTwice(t *testing.T) {
	dir := demoDir(t)
	path, file := filepath.Join(dir, "demo.gpkg"), filepath.Join(dir, "sites.geojson")
	gradeline(t, "sites", "import", file, "--catalog", path, "--by", "Ada").want(t, exitDone).prints(t, "0 sites", "7 places of the file on record already")
	gradeline(t, "sites", "list", "--catalog", path).want(t, exitDone).prints(t, "7 sites")
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	b = bytes.Replace(b, []byte("Veltrane foot"), []byte("Veltrane lower foot"), 1)
	if err := os.WriteFile(file, b, 0o644); err != nil {
		t.Fatal(err)
	}
	gradeline(t, "sites", "import", file, "--catalog", path, "--by", "Ada").want(t, exitDone).prints(t, "1 site", "6 places of the file on record already")
	gradeline(t, "sites", "list", "--catalog", path).want(t, exitDone).prints(t, "8 sites")
}
