package raster

import (
	"os"
	"syscall"
)

// changedNS is when a file was last changed, nanoseconds: the later of what its
// contents say, which can be set, and what the system noted, which can't.
func changedNS(st os.FileInfo) int64 {
	ns := st.ModTime().UnixNano()
	if s, ok := st.Sys().(*syscall.Stat_t); ok {
		ns = max(ns, s.Ctim.Nano())
	}
	return ns
}
