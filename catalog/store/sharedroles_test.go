package store

import (
	"context"
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/shared"
	"gradeline/terrain"
)

// With the rights that doctor prints, and no others, a reader reads and cannot write, a reviewer
// reviews and cannot change a figure, and a surveyor stores surveys. A role without rights is told
// what it lacks.
func TestSharedRoles(t *testing.T) {
	c, db := freshShared(t)
	fillEveryTable(t, c)
	h, err := shared.Examine(ctx, db.Address())
	if err != nil || len(h.Rights) != 3 || h.Role != "office" || !strings.Contains(h.String(), "owner") {
		t.Fatalf("%+v, %v", h, err)
	}
	db.Ask(t, "CREATE ROLE nobody LOGIN PASSWORD 'p'")
	for _, r := range h.Rights {
		db.Ask(t, "CREATE ROLE "+r.Role+" LOGIN PASSWORD 'p'")
		for _, s := range r.Statements {
			db.Ask(t, s)
		}
	}
	ofRole := func(role string, o Options) *Catalog {
		t.Setenv("XDG_CACHE_HOME", t.TempDir())
		return openAt(t, db.AddressOf(role, "p"), o)
	}
	want := allRows(t, c)
	reader := ofRole("reader", Options{ReadOnly: true})
	sameRows(t, "reader", allRows(t, reader), want)

	refused := func(role string, err error) {
		t.Helper()
		var f *Fault
		if !errors.Is(err, ErrWrite) || !errors.As(err, &f) || !strings.Contains(f.What, role) || f.Fix == "" {
			t.Errorf("%s: %v", role, err)
		}
	}
	look := catalog.Review{State: catalog.FieldChecked, By: "Bea", Note: "driven"}
	writer := ofRole("reader", Options{})
	refused("reader", writer.Review(ctx, "r-f-11.0", look))
	sameRows(t, "after a refused review", allRows(t, writer), want)

	reviewer := ofRole("reviewer", Options{})
	if err := reviewer.Review(ctx, "r-f-11.0", look); err != nil {
		t.Error(err)
	}
	if err := reviewer.Refuse(ctx, "r-f-1.0", "Bea", "the older one is right"); err != nil {
		t.Error(err)
	}
	if _, err := reviewer.AddSites(ctx, []catalog.Site{{Kind: catalog.Pullout, Name: "Pullout", Point: terrain.Point{LonDeg: -110, LatDeg: 40.1}}}, "Bea"); err != nil {
		t.Error(err)
	}
	_, err = reviewer.SaveRoute(ctx, survey("east", 1), SaveOptions{By: "Bea"})
	refused("reviewer", err)
	_, err = reviewer.ForgetDrives(ctx, []int64{1}, "Bea")
	if err == nil {
		t.Error("a reviewer forgets a drive")
	}

	surveyor := ofRole("surveyor", Options{})
	if _, err := surveyor.SaveRoute(ctx, survey("east", 1), SaveOptions{By: "Cy"}); err != nil {
		t.Error(err)
	}
	e, err := surveyor.Descent(ctx, "r-f-11.0")
	if err != nil || e.Review.By != "Bea" {
		t.Errorf("%+v, %v", e.Review, err)
	}
	if found, err := surveyor.Doctor(ctx); err != nil || len(found) > 0 {
		t.Errorf("doctor: %v, %v", found, err)
	}
	for _, right := range []string{"history,UPDATE", "history,DELETE", "catalogue,UPDATE", "shared_changes,INSERT", "shared_state,UPDATE"} {
		table, what, _ := strings.Cut(right, ",")
		for _, role := range []string{"reader", "reviewer", "surveyor"} {
			if has := db.Ask(t, "SELECT has_table_privilege('"+role+"', 'gradeline."+table+"', '"+what+"')"); has != "f" {
				t.Errorf("%s may %s in %s", role, what, table)
			}
		}
	}
	_, err = Open(ctx, db.AddressOf("surveyor", "p")+"&schema=west", Options{Create: true})
	saysAll(t, "a catalogue that a role may not make", err, ErrWrite, "surveyor", "may not make one", "GRANT CREATE", "nothing was stored")
	_, err = Open(ctx, db.AddressOf("nobody", "p"), Options{ReadOnly: true})
	refused("nobody", err)
	if h, err := shared.Examine(ctx, db.AddressOf("reviewer", "p")); err != nil || strings.Join(h.May, " ") != "read review" {
		t.Errorf("%v, %v", h.May, err)
	}
}

// What another office stores is in the copy of an office that watches, soon after: by notification,
// and by looking where none comes through.
func TestSharedWatch(t *testing.T) {
	c, db := freshShared(t)
	save(t, c, survey("r", 2), SaveOptions{})
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	watched := openAt(t, db.Address(), Options{ReadOnly: true})
	stop := shared.WatchInBackground(ctx, db.Address(), shared.WatchOptions{Options: Options{Tool: "gradeline test"}, Failed: func(err error) { t.Error(err) }})
	defer stop()
	sees := func(by string, most time.Duration) {
		t.Helper()
		begun := time.Now()
		for time.Since(begun) < most {
			if e, err := watched.Descent(ctx, "r-f-1.0"); err == nil && e.Review.By == by {
				t.Logf("seen after %s", time.Since(begun).Round(time.Millisecond))
				return
			}
			time.Sleep(5 * time.Millisecond)
		}
		t.Errorf("the review by %s is not seen after %s", by, most)
	}
	before, err := os.Stat(watched.LocalPath())
	if err != nil {
		t.Fatal(err)
	}
	time.Sleep(500 * time.Millisecond) // the watch has begun
	for _, by := range []string{"Bea", "Cy", "Dee"} {
		if err := c.Review(ctx, "r-f-1.0", catalog.Review{State: catalog.FieldChecked, By: by}); err != nil {
			t.Fatal(err)
		}
		sees(by, 20*time.Second)
	}
	if after, err := os.Stat(watched.LocalPath()); err != nil || !after.ModTime().After(before.ModTime()) {
		t.Errorf("the office's page cannot see that the copy has changed: %v, %v", after, err)
	}
	// An edit by hand, as a GIS makes it, comes through too, with a line of the history.
	db.Ask(t, "UPDATE gradeline.reviews SET state = 'approved', reviewed_by = 'Eve', note = 'by hand' WHERE descent = 'r-f-1.0'")
	sees("Eve", 20*time.Second)
	h, err := watched.History(ctx, "r-f-1.0")
	if last := h[len(h)-1]; err != nil || last.What != "by hand" || !strings.Contains(last.Words, "field-checked by Dee") {
		t.Errorf("%+v, %v", last, err)
	}
	if found, err := watched.Doctor(ctx); err != nil || len(found) > 0 {
		t.Errorf("doctor: %v, %v", found, err)
	}
}

// Sites that a GIS puts in, moves and takes out in the database are in every office's copy; a table is
// not emptied past the other offices.
func TestSharedEditsByHand(t *testing.T) {
	c, db := freshShared(t)
	save(t, c, survey("r", 1), SaveOptions{})
	db.Ask(t, "INSERT INTO gradeline.sites(geom, id, kind, side, direction) VALUES (ST_SetSRID(ST_MakePoint(-110, 40), 4326), 'ramp', 'escape-ramp', 'right', 'forward'), (ST_SetSRID(ST_MakePoint(-110, 41), 4326), 'lot', 'pullout', 'right', 'forward')")
	db.Ask(t, "UPDATE gradeline.sites SET geom = ST_SetSRID(ST_MakePoint(-110.5, 40), 4326) WHERE id = 'ramp'; DELETE FROM gradeline.sites WHERE id = 'lot'")
	if _, err := c.AddSites(ctx, []catalog.Site{{Kind: catalog.Pullout, ID: "gravel", Point: terrain.Point{LonDeg: -110, LatDeg: 40.1}}}, "Bea"); err != nil {
		t.Fatal(err)
	}
	sites, err := c.Sites(ctx, SiteFilter{})
	if err != nil || len(sites) != 2 || sites[0].Point.LonDeg+sites[1].Point.LonDeg != -220.5 {
		t.Errorf("%+v, %v", sites, err)
	}
	if got := db.Ask(t, "SELECT string_agg(words, '; ' ORDER BY fid) FROM gradeline.history WHERE what = 'by hand'"); got != "site put in: ramp; site put in: lot; site changed: ramp; site taken out: lot" {
		t.Errorf("history: %s", got)
	}
	if got := db.Ask(t, "SELECT count(*) FROM gradeline.shared_changes WHERE program = ''"); got != "2" {
		t.Errorf("%s changes by hand", got)
	}
	if got := db.Ask(t, "DO $$ BEGIN TRUNCATE gradeline.sites; EXCEPTION WHEN raise_exception THEN NULL; END $$; SELECT count(*) FROM gradeline.sites"); got != "2" {
		t.Errorf("%s sites after TRUNCATE", got)
	}
	err = c.file.Read(context.Background(), func(q gpkg.Querier) error { return gpkg.CheckRows(q, gpkg.SealedTables()...) })
	if err != nil {
		t.Error(err)
	}
}

// A copy that has a row with a place takes in its changes: a site that a GIS moves, a road that another
// office surveys again, and a figure that was edited by hand, which is reported as damage.
func TestSharedChangesOfRowsWithPlaces(t *testing.T) {
	c, db := freshShared(t)
	save(t, c, survey("r", 2), SaveOptions{})
	if _, err := c.AddSites(ctx, []catalog.Site{{Kind: catalog.Pullout, ID: "gravel", Point: terrain.Point{LonDeg: -110, LatDeg: 40.1}}}, "Bea"); err != nil {
		t.Fatal(err)
	}
	other := t.TempDir()
	reopened := func() *Catalog {
		t.Setenv("XDG_CACHE_HOME", other)
		return openAt(t, db.Address(), Options{ReadOnly: true})
	}
	sameRows(t, "the first copy", allRows(t, reopened()), allRows(t, c))
	again := survey("r", 2)
	for i := range again.Entries {
		again.Entries[i].Descent.DropM += 0.5
		again.Entries[i].Line[0].LonDeg -= 0.001
	}
	save(t, c, again, SaveOptions{})
	db.Ask(t, "UPDATE gradeline.sites SET geom = ST_SetSRID(ST_MakePoint(-111, 40), 4326), name = 'Upper' WHERE id = 'gravel'")
	later := reopened()
	if sites, err := later.Sites(ctx, SiteFilter{}); err != nil || len(sites) != 1 || sites[0].Point.LonDeg != -111 || sites[0].Name != "Upper" {
		t.Errorf("%+v, %v", sites, err)
	}
	if found, err := later.Doctor(ctx); err != nil || len(found) > 0 {
		t.Errorf("doctor: %v, %v", found, err)
	}
	if sites, err := later.Sites(ctx, SiteFilter{BBox: &Box{-111.1, 39.9, -110.9, 40.1}}); err != nil || len(sites) != 1 {
		t.Errorf("by the index: %+v, %v", sites, err)
	}
	db.Ask(t, "UPDATE gradeline.descents SET drop_m = 1")
	_, err := reopened().Descents(ctx, Filter{})
	if err == nil || !strings.Contains(err.Error(), "check sum") {
		t.Errorf("a figure that was edited: %v", err)
	}
}

// Older tables are brought up to date by an owner who opens them for writing, in one transaction, with
// every row kept; readers and reviewers are told to ask. The program of a newer version is not needed
// for what an older one has.
func TestSharedMigration(t *testing.T) {
	c, db := freshShared(t)
	save(t, c, survey("r", 2), SaveOptions{})
	want := allRows(t, c)
	c.Close()
	h, err := shared.Examine(ctx, db.Address())
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range h.Rights[2].Statements {
		if !strings.Contains(db.Ask(t, "SELECT string_agg(rolname, ' ') FROM pg_roles"), "surveyor") {
			db.Ask(t, "CREATE ROLE surveyor LOGIN PASSWORD 'p'")
		}
		db.Ask(t, s)
	}
	// As version 7 was: no table of drives, and an index that version 9 does not have; and one column less.
	db.Ask(t, "DROP TABLE gradeline.drives; ALTER TABLE gradeline.descents DROP COLUMN gone_since; CREATE INDEX holds_class ON gradeline.holds(class, holds, speed_mps); "+
		"UPDATE gradeline.catalogue SET schema_version = 7; UPDATE gradeline.shared_state SET version = 7")
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	_, err = Open(ctx, db.Address(), Options{ReadOnly: true})
	saysAll(t, "read by the owner", err, catalog.ErrNotOurs, "version 7", "owner")
	_, err = Open(ctx, db.AddressOf("surveyor", "p"), Options{})
	saysAll(t, "written by a surveyor", err, catalog.ErrNotOurs, "version 7", "owner")
	owner := openAt(t, db.Address(), Options{})
	got := allRows(t, owner)
	last := len(got["history"]) - 1
	if last < 0 || !strings.Contains(got["history"][last], "tables from version 7") {
		t.Errorf("history: %v", got["history"])
	}
	got["history"] = got["history"][:last]
	sameRows(t, "brought up to date", got, want)
	if n := db.Ask(t, "SELECT count(*) FROM pg_indexes WHERE schemaname = 'gradeline' AND indexname = 'holds_class'"); n != "0" {
		t.Error("the index of version 8 is left")
	}
	keepDrives(t, owner, drivePass(1, "r", 900, 800))
	if found, err := owner.Doctor(ctx); err != nil || len(found) > 0 {
		t.Errorf("doctor: %v, %v", found, err)
	}
}
