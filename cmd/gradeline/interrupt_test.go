package main

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// A command that waits for a pipe which nobody writes to is gone within two seconds of an
// interrupt, says why, and leaves nothing half written. Devices are refused at once.
func TestAnInterruptEndsWhatWaitsForAFile(t *testing.T) {
	dir, path := demoDir(t), programPath(t)
	pipe := filepath.Join(dir, "pipe.toml")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	program := filepath.Join(strings.SplitN(path, ":", 2)[0], "gradeline")
	for _, args := range [][]string{
		{"survey", "--terrain", pipe, "--catalog", "new.gpkg", "routes.geojson"},
		{"survey", "--terrain", "terrain.tif", "--catalog", "new.gpkg", pipe},
		{"survey", "--terrain", "terrain.tif", "--catalog", "new.gpkg", "--classes", pipe, "routes.geojson"},
		{"sites", "import", pipe, "--catalog", "demo.gpkg"},
		{"debrief", "veltrane-pass-road-f-4.7", pipe, "--class", "us-5axle", "--catalog", "demo.gpkg"},
		{"signs", "--standing", pipe, "--approach", "55mph", "--catalog", "demo.gpkg"},
		{"signs", "check", pipe},
		{"classes", "check", pipe},
		{"route", "--class", "us-5axle", "--from", "0,0", "--to", "1,1", "--terrain", "terrain.tif", pipe},
	} {
		// A program that is ended by the signal itself had not begun yet: a loaded machine, or
		// the race detector, needs longer.
		for _, wait := range []time.Duration{700 * time.Millisecond, 3 * time.Second, 10 * time.Second} {
			if hasBegun := interruptedAfter(t, wait, dir, program, args); hasBegun {
				break
			} else if wait == 10*time.Second {
				t.Errorf("%v: ended by the signal itself after %v", args, wait)
			}
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "new.gpkg")); err == nil {
		t.Error("a survey that read nothing left a catalogue")
	}
	for _, args := range [][]string{
		{"debrief", "veltrane-pass-road-f-4.7", "/dev/zero", "--class", "us-5axle", "--catalog", filepath.Join(dir, "demo.gpkg")},
		{"sites", "import", "/dev/zero", "--catalog", filepath.Join(dir, "demo.gpkg")}, {"classes", "check", "/dev/zero"}, {"list", "--catalog", "/dev/zero"},
	} {
		gradeline(t, args...).want(t, exitFailed).says(t, "/dev/zero")
	}
}

// interruptedAfter interrupts a command that waits for a pipe, and checks how it ends; false
// where the signal itself ended it.
func interruptedAfter(t *testing.T, wait time.Duration, dir, program string, args []string) (hasBegun bool) {
	t.Helper()
	cmd := exec.Command(program, args...)
	var said strings.Builder
	cmd.Dir, cmd.Stderr = dir, &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- cmd.Wait() }()
	select {
	case err := <-done:
		t.Errorf("%v did not wait for its pipe: %v, %s", args, err, said.String())
		return true
	case <-time.After(wait):
	}
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	select {
	case err := <-done:
		var exit *exec.ExitError
		if errors.As(err, &exit) && exit.Sys().(syscall.WaitStatus).Signaled() {
			return false
		}
		if exit == nil || exit.ExitCode() != exitInterrupted || !strings.Contains(said.String(), "interrupted") {
			t.Errorf("%v: %v, %q", args, err, said.String())
		}
	case <-time.After(5 * time.Second): // far over the two seconds: the machine may be loaded
		_ = cmd.Process.Kill()
		t.Errorf("%v outlives an interrupt", args)
	}
	return true
}

// Every kind of file that commands write obeys the umask (POSIX umask(2)).
func TestOutputsObeyTheUmask(t *testing.T) {
	demo, path := demoDir(t), programPath(t)
	const script = `umask 077; set -e; C="--catalog demo.gpkg"; mkdir out
gradeline survey --terrain terrain.tif --catalog out/c.gpkg --profile out/p.csv routes.geojson
for f in csv xlsx txt gpkg; do gradeline list $C -o out/l.$f; done
gradeline report $C -o out/r.html; gradeline overlay descents $C -o out/o.geojson
gradeline sheet $C --all --class us-5axle -o out/pages
gradeline show $C veltrane-pass-road-f-4.7 --plot out/a.svg --holding-plot out/b.png --heat-plot out/c.svg --class us-5axle
gradeline signs $C veltrane-pass-road-f-4.7 --approach 55mph --strip out/st.svg -o out/posts.geojson
cp demo.gpkg out/bad.gpkg; gradeline doctor --repair --by me --catalog out/bad.gpkg
gradeline demo -o out/demo`
	if out, err := shell(t, "bash", path, demo, script); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	files := 0
	err := filepath.WalkDir(filepath.Join(demo, "out"), func(p string, d os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := d.Info()
		if err == nil && info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s has mode %v under a umask of 077", p, info.Mode())
		}
		files++
		return err
	})
	if err != nil || files < 25 {
		t.Errorf("%d files looked at, %v", files, err)
	}
}
