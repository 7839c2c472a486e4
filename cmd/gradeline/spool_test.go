package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// An interrupted survey is taken up like a killed one, says so, and writes nothing to
// standard output.
func TestAnInterruptedSurveyIsTakenUp(t *testing.T) {
	h := makeHill(t, 6, nil)
	net := h.writeNetwork(t, "net.geojson", network(40))
	args := []string{"gradeline", "survey", "--terrain", h.dem, "--catalog", h.path("c.gpkg"), "--workers", "1", "--json", net}
	ctx, cancel := context.WithCancel(context.Background())
	go func() {
		for {
			if list, err := filepath.Glob(h.path("*" + unfinishedExt)); err != nil || len(list) > 0 && recordsIn(list[0]) > 8 {
				cancel()
				return
			}
			time.Sleep(time.Millisecond)
		}
	}()
	var out, errOut strings.Builder
	if code := run(ctx, args, strings.NewReader(""), &out, &errOut); code != exitInterrupted || out.Len() > 0 || !strings.Contains(errOut.String(), "kept") {
		t.Fatalf("exit code %d, %q, %q", code, out.String(), errOut.String())
	}
	a := parse(t, gradeline(t, args[1:]...).want(t, exitDone))
	if n := number(t, a, "taken_over_routes"); n < 8 || len(a["routes"].([]any)) != 40 {
		t.Errorf("%v routes taken over of %d", n, len(a["routes"].([]any)))
	}
}

// Two surveys into one catalogue at once do not take over from each other.
func TestAWorkingFileInUseIsLeftAlone(t *testing.T) {
	h := makeHill(t, 6, nil)
	mine, err := newSpool(h.path("c.gpkg.0-1" + unfinishedExt))
	if err != nil {
		t.Fatal(err)
	}
	defer mine.remove()
	if err := mine.append(&record{partMeta: []byte("{}")}); err != nil {
		t.Fatal(err)
	}
	if s := reopenSpool(mine.path); s != nil {
		t.Error("a working file in use was opened")
	}
	h.survey(t, exitDone)
	if recordsIn(mine.path) != 1 {
		t.Error("a working file in use was dropped")
	}
}

// Whatever a working file holds, it opens as whole records or not at all.
func FuzzReopenSpool(f *testing.F) {
	dir := f.TempDir()
	s, err := newSpool(filepath.Join(dir, "seed"))
	if err != nil {
		f.Fatal(err)
	}
	for _, m := range []string{`{"format":"x"}`, `{"key":"k"}`} {
		if err := s.append(&record{partMeta: []byte(m), partRoute: []byte("{}")}); err != nil {
			f.Fatal(err)
		}
	}
	b, err := os.ReadFile(s.path)
	if err != nil {
		f.Fatal(err)
	}
	s.remove()
	f.Add(b)
	f.Add(b[:len(b)-3])
	f.Fuzz(func(t *testing.T, b []byte) {
		path := filepath.Join(t.TempDir(), "c"+unfinishedExt)
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		s := reopenSpool(path)
		if s == nil {
			return
		}
		defer s.remove()
		n := 0
		if err := s.each(func(off int64) error { n++; _, err := s.read(off); return err }); err != nil || n != s.n || s.ends > int64(len(b)) {
			t.Fatalf("%v, %d records of %d", err, n, s.n)
		}
		if err := s.copy(io.Discard, partRoute, ","); err != nil {
			t.Fatal(err)
		}
	})
}
