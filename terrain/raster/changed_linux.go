package raster

import (
	"os"
	"syscall"
)

// changedNS is the time of a file's last change, nanoseconds: the later of its modification time,
// which programs can set, and its change time, which they cannot.
func changedNS(st os.FileInfo) int64 {
	ns := st.ModTime().UnixNano()
	if s, ok := st.Sys().(*syscall.Stat_t); ok {
		ns = max(ns, s.Ctim.Nano())
	}
	return ns
}
