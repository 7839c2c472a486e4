package gpkg

import (
	"fmt"
	"os"
	"strings"
	"syscall"
)

const anotherProgram = "another program"

// lockOwner names the other process that holds a write lock on the file, from the kernel's lock
// table (proc_locks(5)); "another program" if unknown.
func lockOwner(path string) string {
	who, _ := lockHolder(path, false)
	return who
}

// lockHolder names who holds a write lock on the file or, for a change that waits
// for readers, which other process holds any; found is false where there is none.
func lockHolder(path string, orReads bool) (who string, found bool) {
	st, err := os.Stat(path)
	if err != nil {
		return anotherProgram, false
	}
	sys, ok := st.Sys().(*syscall.Stat_t)
	if !ok {
		return anotherProgram, false
	}
	table, err := os.ReadFile("/proc/locks")
	if err != nil {
		return anotherProgram, false
	}
	self, isSelf := fmt.Sprint(os.Getpid()), false
	for _, line := range strings.Split(string(table), "\n") {
		f := strings.Fields(line)
		if len(f) < 6 || f[3] != "WRITE" && !orReads || !strings.HasSuffix(f[5], fmt.Sprintf(":%d", sys.Ino)) {
			continue
		}
		if f[4] == self {
			isSelf = true
		} else if name, err := os.ReadFile("/proc/" + f[4] + "/comm"); err == nil {
			return fmt.Sprintf("%s (process %s)", strings.TrimSpace(string(name)), f[4]), true
		}
	}
	if isSelf && !orReads {
		return "another part of this program", true
	}
	return anotherProgram, false
}
