package store

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/shared/testserver"
)

// farShared is a new shared catalogue with one route, and the same opened with a copy of its own
// through a network that fails.
func farShared(t *testing.T, o Options) (near, far *Catalog, db *testserver.Database, k *cutter) {
	t.Helper()
	near, db = freshShared(t)
	save(t, near, survey("r", 1), SaveOptions{})
	db.Ask(t, "DROP ROLE IF EXISTS far; CREATE ROLE far LOGIN SUPERUSER PASSWORD 'p'")
	k = newCutter(t, db)
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	far = openAt(t, strings.Replace(db.AddressOverTCP("far", "p"), k.to, k.listener.Addr().String(), 1), o)
	return near, far, db, k
}

// upToDate brings a catalogue's copy up to date.
func upToDate(t *testing.T, c *Catalog) {
	t.Helper()
	if err := c.file.Change(ctx, func() error { return nil }); err != nil {
		t.Fatal(err)
	}
}

// A network that fails while a change is stored: before its COMMIT the same rows are sent again, and
// where only the answer was lost they are not. Each change is there once.
func TestSharedNetworkLostWhileStoring(t *testing.T) {
	near, far, _, k := farShared(t, Options{})
	for i, c := range []struct{ mode, word string }{{"before", "commit\x00"}, {"after", "commit\x00"}, {"before", "shared_number"}, {"before", `copy "gradeline"."history"`}, {"after", `copy "gradeline"."history"`}} {
		k.word.Store(c.word)
		k.mode.Store(c.mode)
		by := fmt.Sprint("Ada ", i)
		if err := far.Review(ctx, "r-f-1.0", lookBy(by)); err != nil {
			t.Errorf("%+v: %v", c, err)
		}
		upToDate(t, near)
		if e, err := near.Descent(ctx, "r-f-1.0"); err != nil || e.Review.By != by {
			t.Errorf("%+v: %+v, %v", c, e.Review, err)
		}
		history, err := near.History(ctx, "r-f-1.0")
		n := 0
		for _, h := range history {
			if h.By == by {
				n++
			}
		}
		if err != nil || n != 1 || k.cuts.Load() != int64(i+1) {
			t.Errorf("%+v: the review is stored %d times, after %d cuts, %v", c, n, k.cuts.Load(), err)
		}
	}
	sameRows(t, "after lost connections", allRows(t, far), allRows(t, near))
	k.word.Store("commit\x00")
	k.mode.Store("always")
	want := allRows(t, near)
	saysAll(t, "always", far.Review(ctx, "r-f-1.0", lookBy("Zoe")), catalog.ErrBusy, "nothing was stored", "try again")
	k.mode.Store("")
	upToDate(t, near)
	sameRows(t, "always", allRows(t, near), want)
}

// A survey whose connection is lost before or after the COMMIT of its routes goes on: they are in
// the catalogue once, as without the loss.
func TestSharedSurveyGoesOnAfterALoss(t *testing.T) {
	for _, mode := range []string{"", "before", "after", "restart"} {
		near, far, db, k := farShared(t, Options{BusyTimeout: time.Minute})
		s := far.BeginSurvey(SaveOptions{RoutesPerCommit: 2})
		for i := range 5 {
			if i == 3 && mode == "restart" {
				db.Restart(t)
			} else if i == 3 {
				k.mode.Store(mode)
			}
			if _, err := s.Save(ctx, survey(fmt.Sprint("s", i), 2)); err != nil {
				t.Fatalf("%s: route %d: %v", mode, i, err)
			}
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		upToDate(t, near)
		ids, err := near.RouteIDs(ctx, true, 0)
		if err != nil || len(ids) != 6 || s.Committed() != 5 {
			t.Errorf("%s: routes %q, %d committed, %v", mode, ids, s.Committed(), err)
		}
		sameRows(t, mode, allRows(t, near), allRows(t, far))
	}
}
