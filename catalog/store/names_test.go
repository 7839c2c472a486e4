package store

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/terrain"
)

// Names that would break a page, a statement or a terminal come back as they
// were; ids hold none of it.
func TestOddNames(t *testing.T) {
	c, path := fresh(t)
	for i, name := range []string{"'; DROP TABLE descents; --", "<script>alert('x')</script>", "a\x01b\x1b[31m", "\u202Egpj.exe", "\u2066\u2069", "Grüße & Höhen", "日本坂", "=HYPERLINK(\"x\")", strings.Repeat("long ", 500), "../../etc", "%s%n", "x\ny"} {
		rs := survey(name, 1)
		rs.Entries[0].Descent.Name = name
		ch := save(t, c, rs, SaveOptions{By: name})
		id := ch.Added[0]
		for _, r := range id {
			if !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '-' || r == '.') {
				t.Errorf("id %q of %q", id, name)
			}
		}
		if len(id) > 60 {
			t.Errorf("id of %d characters", len(id))
		}
		e := descent(t, c, id)
		if e.Descent.Name != name || e.Descent.Route != name {
			t.Errorf("%q came back as %q", name, e.Descent.Name)
		}
		if l, err := c.Descents(ctx, Filter{Route: name}); err != nil || len(l) != 1 {
			t.Errorf("%d: by route %q: %d, %v", i, name, len(l), err)
		}
		if _, err := c.Descent(ctx, name); !errors.Is(err, catalog.ErrNotFound) || strings.ContainsAny(err.Error(), "\n\x1b\u202E") {
			t.Errorf("asking for %q: %v", name, err)
		}
	}
	for _, bad := range []string{"\xff\xfe", "a\x00b"} {
		if _, err := c.SaveRoute(ctx, survey(bad, 1), SaveOptions{}); !errors.Is(err, terrain.ErrInput) {
			t.Errorf("%q: %v", bad, err)
		}
	}
	mustBeValid(t, path, "odd names")
}

func TestOddPaths(t *testing.T) {
	for _, name := range []string{"a b.gpkg", "a?mode=memory.gpkg", "a#b.gpkg", "a%41.gpkg", "ü'\".gpkg", "noending"} {
		path := filepath.Join(t.TempDir(), name)
		c := open(t, path)
		save(t, c, survey("Kestrel Road", 1), SaveOptions{})
		c.Close()
		if l, err := os.ReadDir(filepath.Dir(path)); err != nil || len(l) != 1 || l[0].Name() != name {
			t.Errorf("%q: folder holds %v", name, l)
		}
	}
}

func TestFindingADescent(t *testing.T) {
	c, _ := fresh(t)
	save(t, c, survey("Kestrel Road", 3), SaveOptions{})
	for _, id := range []string{"kestrel-road-f-1.0", "KESTREL-ROAD-F-21.0", " kestrel-road-f-2 "} {
		if _, err := c.Descent(ctx, id); err != nil {
			t.Errorf("%q: %v", id, err)
		}
	}
	for id, says := range map[string]string{
		"kestrel-road-f-1":   "write one out: kestrel-road-f-1.0, kestrel-road-f-11.0",
		"kestral-road-f-1.0": "did you mean kestrel-road-f-1.0",
		"":                   "no descent",
		"zzz":                "list shows the ids",
	} {
		if _, err := c.Descent(ctx, id); !errors.Is(err, catalog.ErrNotFound) || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v", id, err)
		}
	}
}

func TestWALIsLeft(t *testing.T) {
	c, path := fresh(t)
	save(t, c, survey("Kestrel Road", 1), SaveOptions{})
	c.Close()
	spoil(t, path, "PRAGMA journal_mode = WAL", "UPDATE reviews SET note = ''")
	c = open(t, path)
	save(t, c, survey("Heron Pass", 1), SaveOptions{})
	if b, err := os.ReadFile(path); err != nil || b[18] != 1 {
		t.Errorf("still in write-ahead mode, %v", err)
	}
	if _, err := os.Stat(path + "-wal"); err == nil {
		t.Error("a log was left")
	}
}

func TestDistanceOfIDs(t *testing.T) {
	if got := distance("kestrel", "kestral", 3); got != 1 {
		t.Error(got)
	}
	if got := distance("abc", "xyz123", 2); got != 3 {
		t.Error(got)
	}
}
