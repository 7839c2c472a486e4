package main

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// hangingMount serves a FUSE file system that answers the kernel's greeting (libfuse's
// fuse_kernel.h, FUSE_INIT) and then nothing more.
const hangingMount = `import os, ctypes, struct, sys, time
fd = os.open("/dev/fuse", os.O_RDWR)
libc = ctypes.CDLL(None, use_errno=True)
if libc.mount(b"hang", sys.argv[1].encode(), b"fuse", 0, ("fd=%d,rootmode=40000,user_id=0,group_id=0" % fd).encode()) != 0:
    sys.exit(os.strerror(ctypes.get_errno()))
greeting = os.read(fd, 1 << 17)
answer = struct.pack("<IIIIHHIIHH", 7, 31, 0, 0, 12, 10, 4096, 1, 1, 0).ljust(64, b"\0")
os.write(fd, struct.pack("<IiQ", 16 + len(answer), 0, struct.unpack_from("<Q", greeting, 8)[0]) + answer)
print("mounted", flush=True)
sys.stdin.read()
libc.umount2(sys.argv[1].encode(), 3)
`

// A file system that never answers keeps no command for longer than two seconds after an
// interrupt: the first process says who is kept, and leaves. It needs the right to mount.
func TestAFileSystemThatHangs(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds")
	}
	demo, path := demoDir(t), programPath(t)
	program := filepath.Join(strings.SplitN(path, ":", 2)[0], "gradeline")
	mount := t.TempDir()
	server := exec.Command("/usr/bin/python3", "-c", hangingMount, mount)
	end, err := server.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := server.StdoutPipe()
	if err == nil {
		err = server.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { end.Close(); _ = server.Wait() }) // the file system goes, and what it keeps
	if line, _ := bufio.NewReader(out).ReadString('\n'); line != "mounted\n" {
		t.Skip("no right to mount a file system here")
	}
	at := func(name string) string { return filepath.Join(mount, name) }
	const hill = "veltrane-pass-road-f-4.7"
	for _, args := range [][]string{
		{"survey", "--terrain=" + at("d.tif"), "--catalog", "new.gpkg", "routes.geojson"}, {"sheet", hill, "--class", "us-5axle", "--catalog", "demo.gpkg", "-o", at("s.pdf")}, {"merge", at("o.gpkg"), "--catalog", "demo.gpkg"},
	} {
		// One that the signal itself ends had not begun yet: a loaded machine needs longer.
		for _, wait := range []time.Duration{500 * time.Millisecond, 3 * time.Second, 12 * time.Second} {
			said, code := keptFor(t, wait, demo, program, args)
			if said == "" && (code == exitInterrupted || code < 0) && wait < 12*time.Second {
				continue
			}
			if code != exitInterrupted || !strings.Contains(said, "interrupted") {
				t.Errorf("%v: exit code %d, %q", args, code, said)
			}
			break
		}
	}
}

// keptFor starts a command, interrupts it after a wait, and returns what it said and its exit code.
func keptFor(t *testing.T, wait time.Duration, dir, program string, args []string) (said string, code int) {
	t.Helper()
	file, err := os.CreateTemp(t.TempDir(), "") // a pipe would stay open in the process that is kept
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	cmd := exec.Command(program, args...)
	cmd.Dir, cmd.Stderr = dir, file
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(wait)
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Errorf("%v ended by itself: %v", args, err)
	}
	done := make(chan struct{})
	go func() { _ = cmd.Wait(); close(done) }()
	select {
	case <-done:
	case <-time.After(8 * time.Second): // far over the two seconds: the machine may be loaded
		t.Fatalf("%v outlives an interrupt", args)
	}
	b, _ := os.ReadFile(file.Name())
	return string(b), cmd.ProcessState.ExitCode()
}

// The mount point of a path is found without asking any file system.
func TestMountInUserSpace(t *testing.T) {
	const mounts = "22 1 8:1 / / rw shared:1 - ext4 /dev/sda1 rw\n31 22 0:27 / /sys/fs/fuse/connections rw - fusectl fusectl rw\n90 22 0:50 / /home/ada/far\\040away rw,nosuid shared:9 - fuse.sshfs ada@host: rw\n"
	for path, want := range map[string]string{
		"/home/ada/far away/c.gpkg": "/home/ada/far away", "--catalog=/home/ada/far away/c.gpkg": "/home/ada/far away", "far away/x": "/home/ada/far away", "/home/ada/far away": "/home/ada/far away",
		"/home/ada/far awayness/c.gpkg": "", "/home/ada/c.gpkg": "", "--json": "", "": "", "../ada/far away/x": "/home/ada/far away",
	} {
		if got := mountOf(mounts, "/home/ada", []string{"list", path}); got != want {
			t.Errorf("%q is on %q, want %q", path, got, want)
		}
	}
	if got := mountOf(mounts, "/home/ada/far away/maps", nil); got == "" {
		t.Error("a working folder there is not found")
	}
}

// A memory group too small for a survey is said, with its size, instead of an end without a word.
// Needs the right to make a group of version 1 or 2.
func TestALittleMemoryGroupIsSaid(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds")
	}
	demo, path := demoDir(t), programPath(t)
	group, limit := "/sys/fs/cgroup/memory/gradeline-test", "memory.limit_in_bytes"
	if _, err := os.Stat("/sys/fs/cgroup/cgroup.controllers"); err == nil {
		group, limit = "/sys/fs/cgroup/gradeline-test", "memory.max"
	}
	if err := os.Mkdir(group, 0o755); err != nil {
		t.Skip("no right to make a memory group here")
	}
	t.Cleanup(func() { os.Remove(group) })
	for limitB, says := range map[string]string{"24000000": "it needs 32 MB", "44000000": "the system ended the command"} {
		if err := os.WriteFile(filepath.Join(group, limit), []byte(limitB), 0o644); err != nil {
			t.Skip("no right to limit a memory group here")
		}
		out, err := shell(t, "sh", path, demo, "(echo 0 > "+group+"/cgroup.procs && gradeline survey --terrain terrain.tif --catalog new.gpkg routes.geojson 2>&1 >/dev/null; echo code $?)")
		if err != nil || !strings.Contains(out, "too little memory") || !strings.Contains(out, says) || !strings.Contains(out, "code 1") {
			t.Errorf("%s bytes: %v\n%.400s", limitB, err, out)
		}
	}
}
