//go:build !linux

package raster

import "os"

// changedNS is when a file was last changed, nanoseconds, as its contents say.
func changedNS(st os.FileInfo) int64 { return st.ModTime().UnixNano() }
