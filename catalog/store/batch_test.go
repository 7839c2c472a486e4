package store

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

// The order in which routes arrive does not matter for what is stored of each,
// and a batch stores what single saves store.
func TestBatchAndOrderDoNotMatter(t *testing.T) {
	names := []string{"Kestrel Road", "Heron Pass", "Otter Grade", "Linnet Hill"}
	list := func(c *Catalog) []catalog.Entry {
		l, err := c.Descents(ctx, Filter{})
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	a, _ := fresh(t)
	for _, n := range names {
		save(t, a, survey(n, 3), SaveOptions{})
	}
	b, path := fresh(t)
	s := b.BeginSurvey(SaveOptions{By: "tester", RoutesPerCommit: 3})
	for i := range names {
		rs := survey(names[len(names)-1-i], 3)
		if i == 2 {
			bad := survey("Bad Road", 2)
			bad.Entries[1].Descent.DropM = math.NaN()
			if _, err := s.Save(ctx, bad); !errors.Is(err, catalog.ErrImpossible) {
				t.Fatalf("NaN: %v", err)
			}
		}
		if i == 3 {
			bad := survey("Bad Road", 2)
			bad.Entries[1].Review.State = "perhaps"
			if _, err := s.Save(ctx, bad); !errors.Is(err, terrain.ErrInput) {
				t.Fatalf("a review state that is none: %v", err)
			}
		}
		if _, err := s.Save(ctx, rs); err != nil {
			t.Fatal(err)
		}
	}
	if s.Committed() != 3 {
		t.Errorf("%d committed", s.Committed())
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(list(a), list(b)) {
		t.Error("the two catalogues differ")
	}
	mustBeValid(t, path, "a batch")
}

// A batch that its owner forgot does not keep the catalogue from closing.
func TestClosingUnderABatch(t *testing.T) {
	c, path := fresh(t)
	s := c.BeginSurvey(SaveOptions{RoutesPerCommit: 100})
	if _, err := s.Save(ctx, survey("Kestrel Road", 1)); err != nil {
		t.Fatal(err)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	if l, err := open(t, path).Descents(ctx, Filter{}); err != nil || len(l) != 0 {
		t.Errorf("%d descents of an unfinished batch, %v", len(l), err)
	}
}

// Whatever is surveyed again, one descent keeps one id, none is lost, and the
// books balance.
func TestResurveysKeepTheBooks(t *testing.T) {
	c, path := fresh(t)
	road := 0
	rapid.Check(t, func(rt *rapid.T) {
		road++
		name := fmt.Sprintf("Road %d", road)
		known := map[string]bool{}
		for range rapid.IntRange(1, 4).Draw(rt, "surveys") {
			rs := survey(name, 0)
			for k := range 4 {
				if !rapid.Bool().Draw(rt, "found") {
					continue
				}
				e := hill(name, k, routes.Direction(k%2))
				e.Descent.StartM += float64(rapid.IntRange(-1500, 1500).Draw(rt, "shift"))
				e.Descent.LengthM = math.Abs(e.Descent.EndM - e.Descent.StartM)
				rs.Entries = append(rs.Entries, e)
			}
			ch, err := c.SaveRoute(ctx, rs, SaveOptions{By: "t"})
			if err != nil {
				rt.Fatal(err)
			}
			if n := len(ch.Added) + len(ch.Same) + len(ch.Updated) + len(ch.Moved); n != len(rs.Entries) {
				rt.Fatalf("%d of %d accounted for: %+v", n, len(rs.Entries), ch)
			}
			for _, id := range ch.Added {
				if known[id] {
					rt.Fatalf("%s given out twice", id)
				}
				known[id] = true
			}
			all, err := c.Descents(ctx, Filter{Route: name})
			if err != nil || len(all) != len(known) {
				rt.Fatalf("%d in the file, %d ever found, %v", len(all), len(known), err)
			}
		}
	})
	if f, err := c.Doctor(ctx); err != nil || len(f) > 0 {
		t.Fatalf("doctor: %+v %v", f, err)
	}
	mustBeValid(t, path, "random re-surveys")
}
