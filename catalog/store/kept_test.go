package store

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/routes"
)

// inBox lists descents as a filter with a further condition that all meet does, by its query.
func inBox(t *testing.T, c *Catalog, f Filter) []catalog.Entry {
	f.MinLengthM = 1e-9
	list, err := c.Descents(ctx, f)
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// A box gives the same whether its descents were read before or not, and whether it is the only
// question or not: in order, with a limit, and without those that are retired.
func TestBoxesAgree(t *testing.T) {
	const seed = 11
	r := rand.New(rand.NewPCG(seed, 2))
	c, _ := fresh(t)
	fillSized(t, c, r, 300, false)
	all, err := c.Descents(ctx, Filter{Brief: true})
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(all); i += 7 {
		if err := c.Review(ctx, all[i].Descent.ID, catalog.Review{State: catalog.Retired, By: "tester", Note: "closed"}); err != nil {
			t.Fatal(err)
		}
	}
	met := 0
	for k := range 300 {
		w := 12 * r.Float64()
		box := &Box{WestDeg: -120 + 38*r.Float64(), SouthDeg: 30 + 18*r.Float64()}
		box.EastDeg, box.NorthDeg = box.WestDeg+w, box.SouthDeg+w/2
		f := Filter{BBox: box, Brief: k%2 == 0, NoHolds: k%5 == 0, WithRetired: k%3 == 0}
		if k%11 == 0 {
			f.Limit = 3
		}
		want := inBox(t, c, f)
		for pass := range 2 { // the second finds what the first kept
			got, err := c.Descents(ctx, f)
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(got, want) {
				t.Fatalf("seed %d, box %d, pass %d: %d descents, want %d", seed, k, pass, len(got), len(want))
			}
		}
		met += len(want)
	}
	if met < 1000 {
		t.Errorf("the boxes held only %d descents", met)
	}
}

// What another program changes is in the next answer: nothing that was kept is given out for it.
func TestKeptGivesWayToChanges(t *testing.T) {
	c, path := fresh(t)
	save(t, c, survey("Kestrel Road", 2), SaveOptions{})
	f := Filter{Brief: true, BBox: &Box{WestDeg: -180, SouthDeg: -90, EastDeg: 180, NorthDeg: 90}, WithRetired: true}
	read := func() catalog.Entry {
		list, err := c.Descents(ctx, f)
		if err != nil || len(list) == 0 {
			t.Fatal(list, err)
		}
		return list[0]
	}
	before := read()
	other, err := Open(ctx, path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	for i, state := range []catalog.ReviewState{catalog.Retired, catalog.FieldChecked} {
		by := []*Catalog{other, c}[i] // also its own writer is another connection
		if err := by.Review(ctx, before.Descent.ID, catalog.Review{State: state, By: "tester", Note: "seen"}); err != nil {
			t.Fatal(err)
		}
		if got := read().Review.State; got != state {
			t.Errorf("the review is %s, want %s", got, state)
		}
	}
	again := survey("Kestrel Road", 2)
	for i := range again.Entries {
		for k := range again.Entries[i].Holds {
			again.Entries[i].Holds[k].Gear++
		}
	}
	if _, err := other.SaveRoute(ctx, again, SaveOptions{By: "tester", AcceptMoves: true}); err != nil {
		t.Fatal(err)
	}
	if got := read().Holds[0].Gear; got != before.Holds[0].Gear+1 {
		t.Errorf("gear %d, want %d", got, before.Holds[0].Gear+1)
	}
}

// No answer is older than the last change that was complete before the question, with many questions
// at once: in the same process and by another connection.
func TestKeptIsNeverOld(t *testing.T) {
	c, path := fresh(t)
	save(t, c, survey("Kestrel Road", 2), SaveOptions{})
	other, err := Open(ctx, path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	f := Filter{Brief: true, BBox: &Box{WestDeg: -180, SouthDeg: -90, EastDeg: 180, NorthDeg: 90}}
	list, err := c.Descents(ctx, f)
	if err != nil || len(list) != 2 {
		t.Fatal(len(list), err)
	}
	id := list[0].Descent.ID
	const changes = 60
	var complete atomic.Int64
	var group sync.WaitGroup
	answers := make([]int, 4)
	for k := range answers {
		group.Add(1)
		go func() {
			defer group.Done()
			for last := int64(0); last < changes; answers[k]++ {
				last = complete.Load()
				list, err := c.Descents(ctx, f)
				if err != nil || len(list) != 2 {
					t.Error(len(list), err)
					return
				}
				at := slices.IndexFunc(list, func(e catalog.Entry) bool { return e.Descent.ID == id })
				if seen, _ := strconv.ParseInt(list[at].Review.Note, 10, 64); seen < last {
					t.Errorf("the answer knows change %d, but %d was complete", seen, last)
					return
				}
			}
		}()
	}
	for i := int64(1); i <= changes; i++ {
		by := c
		if i%2 == 0 {
			by = other
		}
		if err := by.Review(ctx, id, catalog.Review{State: catalog.FieldChecked, By: "tester", Note: strconv.FormatInt(i, 10)}); err != nil {
			t.Error(err)
		}
		complete.Store(i)
	}
	group.Wait()
	t.Log("answers of each:", answers)
}

// Who changes an answer does not change the next one: they share no memory.
func TestAnswersShareNoMemory(t *testing.T) {
	c, _ := fresh(t)
	rs := survey("Kestrel Road", 2)
	for i := range rs.Entries {
		d := &rs.Entries[i].Descent
		radiusM := 90.0
		d.TightestRadiusM, d.TightestRadiusAtM = &radiusM, &radiusM
		d.Flags = []string{routes.FlagBorderline}
		d.Benches = []routes.Bench{{StartM: d.StartM + 10, EndM: d.StartM + 50, LengthM: 40}}
		d.SteepParts = []routes.SteepPart{{StartM: d.StartM, EndM: d.StartM + 9, LengthM: 9, Flags: []string{routes.FlagBorderline}}}
		d.GoesOn = []routes.GoesOn{{Route: "Heron Pass", LengthM: 900}}
		for k := range rs.Entries[i].Holds {
			h := &rs.Entries[i].Holds[k]
			tempC := 310.5
			h.ServiceBrakeTempC, h.SurfacesOut, h.Weather = &tempC, []string{"ice"}, &catalog.Weather{HottestC: 45, ColdestC: -20, TailwindMPS: 5}
		}
	}
	save(t, c, rs, SaveOptions{})
	f := Filter{Brief: true, BBox: &Box{WestDeg: -180, SouthDeg: -90, EastDeg: 180, NorthDeg: 90}}
	var answers [3]map[uintptr]string // of each the memory that it refers to
	for i := range answers {
		list, err := c.Descents(ctx, f)
		if err != nil || len(list) == 0 {
			t.Fatal(list, err)
		}
		answers[i] = map[uintptr]string{}
		addMemory(answers[i], reflect.ValueOf(&list[0]).Elem(), "entry")
	}
	if len(answers[1]) < 14 {
		t.Errorf("the answer has only %d lists and pointers", len(answers[1]))
	}
	for i, a := range answers {
		for at, what := range answers[(i+1)%len(answers)] {
			if a[at] != "" {
				t.Errorf("%s of one answer is %s of another", what, a[at])
			}
		}
	}
}

// addMemory adds the lists and pointers of a value; texts cannot be changed.
func addMemory(to map[uintptr]string, v reflect.Value, what string) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() && v.Type().String() != "*time.Location" {
			to[v.Pointer()] = what
			addMemory(to, v.Elem(), what)
		}
	case reflect.Slice:
		if v.Len() > 0 {
			to[v.Pointer()] = what
		}
		for i := range v.Len() {
			addMemory(to, v.Index(i), fmt.Sprintf("%s[%d]", what, i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			addMemory(to, v.Field(i), what+"."+v.Type().Field(i).Name)
		}
	}
}

// What is kept stays within its limit, and goes with the connection.
func TestKeptHasALimit(t *testing.T) {
	c, _ := fresh(t)
	save(t, c, survey("Kestrel Road", 2), SaveOptions{})
	const eachB = 1 << 20
	count := 0
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		k := gpkg.KeptBy(q)
		for i := range int64(500) {
			k.Put(gpkg.KeptKey{Kind: 200, Key: i}, i, eachB)
		}
		for i := range int64(500) {
			if got, is := k.Get(gpkg.KeptKey{Kind: 200, Key: i}).(int64); is {
				if count++; got != i {
					t.Errorf("%d in the place of %d", got, i)
				}
			}
		}
		return nil
	})
	if err != nil || count < 40 || count > 48 {
		t.Errorf("%d values of 1 MB are kept, want at most 48, %v", count, err)
	}
	if gpkg.KeptBy(c.file) != nil {
		t.Error("the writer keeps values")
	}
}
