package store

import (
	"fmt"
	"os"
	"strings"
	"syscall"
)

// lockOwner names the other process that holds a write lock on the file, as the
// kernel's lock table tells (proc_locks(5)); "another program" if it can't say.
func lockOwner(path string) string {
	const unknown = "another program"
	st, err := os.Stat(path)
	if err != nil {
		return unknown
	}
	sys, ok := st.Sys().(*syscall.Stat_t)
	if !ok {
		return unknown
	}
	table, err := os.ReadFile("/proc/locks")
	if err != nil {
		return unknown
	}
	self := fmt.Sprint(os.Getpid())
	for _, line := range strings.Split(string(table), "\n") {
		f := strings.Fields(line)
		if len(f) < 6 || f[3] != "WRITE" || !strings.HasSuffix(f[5], fmt.Sprintf(":%d", sys.Ino)) {
			continue
		}
		if f[4] == self {
			return "another part of this program"
		}
		if name, err := os.ReadFile("/proc/" + f[4] + "/comm"); err == nil {
			return fmt.Sprintf("%s (process %s)", strings.TrimSpace(string(name)), f[4])
		}
	}
	return unknown
}
