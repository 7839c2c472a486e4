package spread

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"sync"

	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// prints are the fingerprints of what figures depend on other than settings and routes. A worker
// whose prints differ from those of a run leaves its jobs to others.
type prints struct {
	Program    string        `json:"program"` // SHA-256 of the program's file
	Libraries  string        `json:"libraries"`
	Arithmetic string        `json:"arithmetic"`
	Rasters    []rasterPrint `json:"rasters"`
	Roads      []string      `json:"roads"`             // SHA-256 of each road file; empty for an address
	Catalog    string        `json:"catalog,omitempty"` // id of a catalogue in a database
}

// rasterPrint identifies a raster by its name and content.
type rasterPrint struct {
	Name        string  `json:"name"`
	Bytes       int64   `json:"bytes"`
	Fingerprint string  `json:"fingerprint"`
	Cols        int     `json:"cols"`
	Rows        int     `json:"rows"`
	CellM       float64 `json:"cell_m"`
	CRS         string  `json:"crs"`
	VertUnit    string  `json:"vertical_unit"`
}

func rasterPrints(list []terrain.Raster) []rasterPrint {
	out := []rasterPrint{}
	for i := range list {
		r := &list[i]
		out = append(out, rasterPrint{r.Name, r.Bytes, r.Fingerprint, r.Cols, r.Rows, r.CellM, r.CRS, r.VertUnit.String()})
	}
	return out
}

// programPrint is the SHA-256 of this program's file.
var programPrint = sync.OnceValues(func() (string, error) {
	path, err := os.Executable()
	if err != nil {
		return "", err
	}
	return fileSHA256(path)
})

func fileSHA256(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close() // only read
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

func librariesPrint() string {
	gdal, proj := raster.Version()
	return fmt.Sprintf("GDAL %s, PROJ %s", gdal, proj)
}

// arithmeticPrint differs between processors whose elementary functions differ in the last bit, as
// with and without fused multiplication.
func arithmeticPrint() string {
	sum := sha256.New()
	for i := range 2000 {
		x := 0.37 + float64(i)*0.731
		for _, v := range []float64{math.Exp(-x / 90), math.Log(x), math.Sin(x), math.Cos(x), math.Tan(x / 300), math.Atan2(x, 7), math.Pow(x, 1.3), math.Hypot(x, 3.1), math.Cbrt(x), x*x + x/3} {
			fmt.Fprintf(sum, "%x ", math.Float64bits(v))
		}
	}
	return runtime.GOARCH + " " + hex.EncodeToString(sum.Sum(nil)[:8])
}

// machinePrints are those of this machine without files.
func machinePrints() (prints, error) {
	program, err := programPrint()
	return prints{Program: program, Libraries: librariesPrint(), Arithmetic: arithmeticPrint()}, err
}

// roadPrints sums up road files.
func roadPrints(paths []string) ([]string, error) {
	out := []string{}
	for _, p := range paths {
		sum := ""
		if !isRemote(p) {
			var err error
			if sum, err = fileSHA256(p); err != nil {
				return nil, err
			}
		}
		out = append(out, sum)
	}
	return out, nil
}

// whyOtherMachine says why a machine's figures may differ from those of a run; empty where they do
// not.
func (p *prints) whyOtherMachine(own *prints) string {
	switch {
	case p.Program != own.Program:
		return "it was queued by another build of this program: run the same version on every machine"
	case p.Libraries != own.Libraries:
		return fmt.Sprintf("it was queued with %s, this machine has %s", p.Libraries, own.Libraries)
	case p.Arithmetic != own.Arithmetic:
		return fmt.Sprintf("this machine's processor rounds otherwise (%s, not %s): its figures would differ in their last digits", own.Arithmetic, p.Arithmetic)
	}
	return ""
}

// whyOtherTerrain says which raster differs; empty where none does.
func (p *prints) whyOtherTerrain(own []rasterPrint) string {
	have := map[string]rasterPrint{}
	for _, r := range own {
		have[r.Name] = r
	}
	for i, want := range p.Rasters {
		got, ok := have[want.Name]
		switch {
		case !ok:
			return fmt.Sprintf("this machine's terrain lacks %s", want.Name)
		case got != want:
			return fmt.Sprintf("this machine's %s is another raster (%d bytes, fingerprint %.12s; the run has %d bytes, %.12s)", want.Name, got.Bytes, got.Fingerprint, want.Bytes, want.Fingerprint)
		case i < len(own) && own[i] != want:
			return fmt.Sprintf("this machine's rasters are in another order from %s on", want.Name)
		}
	}
	if len(own) != len(p.Rasters) {
		return fmt.Sprintf("this machine's terrain has %d rasters, the run has %d", len(own), len(p.Rasters))
	}
	return ""
}

// whyOtherRoads says which road file differs; empty where none does.
func (p *prints) whyOtherRoads(paths []string) string {
	for i, path := range paths {
		own, err := roadPrints([]string{path})
		switch {
		case err != nil:
			return fmt.Sprintf("this machine does not have the road file %s", path)
		case i < len(p.Roads) && own[0] != p.Roads[i]:
			return fmt.Sprintf("this machine's road file %s is another one", filepath.Base(path))
		}
	}
	return ""
}
