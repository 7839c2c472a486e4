package store

import (
	"slices"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/routes"
)

// Every reason why a descent waits for a look, each with the descent that has it
// and no other; what a reviewer has looked at is not asked for again.
func TestTheQueueNamesEveryReason(t *testing.T) {
	c, _ := fresh(t)
	rs := survey("Kestrel Road", 9)
	flag := func(k int, f string) { rs.Entries[k].Descent.Flags = []string{f} }
	flag(1, routes.FlagBorderline)
	flag(2, routes.FlagUnreliable)
	flag(3, routes.FlagInterpolated)
	rs.Entries[4].Descent.InterpolatedM = longPartM + 1
	flag(5, routes.FlagBorderline)
	save(t, c, rs, SaveOptions{})
	id := func(k int) string {
		return []string{"kestrel-road-f-1.0", "kestrel-road-f-11.0", "kestrel-road-f-21.0", "kestrel-road-f-31.0", "kestrel-road-f-41.0", "kestrel-road-f-51.0", "kestrel-road-f-61.0", "kestrel-road-f-71.0", "kestrel-road-f-81.0"}[k]
	}
	review := func(k int, r catalog.Review) {
		if err := c.Review(ctx, id(k), r); err != nil {
			t.Fatal(err)
		}
	}
	review(5, catalog.Review{State: catalog.Approved, By: "Ada"}) // borderline, but looked at
	review(6, catalog.Review{State: catalog.FieldChecked, By: "Ada", At: clock().AddDate(-3, 0, 0)})
	review(7, catalog.Review{State: catalog.Approved, By: "Ada"})
	review(8, catalog.Review{State: catalog.Retired, By: "Ada"})
	again := rs
	again.Entries = slices.Delete(slices.Clone(rs.Entries), 0, 1) // the first is gone
	again.Entries[6].Descent.StartM += 700                        // the eighth moved
	save(t, c, again, SaveOptions{})
	want := map[string][]string{
		id(0): {QueueGone, QueueNew},
		id(1): {QueueNew, QueueBorderline},
		id(2): {QueueNew, QueueUnreliable},
		id(3): {QueueNew, QueueInterpolated},
		id(4): {QueueNew, QueueInterpolated},
		id(6): {QueueOld},
		id(7): {QueueMoved, QueueInQuestion},
	}
	q, err := c.Queue(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, it := range q {
		if !slices.Equal(it.Reasons, want[it.ID]) {
			t.Errorf("%s waits for %v, want %v", it.ID, it.Reasons, want[it.ID])
		}
		delete(want, it.ID)
	}
	for id := range want {
		t.Errorf("%s is not in the queue", id)
	}
	// What counts as old is the caller's to say.
	q, err = c.QueueAt(ctx, clock().Add(time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	old := 0
	for _, it := range q {
		if slices.Contains(it.Reasons, QueueOld) {
			old++
		}
	}
	if old != 3 {
		t.Errorf("%d reviews are older than the next hour, want 3", old)
	}
}
