package store

import (
	"errors"
	"math/rand/v2"
	"path/filepath"
	"reflect"
	"slices"
	"testing"

	"gradeline/catalog"
)

// A fleet stays with the catalogue, with who chose it; the part taken out has it too.
func TestFleetIsKept(t *testing.T) {
	c, _ := fresh(t)
	save(t, c, survey("Heron Pass", 2), SaveOptions{})
	for _, ids := range [][]string{nil, {"heavy", "light"}, {"light"}, nil, {"heavy"}} {
		if err := c.SetFleet(ctx, "Ada", ids); err != nil {
			t.Fatal(err)
		}
		if got, err := c.Fleet(ctx); err != nil || !reflect.DeepEqual(got, ids) {
			t.Errorf("%v, want %v (%v)", got, ids, err)
		}
	}
	part := filepath.Join(t.TempDir(), "part.gpkg")
	if _, err := c.Subset(ctx, part, Filter{}, SubsetOptions{}); err != nil {
		t.Fatal(err)
	}
	p, err := Open(ctx, part, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	if got, err := p.Fleet(ctx); err != nil || !slices.Equal(got, []string{"heavy"}) {
		t.Errorf("the part: %v, %v", got, err)
	}
	for _, bad := range [][]string{{""}, {"a,b"}} {
		if err := c.SetFleet(ctx, "Ada", bad); !errors.Is(err, catalog.ErrClass) {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

// With a fleet, descents come with its holds alone, in the order of danger that
// catalog.CompareDanger gives for these; a descent without any stays in the list.
func TestFleetChoosesHoldsAndOrder(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 6))
	rs := survey("Heron Pass", 12)
	for i := range rs.Entries {
		rs.Entries[i].Holds = nil
		for k, class := range []string{"a", "b", "c", "d"} {
			if r.IntN(4) > 0 {
				massKg := []float64{20000, 30000, 30000, 40000}[k]
				rs.Entries[i].Holds = append(rs.Entries[i].Holds, catalog.Hold{Class: class, MassKg: massKg, Holds: r.IntN(2) > 0, Gear: 4, Ratio: 2, SpeedMPS: float64(5 + r.IntN(4)), EngineRPM: 1700})
			}
		}
	}
	c, _ := fresh(t)
	save(t, c, rs, SaveOptions{})
	every, err := c.Descents(ctx, Filter{})
	if err != nil {
		t.Fatal(err)
	}
	for _, fleet := range [][]string{{"a"}, {"b", "c"}, {"c", "a"}, {"a", "b", "c", "d"}, {"nobody"}} {
		var want []string
		list := slices.Clone(every)
		for i := range list {
			list[i].Holds = catalog.HoldsOf(slices.Clone(list[i].Holds), fleet)
		}
		slices.SortFunc(list, catalog.CompareDanger)
		for _, e := range list {
			want = append(want, e.Descent.ID)
		}
		for _, box := range []*Box{nil, {-180, -90, 180, 90}} {
			got, err := c.Descents(ctx, Filter{Fleet: fleet, BBox: box, MinLengthM: 1})
			if err != nil {
				t.Fatal(err)
			}
			var ids []string
			for _, e := range got {
				ids = append(ids, e.Descent.ID)
				for _, h := range e.Holds {
					if !slices.Contains(fleet, h.Class) {
						t.Errorf("fleet %v: %s has %s", fleet, e.Descent.ID, h.Class)
					}
				}
			}
			if !slices.Equal(ids, want) {
				t.Errorf("fleet %v, box %v:\n%v\nwant\n%v", fleet, box, ids, want)
			}
		}
	}
	es, err := c.Descents(ctx, Filter{Fleet: []string{"a"}, NotHeldBy: "d"})
	if err != nil || len(es) == 0 {
		t.Fatalf("%d, %v", len(es), err)
	}
	for _, e := range es {
		if h := catalog.HoldFor(e.Holds, "d"); h == nil || h.Holds {
			t.Errorf("%s was asked for by class d: %+v", e.Descent.ID, e.Holds)
		}
	}
}
