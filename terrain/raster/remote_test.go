package raster

import (
	"context"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

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
	gone.Store(true)
	far := []terrain.Point{{LonDeg: -105.06, LatDeg: 39.80}}
	if got := sample(t, s, far)[0]; got.Miss != terrain.Unreadable {
		t.Errorf("%+v", got)
	}
	if w := strings.Join(s.Warnings(), "\n"); !strings.Contains(w, "cog.tif: block at column") {
		t.Errorf("%s", w)
	}
	_, err := Open(context.Background(), []string{srv.URL + "/other.tif"}, Options{AllowRemote: true})
	wantFault(t, err, terrain.ErrRead, "other.tif")
}
