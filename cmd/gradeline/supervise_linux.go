package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"
)

// A thread that waits for a file system in user space (FUSE: sshfs, a phone, a cloud folder) can't
// be ended once its request was sent, and a process can't end before its threads. So where a path of
// the command line is on one, the command runs in a second process, and the first one leaves after
// an interrupt, whatever the second does.

// Where the memory of the process's group is limited to little, the kernel ends the process that
// uses most without a word. There, too, the command runs in a second process, so that the first one
// can say why it ended.

// supervisedMark is set for the second process.
const supervisedMark = "GRADELINE_SUPERVISED"

// lingerTime is how long after graceTime the second process may take to end.
const lingerTime = 300 * time.Millisecond

// slowMount is the mount point in user space under which a path of the command lies; empty for none
// and in the second process. It asks no file system but /proc.
func slowMount(args []string) string {
	mounts, err := os.ReadFile("/proc/self/mountinfo")
	dir := make([]byte, 4096)
	n, errDir := syscall.Getcwd(dir) // os.Getwd would ask the file system
	if err != nil || errDir != nil || n < 1 || os.Getenv(supervisedMark) != "" {
		return ""
	}
	return mountOf(string(mounts), string(dir[:n-1]), append(args, os.Getenv("GRADELINE_CATALOG"), os.Getenv("GRADELINE_CLASSES")))
}

// mountOf is the first mount point in user space of a mountinfo (proc(5)) that holds dir or one of
// the paths.
func mountOf(mounts, dir string, paths []string) string {
	for _, line := range strings.Split(mounts, "\n") {
		before, after, _ := strings.Cut(line, " - ")
		fields := strings.Fields(before)
		if len(fields) < 5 || !strings.HasPrefix(after, "fuse") || strings.HasPrefix(after, "fusectl") {
			continue
		}
		point := strings.NewReplacer(`\040`, " ", `\011`, "\t", `\012`, "\n", `\134`, `\`).Replace(fields[4])
		for _, p := range append([]string{"."}, paths...) {
			if _, value, isFlag := strings.Cut(p, "="); isFlag && strings.HasPrefix(p, "-") {
				p = value
			}
			if !filepath.IsAbs(p) {
				p = filepath.Join(dir, p)
			}
			if p = filepath.Clean(p); p == point || strings.HasPrefix(p, strings.TrimSuffix(point, "/")+"/") {
				return point
			}
		}
	}
	return ""
}

// supervise runs the command line in a second process and returns its exit code. After the end of
// ctx it waits no longer than the second process needs to end by itself. mount is the file system
// that may hang, memoryB the limit of little memory, for its messages.
func supervise(ctx context.Context, mount string, memoryB int64, args []string, errOut io.Writer) int {
	if memoryB > 0 && memoryB < leastB {
		fmt.Fprintf(errOut, "gradeline: too little memory: its memory group is limited to %d MB, and it needs %d MB; raise that limit\n", memoryB/1_000_000, leastB/1_000_000)
		return exitFailed
	}
	cmd := exec.Command("/proc/self/exe", args[1:]...)
	cmd.Args[0] = args[0]
	cmd.Stdin, cmd.Stdout, cmd.Stderr = os.Stdin, os.Stdout, os.Stderr
	cmd.Env = append(os.Environ(), supervisedMark+"=1")
	if err := cmd.Start(); err != nil {
		fmt.Fprintf(errOut, "gradeline: cannot start: %v\n", err)
		return exitFailed
	}
	done := make(chan int, 1)
	go func() {
		_ = cmd.Wait() // the state says how it ended
		code := cmd.ProcessState.ExitCode()
		if status, ok := cmd.ProcessState.Sys().(syscall.WaitStatus); ok && status.Signaled() {
			code = 128 + int(status.Signal())
			if status.Signal() == syscall.SIGKILL && memoryB > 0 {
				fmt.Fprintf(errOut, "gradeline: too little memory: the system ended the command, whose memory group is limited to %d MB; raise that limit, or survey a part at a time with --shard; finished work is kept\n", memoryB/1_000_000)
				code = exitFailed
			}
		}
		done <- code
	}()
	select {
	case code := <-done:
		return code
	case <-ctx.Done():
	}
	_ = cmd.Process.Signal(os.Interrupt) // a terminal sends it to both; a second one does no harm
	select {
	case code := <-done:
		return code
	case <-time.After(graceTime + lingerTime):
		if mount == "" {
			mount = "a file"
		}
		fmt.Fprintf(errOut, "gradeline: interrupted; %s does not answer, and the kernel keeps process %d until it does; finished work is kept\n", mount, cmd.Process.Pid)
		return exitInterrupted
	}
}
