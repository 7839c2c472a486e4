package raster

import (
	"bytes"
	"fmt"
	"io"
	"os"

	"gradeline/terrain"
)

// maxSidecarBytes is how much of a description beside a raster is looked at; a
// longer one is refused.
const maxSidecarBytes = 16 << 20

// checkSidecars refuses files beside a raster that would make GDAL open further
// files or addresses: a mask or overview that is no TIFF, a description that names
// overview files.
func checkSidecars(path string) error {
	refuse := func(name, what string) error {
		return &terrain.Fault{Kind: terrain.ErrInput, File: name, What: what, Fix: "remove it"}
	}
	for _, ext := range []string{".msk", ".ovr"} {
		head, err := readHead(path+ext, 4)
		if os.IsNotExist(err) {
			continue
		}
		tiff := bytes.Equal(head, []byte("II*\x00")) || bytes.Equal(head, []byte("MM\x00*")) ||
			bytes.Equal(head, []byte("II+\x00")) || bytes.Equal(head, []byte("MM\x00+"))
		if err != nil || !tiff {
			return refuse(path+ext, "lies beside a raster and is no TIFF")
		}
	}
	text, err := readHead(path+".aux.xml", maxSidecarBytes+1)
	switch {
	case os.IsNotExist(err):
		return nil
	case err != nil || len(text) > maxSidecarBytes:
		return refuse(path+".aux.xml", fmt.Sprintf("can't be read, or is longer than %d bytes", maxSidecarBytes))
	case bytes.Contains(bytes.ToUpper(text), []byte("OVERVIEW_FILE")):
		return refuse(path+".aux.xml", "names other files as overviews")
	}
	return nil
}

// readHead reads up to n bytes.
func readHead(path string, n int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, n))
}
