//go:build !linux

package raster

import "os"

// changedNS is a file's modification time, nanoseconds.
func changedNS(st os.FileInfo) int64 { return st.ModTime().UnixNano() }
