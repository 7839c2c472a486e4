package raster

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
)

// Stamp identifies the heights of the surface. It covers for each file the path, size, time of
// change, header and fingerprint, and the neighbouring files with its stem; also the options that
// change heights, and the versions of GDAL and PROJ. Two surfaces with equal stamps give the same
// heights. It is empty where that cannot be known: for a remote raster, or a VRT that is read
// through GDAL, whose sources may change.
func (s *Surface) Stamp() string {
	gdal, proj := Version()
	sum := sha256.New()
	fmt.Fprintf(sum, "%s %s %s %v\n", indexFormat, gdal, proj, s.opts.Cubic)
	folders := map[string]*index{} // they keep a folder's names
	for i, t := range s.tiles {
		if t.VRT || isRemote(t.path) {
			return ""
		}
		st, err := os.Stat(t.path)
		if err != nil {
			return ""
		}
		abs, err := filepath.Abs(t.path)
		if err != nil {
			return ""
		}
		dir := filepath.Dir(t.path)
		if folders[dir] == nil {
			folders[dir] = openIndex(dir, false)
		}
		h := *t.header
		h.Warnings = nil
		fmt.Fprintf(sum, "%q %d %d %x %d %+v\n", abs, st.Size(), changedNS(st), folders[dir].besideSum(t.path), s.sources[i].VertUnit, h)
	}
	return hex.EncodeToString(sum.Sum(nil))
}
