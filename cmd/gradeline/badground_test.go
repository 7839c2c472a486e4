package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// hillTiles writes the hill as a tiled raster, and says where in the
// file the block that holds a distance from the west end on the road's line begins.
func hillTiles(t *testing.T, h hill, compress string) (path string, blockAt func(xM float64) int64) {
	t.Helper()
	path = h.path("tiles.tif")
	out, err := exec.Command("gdal_translate", "-q", "-co", "TILED=YES", "-co", "BLOCKXSIZE=64", "-co", "BLOCKYSIZE=64", "-co", "COMPRESS="+compress, h.dem, path).CombinedOutput()
	if err != nil {
		t.Fatalf("gdal_translate: %v %s", err, out)
	}
	return path, func(xM float64) int64 {
		col := int(xM/degreeM()/cellDeg) + 10
		script := fmt.Sprintf("from osgeo import gdal; d = gdal.Open(%q); print(d.GetRasterBand(1).GetMetadataItem('BLOCK_OFFSET_%d_0', 'TIFF'))", path, col/64)
		out, err := exec.Command("/usr/bin/python3", "-c", script).Output()
		var at int64
		if err == nil {
			_, err = fmt.Sscan(string(out), &at)
		}
		if err != nil {
			t.Fatalf("where a block lies: %v %s", err, out)
		}
		return at
	}
}

// A block of the raster that cannot be decoded costs its own stretch: the hill beyond
// it is found, the missing metres and the file are named, and the exit code says gaps.
func TestADamagedBlockCostsItsOwnStretch(t *testing.T) {
	h := makeHill(t, 6, nil)
	tiles, blockAt := hillTiles(t, h, "DEFLATE")
	f, err := os.OpenFile(tiles, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteAt([]byte("spoiled bytes"), blockAt(300)); err != nil { // 450 m of 7 km, before the crest
		t.Fatal(err)
	}
	f.Close()
	r := gradeline(t, "survey", "--terrain", tiles, "--catalog", h.path("c.gpkg"), "--json", h.road).want(t, exitGaps)
	a := parse(t, r)
	if m := number(t, first(t, a, "routes"), "missing_m"); m < 400 || m > 930 { // blocks are read two by two: 128 cells of 7.2 m
		t.Errorf("missing %v m", m)
	}
	d := first(t, a, "descents")
	if s, e := number(t, d, "start_m"), number(t, d, "end_m"); s < 1400 || s > 1600 || e < 5400 || e > 5600 {
		t.Errorf("descent from %v to %v m", s, e)
	}
	if w := fmt.Sprint(a["warnings"]); !strings.Contains(w, "tiles.tif: block at column") || !strings.Contains(w, "could not be decoded") {
		t.Errorf("warnings %v", w)
	}
	if !strings.Contains(r.err, "have no known ground") {
		t.Errorf("said %q", r.err)
	}
}

// A raster behind an address that stops answering while the survey runs: the road is
// named with the raster, and nothing hangs: 16 readers ask at once, twice, and no more.
func TestARasterThatVanishesIsNamed(t *testing.T) {
	h := makeHill(t, 6, nil)
	tiles, _ := hillTiles(t, h, "NONE")
	var asked, after atomic.Int64
	over := make(chan struct{})
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodGet && asked.Add(1) > 1 { // the header's piece of the file comes, then nothing
			after.Add(1)
			select {
			case <-over:
			case <-r.Context().Done():
			}
			return
		}
		http.ServeFile(w, r, tiles)
	}))
	defer srv.Close()
	defer close(over)
	url := srv.URL + "/far.tif"
	gradeline(t, "survey", "--terrain", url, "--catalog", h.path("c.gpkg"), h.road).want(t, exitFailed).says(t, "far.tif", "not read unless allowed")
	r := gradeline(t, "survey", "--terrain", url, "--remote", "--remote-timeout", "300ms", "--catalog", h.path("c.gpkg"), h.road)
	if r.code != exitFailed && r.code != exitGaps || !strings.Contains(r.err, "far.tif") || after.Load() == 0 || after.Load() > 64 {
		t.Errorf("exit code %d after %d questions without an answer: %s", r.code, after.Load(), r.err)
	}
	gradeline(t, "survey", "--terrain", url, "--remote", "--remote-timeout", "0s", h.road).want(t, exitUsage).says(t, "--remote-timeout", "30s")
}

// A disk that is full while the survey runs: one line that says so, whole routes in
// the catalogue, and with room the next run takes up from there.
func TestAFullDiskEndsWhole(t *testing.T) {
	h := makeHill(t, 6, nil)
	net := h.writeNetwork(t, "net.geojson", drawnNetwork(70))
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	disk, kept := h.path("disk"), h.path("kept")
	for _, dir := range []string{disk, kept} {
		if err := os.Mkdir(dir, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	// The disk is a small tmpfs that only this shell sees: more than a commit of 25 routes
	// needs, less than all of them.
	script := fmt.Sprintf(`mount -t tmpfs -o size=5m tmpfs '%[1]s' || exit 99
%[3]s=1 '%[4]s' survey --terrain '%[5]s' --catalog '%[1]s/c.gpkg' --json '%[6]s'; code=$?
cp -p '%[1]s'/* '%[2]s'; exit $code`, disk, kept, asProgram, self, h.dem, net)
	cmd := exec.Command("unshare", "-m", "sh", "-c", script)
	var out, errOut strings.Builder
	cmd.Stdout, cmd.Stderr = &out, &errOut
	err = cmd.Run()
	if code := cmd.ProcessState.ExitCode(); code == 99 || strings.HasPrefix(errOut.String(), "unshare: ") {
		t.Logf("no mounts here (%s); the journal's test in catalog/survey and the store's own tests stand for it", errOut.String())
		return
	}
	if cmd.ProcessState.ExitCode() != exitFailed || out.Len() > 0 || !strings.Contains(errOut.String(), "full") && !strings.Contains(errOut.String(), "space") {
		t.Fatalf("%v: %q\n%s", err, out.String(), errOut.String())
	}
	cat := filepath.Join(kept, "c.gpkg")
	part := contentsOf(t, cat)
	if len(part.Routes) == 0 || len(part.Routes) >= 70 || len(part.Descents) != len(part.Routes) {
		t.Errorf("%d routes, %d descents", len(part.Routes), len(part.Descents))
	}
	gradeline(t, "doctor", "--catalog", cat).want(t, exitDone)
	a := parse(t, gradeline(t, "survey", "--terrain", h.dem, "--catalog", cat, "--json", net).want(t, exitDone))
	if n := len(a["routes"].([]any)); n != 70 {
		t.Errorf("%d routes with room", n)
	}
	whole := h.path("whole.gpkg")
	gradeline(t, "survey", "--terrain", h.dem, "--catalog", whole, net).want(t, exitDone)
	contentsOf(t, whole).same(t, contentsOf(t, cat))
}

// fullWriter takes some bytes and then no more.
type fullWriter struct{ left int }

func (w *fullWriter) Write(b []byte) (int, error) {
	if len(b) > w.left {
		return 0, errors.New("no space left on device")
	}
	w.left -= len(b)
	return len(b), nil
}

func TestAnAnswerThatCannotBeWrittenFails(t *testing.T) {
	h := makeHill(t, 6, nil)
	for _, left := range []int{0, 100} {
		var errOut strings.Builder
		code := run(context.Background(), []string{"gradeline", "survey", "--terrain", h.dem, "--catalog", h.path("c.gpkg"), "--json", h.road},
			strings.NewReader(""), &fullWriter{left}, io.Writer(&errOut))
		if code != exitFailed || !strings.Contains(errOut.String(), "no space left") {
			t.Errorf("exit code %d: %s", code, errOut.String())
		}
	}
}

// An address at which there is nothing ends the survey at once, by its name.
func TestAnAddressWithoutARaster(t *testing.T) {
	srv := httptest.NewServer(http.NotFoundHandler())
	defer srv.Close()
	_, err := raster.Open(context.Background(), []string{srv.URL + "/none.tif"}, raster.Options{AllowRemote: true})
	if !errors.Is(err, terrain.ErrRead) || !strings.Contains(err.Error(), "none.tif") {
		t.Errorf("%v", err)
	}
}
