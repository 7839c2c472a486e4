package store

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"gradeline/catalog"
)

// Any bytes as a catalogue: refused by a fault, or opened and read without a
// panic, whatever lies inside.
func FuzzOpen(f *testing.F) {
	dir := quickDir(f)
	path := filepath.Join(dir, "seed.gpkg")
	c, err := Open(ctx, path, Options{Create: true, Now: clock})
	if err != nil {
		f.Fatal(err)
	}
	if _, err := c.SaveRoute(ctx, survey("r", 1), SaveOptions{}); err != nil {
		f.Fatal(err)
	}
	c.Close()
	whole, err := os.ReadFile(path)
	if err != nil {
		f.Fatal(err)
	}
	// The mutator gets a place and a few bytes to put there: a whole catalogue is
	// too long for it to find what matters.
	f.Add(uint32(0), []byte{}, []byte{})
	f.Add(uint32(18), []byte{2, 2}, []byte{})
	f.Add(uint32(28), []byte{0xff, 0xff, 0xff, 0xff}, []byte{1})
	f.Add(uint32(100), []byte{0x0d, 0, 0, 0xff}, []byte("\xd9\xd5\x05\xf9\x20\xa1\x63\xd7"))
	target := filepath.Join(dir, "fuzz.gpkg")
	f.Fuzz(func(t *testing.T, at uint32, put, journal []byte) {
		b := append([]byte{}, whole...)
		copy(b[int(at)%len(b):], put)
		if len(put) == 0 && at > 0 {
			b = b[:int(at)%len(b)]
		}
		if err := os.WriteFile(target, b, 0o644); err != nil {
			t.Fatal(err)
		}
		os.Remove(target + "-journal")
		if len(journal) > 0 {
			if err := os.WriteFile(target+"-journal", journal, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		for _, o := range []Options{{ReadOnly: true}, {BusyTimeout: -1}} {
			readAll(t, target, o)
		}
	})
}

func readAll(t *testing.T, path string, o Options) {
	c, err := Open(ctx, path, o)
	if err != nil {
		mustBeFault(t, err)
		return
	}
	defer c.Close()
	es, err := c.Descents(ctx, Filter{WithRetired: true})
	mustBeFault(t, err)
	for _, e := range es {
		_, err := c.Profile(ctx, e.Descent.ID)
		mustBeFault(t, err)
	}
	for _, f := range []func() error{
		func() error { _, err := c.Queue(ctx); return err },
		func() error { _, err := c.History(ctx, ""); return err },
		func() error { _, err := c.Sites(ctx, SiteFilter{}); return err },
		func() error { _, err := c.Doctor(ctx); return err },
		func() error { _, err := c.SteepParts(ctx, Filter{}); return err },
		func() error {
			_, err := c.Descents(ctx, Filter{BBox: &Box{WestDeg: -180, SouthDeg: -90, EastDeg: 180, NorthDeg: 90}, Class: "heavy"})
			return err
		},
	} {
		mustBeFault(t, f())
	}
	if !o.ReadOnly {
		mustBeFault(t, c.Review(ctx, "r-f-1.0", catalog.Review{State: catalog.Approved, By: "t"}))
		_, err := c.SaveRoute(ctx, survey("r", 2), SaveOptions{})
		mustBeFault(t, err)
	}
}

func mustBeFault(t *testing.T, err error) {
	t.Helper()
	var f *Fault
	if err != nil && (!errors.As(err, &f) || f.Kind == nil) {
		t.Fatalf("%v is no fault", err)
	}
}
