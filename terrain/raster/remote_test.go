package raster

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"gradeline/terrain"
)

// A raster behind an address, served on this machine, reads like the file; one that
// vanishes costs its points and names itself.
func TestRemote(t *testing.T) {
	dir := t.TempDir()
	g := grid("EPSG:26913", 490000, 4410000, 10, 600, 600, hills)
	file := write(t, filepath.Join(dir, "cog.tif"), g, WriteOptions{Format: "COG", Creation: []string{"BLOCKSIZE=128"}})
	var gone atomic.Bool
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if gone.Load() {
			http.Error(w, "gone", http.StatusGone)
			return
		}
		http.ServeFile(w, r, filepath.Join(dir, filepath.Base(r.URL.Path)))
	}))
	defer srv.Close()
	url := srv.URL + "/cog.tif"
	wantFault(t, openFault(url), terrain.ErrInput, "cog.tif")
	s := open(t, Options{AllowRemote: true}, url)
	pts := winding(3000, -105.11, 39.80, .03, 1e-4)
	want := sample(t, open(t, Options{}, file), pts)
	if i := sameSamples(want, sample(t, s, pts)); i >= 0 {
		t.Errorf("point %d %v", i, pts[i])
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	mark := s.Sources()[0]
	if mark.Fingerprint == "" || mark.Bytes != int64(len(b)) {
		t.Errorf("%+v", mark)
	}
	for i, place := range []int{100, len(b) / 2, len(b) - 5} { // head, a piece, tail
		other := slices.Clone(b)
		other[place] ^= 1
		name := fmt.Sprintf("other%d.tif", i)
		if err := os.WriteFile(filepath.Join(dir, name), other, 0o600); err != nil {
			t.Fatal(err)
		}
		changed, err := Open(t.Context(), []string{srv.URL + "/" + name}, Options{AllowRemote: true})
		if err != nil {
			continue // its header is damaged
		}
		if changed.Sources()[0].Fingerprint == mark.Fingerprint {
			t.Errorf("byte %d of %d is changed: same fingerprint", place, len(b))
		}
		changed.Close()
	}
	gone.Store(true)
	far := []terrain.Point{{LonDeg: -105.06, LatDeg: 39.80}}
	if got := sample(t, s, far)[0]; got.Miss != terrain.Unreadable {
		t.Errorf("%+v", got)
	}
	if w := strings.Join(s.Warnings(), "\n"); !strings.Contains(w, "cog.tif: block at column") {
		t.Errorf("%s", w)
	}
	_, err = Open(context.Background(), []string{srv.URL + "/other.tif"}, Options{AllowRemote: true})
	wantFault(t, err, terrain.ErrRead, "other.tif")
}

// An address that stops answering is given up after the time allowed, and not asked
// again and again for every block: its points are unreadable, the raster is named, and
// the points of another raster are as they were.
func TestRemoteThatHangs(t *testing.T) {
	dir := t.TempDir()
	g := grid("EPSG:26913", 490000, 4410000, 10, 1000, 600, hills)
	write(t, filepath.Join(dir, "slow.tif"), g, WriteOptions{Format: "COG", Creation: []string{"BLOCKSIZE=128", "COMPRESS=NONE"}})
	near := write(t, filepath.Join(dir, "near.tif"), grid("EPSG:26913", 500000, 4410000, 10, 600, 600, hills), WriteOptions{})
	var hangs atomic.Bool
	var asked atomic.Int64
	over := make(chan struct{})
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if hangs.Load() {
			asked.Add(1)
			select {
			case <-over:
			case <-r.Context().Done():
			}
			return
		}
		http.ServeFile(w, r, filepath.Join(dir, filepath.Base(r.URL.Path)))
	}))
	defer srv.Close()
	defer close(over)
	s := open(t, Options{AllowRemote: true, RemoteTimeout: 300 * time.Millisecond}, srv.URL+"/slow.tif", near)
	hangs.Store(true)
	here := winding(2000, -104.99, 39.79, .03, 1e-4)
	want := sample(t, open(t, Options{}, near), here)
	for round := range 3 {
		for i := range 5 { // many blocks, call after call
			far := []terrain.Point{{LonDeg: -105.11 + .02*float64(i), LatDeg: 39.80}}
			if got := sample(t, s, far)[0]; got.Miss != terrain.Unreadable {
				t.Fatalf("%v: %+v", far, got)
			}
		}
		for i, got := range sample(t, s, here) {
			if got.Miss != want[i].Miss || got.Miss == terrain.Hit && math.Abs(got.ElevationM-want[i].ElevationM) > 1e-6 { // pixels count from another corner
				t.Fatalf("round %d: point %v of the raster that is there: %+v", round, here[i], got)
			}
		}
	}
	if n := asked.Load(); n < 2 || n > 10 {
		t.Errorf("asked %d times", n)
	}
	if w := strings.Join(s.Warnings(), "\n"); !strings.Contains(w, "slow.tif: block at column") || !strings.Contains(w, "not asked again") {
		t.Errorf("%s", w)
	}
	_, err := Open(context.Background(), []string{srv.URL + "/late.tif"}, Options{AllowRemote: true, RemoteTimeout: 300 * time.Millisecond})
	wantFault(t, err, terrain.ErrRead, "late.tif")
}
