package trainees

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/debrief"
	"gradeline/catalog/handout"
	"gradeline/terrain"
)

var day = time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)

// drive is an invented drive; a positive number of seconds over the advised speed is a fault.
func drive(hours int, overS float64) Drive {
	d := Drive{At: day.Add(time.Duration(hours) * time.Hour), Added: day.Add(time.Duration(hours)*time.Hour + time.Minute), Descent: "hill-f-1", Hill: "Hill Road, eastbound", Class: "us-5axle",
		MassKg: 36000, AdvisedMPS: 10, MostMPS: 9.5, OverS: overS, OnHillS: 900, CoveredPct: 100, Crest: debrief.CrestKept, BrakeCheck: CheckStopped,
		Applied: &BrakeUse{}, WellDone: []string{"Stopped."}, ToChange: []string{}, Open: []string{}}
	if overS > 0 {
		d.MostMPS, d.ToChange, d.Applied = 14, []string{"Keep to 22 mph."}, &BrakeUse{Count: 3, TotalS: 40, LongestS: 20}
	}
	return d
}

// kept is a file on disk with two trainees.
func kept(t *testing.T) (*File, string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "trainees.json")
	f := New(path)
	for _, add := range []struct {
		name string
		d    Drive
	}{{"Zoë Zimmer", drive(1, 120)}, {"Adam Quendrelsson", drive(2, 300)}, {"adam  quendrelsson ", drive(3, 0)}, {"Adam Quendrelsson", drive(4, 0)}} {
		if err := f.Add(add.name, add.d); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.Save(); err != nil {
		t.Fatal(err)
	}
	f, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	return f, path
}

func TestFileIsReadAsItWasWritten(t *testing.T) {
	f, path := kept(t)
	if len(f.Trainees) != 2 || f.Trainees[0].Name != "Adam Quendrelsson" || len(f.Trainees[0].Drives) != 3 {
		t.Fatalf("%+v", f.Trainees)
	}
	want, err := f.Bytes()
	got, err2 := os.ReadFile(path)
	if err != nil || err2 != nil || !bytes.Equal(got, want) {
		t.Errorf("%v, %v: the file differs from its contents", err, err2)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v %v: others can read it", info.Mode(), err)
	}
	if err := f.Add("Zoë Zimmer", drive(1, 120)); !errors.Is(err, fs.ErrExist) {
		t.Errorf("the same drive twice: %v", err)
	}
	if _, err := Open(filepath.Join(filepath.Dir(path), "none.json")); !errors.Is(err, fs.ErrNotExist) {
		t.Error(err)
	}
	// any JSON reader understands it
	var free map[string]any
	if err := json.Unmarshal(got, &free); err != nil || free["schema"] != Schema {
		t.Errorf("%v %v", free["schema"], err)
	}
}

// After Forget and Save no byte of the name or of the drives is in the folder, nor in the former
// file, which a reader still has open.
func TestForgetLeavesNoTrace(t *testing.T) {
	f, path := kept(t)
	former, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer former.Close()
	leftover := filepath.Join(filepath.Dir(path), ".trainees.json.123456") // of a killed run
	other := filepath.Join(filepath.Dir(path), ".trainees.json.bak")
	for _, name := range []string{leftover, other} {
		if err := os.WriteFile(name, []byte("something else"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := f.SignOff("Adam Quendrelsson", "hill", "", SignOff{Instructor: "I. Example", On: day}); err != nil {
		t.Fatal(err)
	}
	if err := f.Save(); err != nil {
		t.Fatal(err)
	}
	again, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if err := f.Forget("ADAM QUENDRELSSON"); err != nil {
		t.Fatal(err)
	}
	if err := f.Save(); err != nil {
		t.Fatal(err)
	}
	for _, open := range []*os.File{former, again} {
		if b, err := io.ReadAll(open); err != nil || len(b) != 0 {
			t.Errorf("the former file still has %d bytes, %v", len(b), err)
		}
	}
	if _, err := os.Stat(leftover); !errors.Is(err, fs.ErrNotExist) {
		t.Error("what a killed run left is still there")
	}
	if b, err := os.ReadFile(other); err != nil || string(b) != "something else" {
		t.Errorf("somebody else's file was touched: %q, %v", b, err)
	}
	list, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		b, err := os.ReadFile(filepath.Join(filepath.Dir(path), e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		for _, trace := range []string{"Adam", "Quendrel", "I. Example"} {
			if bytes.Contains(bytes.ToLower(b), []byte(strings.ToLower(trace))) {
				t.Errorf("%s has %q in it", e.Name(), trace)
			}
		}
	}
	left, err := Open(path)
	if err != nil || len(left.Trainees) != 1 || left.Trainees[0].Name != "Zoë Zimmer" {
		t.Errorf("%+v, %v", left, err)
	}
	if err := f.Forget("Adam Quendrelsson"); !errors.Is(err, catalog.ErrNotFound) {
		t.Error(err)
	}
}

// Every single changed, lost or added byte is refused, unless it changes nothing of the contents.
func TestDamageIsRefused(t *testing.T) {
	f, path := kept(t)
	whole, err := f.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	refused, same := 0, 0
	try := func(b []byte) {
		got, err := Parse(path, b)
		switch {
		case errors.Is(err, terrain.ErrInput):
			refused++
		case err == nil && reflect.DeepEqual(got.Trainees, f.Trainees):
			same++
		default:
			t.Fatalf("%v: %q", err, b)
		}
	}
	for i := range whole {
		for _, bit := range []byte{1, 32} {
			b := bytes.Clone(whole)
			b[i] ^= bit
			try(b)
		}
		if i%7 == 0 {
			try(whole[:i])
			try(append(bytes.Clone(whole[:i]), whole[i+1:]...))
		}
	}
	if same > 2*len(about) || refused < 5000 { // a letter of the sentence for whoever opens the file may change
		t.Errorf("%d refused, %d without effect", refused, same)
	}
}

// Hostile files and figures are refused with a fault that names the file.
func TestHostileFilesAreRefused(t *testing.T) {
	sound := func(change func(d *Drive)) []byte {
		d := drive(1, 0)
		change(&d)
		ts := []Trainee{{Name: "A", Drives: []Drive{d}, SignOffs: []SignOff{}}}
		sum, err := sumOf(ts)
		if err != nil {
			t.Fatal(err)
		}
		b, err := json.MarshalIndent(content{Schema, about, ts, sum}, "", " ")
		if err != nil {
			t.Fatal(err)
		}
		return append(b, '\n')
	}
	if _, err := Parse("f", sound(func(*Drive) {})); err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{
		"empty": {}, "null": []byte("null"), "list": []byte("[]"), "no trainees": []byte(`{"schema":"gradeline-trainees/1"}`), "SQLite": []byte("SQLite format 3\x00"),
		"other schema": []byte(`{"schema":"gradeline-trainees/2","trainees":[]}`), "unknown key": []byte(`{"schema":"gradeline-trainees/1","run":"rm"}`),
		"deep": []byte(strings.Repeat("[", 100000)), "huge": bytes.Repeat([]byte(" "), mostBytes+1),
		"speed": sound(func(d *Drive) { d.MostMPS = 1e9 }), "negative": sound(func(d *Drive) { d.OverS = -1 }), "mass": sound(func(d *Drive) { d.MassKg = 0 }),
		"share": sound(func(d *Drive) { d.CoveredPct = 101 }), "count": sound(func(d *Drive) { d.Applied.Count = -1 }),
		"control": sound(func(d *Drive) { d.Hill = "a\x1b[2Jb" }), "turned": sound(func(d *Drive) { d.ToChange = []string{"a\u202eb"} }),
		"long": sound(func(d *Drive) { d.Class = strings.Repeat("x", mostText+1) }), "no class": sound(func(d *Drive) { d.Class = " " }),
		"old": sound(func(d *Drive) { d.At = time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC) }), "lines": sound(func(d *Drive) { d.Open = make([]string, mostLines+1) }),
	} {
		if _, err := Parse("the-file.json", b); !errors.Is(err, terrain.ErrInput) || !strings.Contains(err.Error(), "the-file.json") || len(err.Error()) > 600 {
			t.Errorf("%s: %.200v", name, err)
		}
	}
	f := New("f")
	bad := drive(1, 0)
	bad.MostMPS = math.NaN()
	if err := f.Add("A", bad); !errors.Is(err, terrain.ErrInput) || len(f.Trainees) != 0 {
		t.Errorf("NaN: %v", err)
	}
	if err := f.Add(" \t", drive(1, 0)); !errors.Is(err, terrain.ErrInput) {
		t.Errorf("no name: %v", err)
	}
}

// A file that another program has changed since is not overwritten.
func TestTwoWriters(t *testing.T) {
	a, path := kept(t)
	b, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := a.Add("New One", drive(9, 0)); err != nil {
		t.Fatal(err)
	}
	if err := a.Save(); err != nil {
		t.Fatal(err)
	}
	if err := b.Forget("Zoë Zimmer"); err != nil {
		t.Fatal(err)
	}
	if err := b.Save(); !errors.Is(err, fs.ErrExist) {
		t.Errorf("overwritten: %v", err)
	}
	if now, err := Open(path); err != nil || len(now.Trainees) != 3 {
		t.Errorf("%v, %v", now, err)
	}
	if err := New(path).Save(); !errors.Is(err, fs.ErrExist) {
		t.Errorf("a new file replaced one: %v", err)
	}
}

func TestSignOffs(t *testing.T) {
	f, _ := kept(t)
	for _, bad := range []struct {
		name, descent, class, by string
		kind                     error
	}{{"Nobody", "hill-f-1", "", "I. Example", catalog.ErrNotFound}, {"Zoë Zimmer", "other", "", "I. Example", catalog.ErrNotFound}, {"Zoë Zimmer", "hill-f-1", "eu-5axle", "I. Example", catalog.ErrNotFound},
		{"Zoë Zimmer", "hill-f-1", "", " ", terrain.ErrInput}, {"Zoë Zimmer", "hill-f-1", "", "zoë  zimmer", terrain.ErrInput}} {
		if _, err := f.SignOff(bad.name, bad.descent, bad.class, SignOff{Instructor: bad.by, On: day}); !errors.Is(err, bad.kind) {
			t.Errorf("%+v: %v", bad, err)
		}
	}
	s, err := f.SignOff("Adam Quendrelsson", "hill-f", "us-5axle", SignOff{Instructor: "I. Example", On: day, Note: "by  daylight"})
	if err != nil || s.Descent != "hill-f-1" || s.Drives != 3 || s.Note != "by daylight" || s.On.Hour() != 0 {
		t.Fatalf("%+v, %v", s, err)
	}
	h := f.Trainees[0].Hills()[0]
	if n, clean := h.Since(); n != 0 || !clean || h.CleanOnEnd() != 2 || h.SignOff == nil {
		t.Errorf("%d since, %v, %d clean", n, clean, h.CleanOnEnd())
	}
	if err := f.Add("Adam Quendrelsson", drive(30, 60)); err != nil {
		t.Fatal(err)
	}
	h = f.Trainees[0].Hills()[0]
	if n, clean := h.Since(); n != 1 || clean || h.CleanOnEnd() != 0 {
		t.Errorf("%d since, %v, %d clean", n, clean, h.CleanOnEnd())
	}
	if w := signedWords(&h); w != "2026-03-01 by I. Example, after 3 drives; 1 drive since, NOT ALL CLEAN" {
		t.Error(w)
	}
	if s, err := f.SignOff("Zoë Zimmer", "hill-f-1", "", SignOff{Instructor: "I. Example", On: day}); err != nil || s.Drives != 1 {
		t.Error(err)
	} else if h := f.Trainees[1].Hills()[0]; !strings.Contains(signedWords(&h), "the last of which was NOT CLEAN") {
		t.Error(signedWords(&h))
	}
}

// The page has each drive, the change from the first to the last, and what is left to change.
func TestPage(t *testing.T) {
	f, _ := kept(t)
	for u, want := range map[catalog.Units][]string{
		catalog.US:     {"2026-03-01", "5 min 00 s of 15 min 00 s", "31 mph, advised 22 mph", "never", "on 3 times, 40 s in all", "off", "stopped", "over the advised speed for 5 min 00 s, then 0 s", "highest speed 31 mph, then 21 mph", "Clean drives in a row: 2 of 2. The instructor decides."},
		catalog.Metric: {"50 km/h, advised 36 km/h", "36.0 t"},
	} {
		d := Document(&f.Trainees[0], PageOptions{Units: u, On: day, Creator: "test"})
		var b bytes.Buffer
		if err := handout.HTML(&b, d); err != nil {
			t.Fatal(err)
		}
		for _, w := range want {
			if !strings.Contains(b.String(), w) {
				t.Errorf("%s: the page does not say %q", u, w)
			}
		}
		if u == catalog.US && strings.Contains(b.String(), "km/h") {
			t.Error("metric on a US page")
		}
		if d.Banner != "" {
			t.Error("a real drive is called invented")
		}
	}
	invented := drive(1, 0)
	invented.Invented = true
	if d := Document(&Trainee{Name: "A", Drives: []Drive{invented}}, PageOptions{On: day}); d.Banner == "" {
		t.Error("an invented drive is not called so")
	}
}

// A drive is kept as the debrief has it.
func TestDriveFromDebrief(t *testing.T) {
	d := debrief.Debrief{Descent: "hill-f-1", Class: "us-5axle", MassKg: 36000, AdvisedMPS: 10, MostMPS: 9, OverS: 3, OnHillS: 800, NeutralS: 4, CoveredPct: 99, From: day, IsClock: true,
		Crest: debrief.CrestRule{Verdict: debrief.CrestKept}, Applied: &debrief.BrakeUse{Count: 2, Drags: 1, TotalS: 50, LongestS: 45}, Brakes: debrief.BrakeBalance{AtLeastJ: 1e6},
		Places: []debrief.PassedPlace{{Kind: catalog.BrakeCheck, DistanceM: -300, StopS: 60}, {Kind: catalog.BrakeCheck, DistanceM: 900}}}
	got := DriveFromDebrief(&d, "Hill", Verdict{WellDone: []string{"a"}, ToChange: []string{"b"}, Open: []string{"c"}}, day)
	want := Drive{At: day, Added: day, Descent: "hill-f-1", Hill: "Hill", Class: "us-5axle", MassKg: 36000, AdvisedMPS: 10, MostMPS: 9, OverS: 3, OnHillS: 800, NeutralS: 4, CoveredPct: 99, MustWorkJ: 1e6,
		Crest: debrief.CrestKept, BrakeCheck: CheckStopped, Applied: &BrakeUse{2, 1, 50, 45}, WellDone: []string{"a"}, ToChange: []string{"b"}, Open: []string{"c"}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%+v", got)
	}
	for _, c := range []struct {
		place debrief.PassedPlace
		want  string
	}{{debrief.PassedPlace{Kind: catalog.BrakeCheck, DistanceM: -300}, CheckPassed}, {debrief.PassedPlace{Kind: catalog.BrakeCheck, DistanceM: -300, IsUnseen: true}, CheckUnseen},
		{debrief.PassedPlace{Kind: catalog.Pullout, DistanceM: -300, StopS: 9}, CheckNone}, {debrief.PassedPlace{Kind: catalog.BrakeCheck, DistanceM: 51, StopS: 9}, CheckNone}} {
		d.Places, d.IsClock = []debrief.PassedPlace{c.place}, false
		if got := DriveFromDebrief(&d, "Hill", Verdict{}, day); got.BrakeCheck != c.want || !got.At.IsZero() {
			t.Errorf("%+v: %q at %v", c.place, got.BrakeCheck, got.At)
		}
	}
	for _, change := range []func(*Drive){func(d *Drive) { d.CoveredPct = 97.9 }, func(d *Drive) { d.AdvisedMPS = 0 }, func(d *Drive) { d.ToChange = []string{"x"} }} {
		d := drive(1, 0)
		if !d.IsClean() {
			t.Error("a clean drive is not")
		}
		if change(&d); d.IsClean() {
			t.Errorf("%+v is clean", d)
		}
	}
}

func FuzzParse(f *testing.F) {
	file := New("f")
	if err := file.Add("A", drive(1, 60)); err != nil {
		f.Fatal(err)
	}
	b, err := file.Bytes()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Add([]byte("{\n \"schema\": \"gradeline-trainees/1\",\n \"about\": \"\",\n \"trainees\": [],\n \"sha256\": \"4f53cda18c2baa0c0354bb5f9a3ecbe5ed12ab4d8e11ba873c2f11161202b945\"\n}\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		got, err := Parse("f", b)
		if err != nil {
			return
		}
		if _, err := got.Bytes(); err != nil {
			t.Errorf("read and not writable: %v", err)
		}
		for i := range got.Trainees {
			if err := handout.HTML(io.Discard, Document(&got.Trainees[i], PageOptions{On: day})); err != nil {
				t.Error(err)
			}
		}
	})
}

func Example() {
	dir, err := os.MkdirTemp("", "")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "trainees.json")
	f := New(path)
	if err := f.Add("T. Example", drive(1, 0)); err != nil {
		fmt.Println(err)
	}
	s, err := f.SignOff("T. Example", "hill-f-1", "", SignOff{Instructor: "I. Example", On: day})
	fmt.Println(s.Hill, err)
	fmt.Println(f.Save())
	fmt.Println(f.Forget("T. Example"), f.Save(), len(f.Trainees))
	// Output:
	// Hill Road, eastbound <nil>
	// <nil>
	// <nil> <nil> 0
}
