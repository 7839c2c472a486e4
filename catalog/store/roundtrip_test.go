package store

import (
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/google/go-cmp/cmp"

	"gradeline/catalog"
)

// What is put in comes out the same, every field of it, also those that have no
// column of their own.
func TestEntriesRoundTripExactly(t *testing.T) {
	const seed = 20261125
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 1))
	c, path := fresh(t)
	for k := range 40 {
		rs := survey("r", 0)
		rs.Route.ID = string(rune('a'+k%26)) + string(rune('a'+k/26))
		for range 1 + r.IntN(4) {
			rs.Entries = append(rs.Entries, randomEntry(r, rs.Route.ID))
		}
		ch := save(t, c, rs, SaveOptions{})
		if len(ch.Added) != len(rs.Entries) {
			t.Fatalf("added %d of %d", len(ch.Added), len(rs.Entries))
		}
		for i, id := range ch.Added {
			got, err := c.Descent(ctx, id)
			if err != nil {
				t.Fatal(err)
			}
			want := rs.Entries[i]
			want.Descent.ID = id
			if want.Holds == nil {
				want.Holds = []catalog.Hold{}
			}
			if !reflect.DeepEqual(got, want) {
				t.Fatalf("route %s: %s", rs.Route.ID, cmp.Diff(want, got))
			}
		}
	}
	mustBeValid(t, path, "random entries")
}

func TestAnEmptyCatalogueIsValid(t *testing.T) {
	c, path := fresh(t)
	mustBeValid(t, path, "creating it")
	if l, err := c.Descents(ctx, Filter{}); err != nil || len(l) != 0 {
		t.Errorf("%d descents, %v", len(l), err)
	}
}

func TestOrderOfDanger(t *testing.T) {
	c, _ := fresh(t)
	rs := survey("Kestrel Road", 5)
	set := func(i int, holds bool, speedMPS float64) {
		rs.Entries[i].Holds[1].Holds, rs.Entries[i].Holds[1].SpeedMPS = holds, speedMPS
	}
	set(0, true, 9)
	set(1, false, 0)
	set(2, true, 7)
	set(3, true, 9) // as slow as 0, but with the larger drop
	rs.Entries[4].Holds = nil
	save(t, c, rs, SaveOptions{})
	list, err := c.Descents(ctx, Filter{})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range list {
		got = append(got, e.Descent.ID)
	}
	want := []string{"kestrel-road-f-11.0", "kestrel-road-f-41.0", "kestrel-road-f-21.0", "kestrel-road-f-31.0", "kestrel-road-f-1.0"}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	list, err = c.Descents(ctx, Filter{NotHeldBy: "heavy"})
	if err != nil || len(list) != 1 || list[0].Descent.ID != want[0] {
		t.Errorf("not held: %d, %v", len(list), err)
	}
	list, err = c.Descents(ctx, Filter{State: catalog.Approved})
	if err != nil || len(list) != 0 {
		t.Errorf("approved: %d, %v", len(list), err)
	}
}
