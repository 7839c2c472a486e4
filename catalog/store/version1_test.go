package store

import (
	"compress/gzip"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
)

// version1 is a catalogue as an earlier version of the program wrote it: the invented
// Brasket Gap Road, two descents with nine classes, one approved.
func version1(t testing.TB) string {
	t.Helper()
	f, err := os.Open("testdata/version1.gpkg.gz")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "old.gpkg")
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// A catalogue of version 1 is read as it is, taken over by a merge and a part, and
// brought up to date by the first change, with a copy kept: ids, figures, advice and
// reviews stay.
func TestAnOlderCatalogueStays(t *testing.T) {
	path := version1(t)
	old, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	want := all(t, old)
	if len(want) != 2 || len(want["brasket-gap-road-f-0.6"].Holds) != 9 || want["brasket-gap-road-f-0.6"].Review.State != catalog.Approved || len(want["brasket-gap-road-f-5.8"].Holds[0].Heat) == 0 {
		t.Fatalf("read as it is: %d descents", len(want))
	}
	if found, err := ExamineFile(ctx, path, Options{}); err != nil || len(found) != 0 {
		t.Errorf("doctor: %+v, %v", found, err)
	}
	into, _ := fresh(t)
	if _, err := Merge(ctx, into, old, MergeOptions{By: "Bo"}); err != nil {
		t.Fatal(err)
	}
	if got := all(t, into); !reflect.DeepEqual(got, want) {
		t.Error("a merge changed it")
	}
	part := filepath.Join(t.TempDir(), "part.gpkg")
	if _, err := old.Subset(ctx, part, Filter{}, SubsetOptions{}); err != nil {
		t.Fatal(err)
	}
	if got := all(t, open(t, part)); !reflect.DeepEqual(got, want) {
		t.Error("a part is another")
	}
	old.Close()

	c := open(t, path)
	if got := all(t, c); !reflect.DeepEqual(got, want) {
		t.Error("bringing it up to date changed it")
	}
	if copies, _ := filepath.Glob(filepath.Join(filepath.Dir(path), "*.kept-1*")); len(copies) != 1 {
		t.Errorf("kept copies: %v", copies)
	}
	if err := c.Review(ctx, "brasket-gap-road-f-5.8", catalog.Review{State: catalog.FieldChecked, By: "Ada"}); err != nil {
		t.Fatal(err)
	}
	mustBeValid(t, path, "bringing it up to date")
	mustHoldJSON(t, c)
	h, err := c.History(ctx, "")
	if err != nil || !strings.Contains(h[len(h)-3].Words, "tables from version 1 to 2") {
		t.Errorf("history %+v, %v", h, err)
	}
	if found, err := c.Doctor(ctx); err != nil || len(found) != 0 {
		t.Errorf("doctor: %+v, %v", found, err)
	}
}

// mustHoldJSON fails unless every column of JSON holds valid JSON in every row.
func mustHoldJSON(t testing.TB, c *Catalog) {
	t.Helper()
	for _, column := range []string{"descents.benches", "descents.flags", "descents.more", "holds.more", "classes.definition", "proposals.entry", "proposals.class_fids", "provenance.details"} {
		table, name, _ := strings.Cut(column, ".")
		var rows, bad int
		err := c.file.Change(ctx, func() error {
			_, err := gpkg.First(c.file, []any{&rows, &bad}, "SELECT count(*), coalesce(sum(NOT json_valid("+name+")), 0) FROM "+table)
			return err
		})
		if err != nil || bad > 0 {
			t.Errorf("%s: %d of %d rows hold no JSON, %v", column, bad, rows, err)
		}
	}
}

// A figure that was changed in the file, or damaged, is not given as advice.
func TestASealIsBroken(t *testing.T) {
	c, good := fresh(t)
	rs := survey("Kestrel Road", 2)
	rs.Entries[0].Holds[0].Gears = []catalog.GearOutcome{{Gear: 3, SpeedMPS: 5}}
	save(t, c, rs, SaveOptions{})
	c.Close()
	const id = "kestrel-road-f-1.0"
	// The standard's triggers call functions that a plain program has not.
	const noTriggers = "PRAGMA writable_schema = ON; DELETE FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'rtree_descents%'; PRAGMA writable_schema = RESET; "
	for name, sql := range map[string]string{
		"a faster hold":        "UPDATE holds SET speed_mps = speed_mps + 0.001 WHERE descent_fid = 1 AND class = 'heavy'",
		"held after all":       "UPDATE holds SET holds = NOT holds WHERE descent_fid = 1 AND class = 'heavy'",
		"another class":        "UPDATE holds SET class = 'other' WHERE descent_fid = 1 AND class = 'heavy'",
		"another hill's hold":  "DELETE FROM holds WHERE descent_fid = 1; UPDATE holds SET descent_fid = 1",
		"a detail":             "UPDATE holds SET more = replace(more, '\"gear\":3', '\"gear\":4') WHERE descent_fid = 1",
		"a gentler hill":       noTriggers + "UPDATE descents SET mean_downgrade_pct = 5 WHERE fid = 1",
		"a line elsewhere":     noTriggers + "UPDATE descents SET geom = (SELECT geom FROM descents WHERE fid = 2) WHERE fid = 1",
		"another provenance":   noTriggers + "INSERT INTO provenance SELECT 9, tool, at, cell_m, noise_sigma_m, rules, invented, '{\"tool\":\"x\"}' FROM provenance; UPDATE descents SET provenance_fid = 9 WHERE fid = 1",
		"the check sum itself": "UPDATE holds SET seal = seal + 1 WHERE descent_fid = 1",
	} {
		t.Run(name, func(t *testing.T) {
			path := copyFile(t, good)
			spoil(t, path, sql)
			c, err := Open(ctx, path, Options{ReadOnly: true})
			if err != nil {
				t.Fatal(err)
			}
			defer c.Close()
			if e, err := c.Descent(ctx, id); err == nil || !strings.Contains(err.Error(), "check sum") || !strings.Contains(err.Error(), id) {
				t.Errorf("%+v, %v", e.Holds, err)
			}
			if _, err := c.Descents(ctx, Filter{Brief: true}); err == nil {
				t.Error("a list gives it all the same")
			}
		})
	}
}

// A review's state with a wrong letter is refused: a retired descent would stand as one
// in use.
func TestADamagedReviewStateIsRefused(t *testing.T) {
	c, path := fresh(t)
	save(t, c, survey("Kestrel Road", 2), SaveOptions{})
	const id = "kestrel-road-f-1.0"
	if err := c.Review(ctx, id, catalog.Review{State: catalog.Retired, By: "Ada", Note: "closed to trucks"}); err != nil {
		t.Fatal(err)
	}
	c.Close()
	spoil(t, path, "PRAGMA ignore_check_constraints = ON; UPDATE reviews SET state = 'retirec' WHERE state = 'retired'")
	c, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	_, one := c.Descent(ctx, id)
	_, list := c.Descents(ctx, Filter{Brief: true})
	_, queue := c.Queue(ctx)
	for what, err := range map[string]error{"descent": one, "list": list, "queue": queue} {
		if err == nil || !strings.Contains(err.Error(), "retirec") {
			t.Errorf("%s: %v", what, err)
		}
	}
	if found, err := c.Doctor(ctx); err != nil || len(found) == 0 {
		t.Errorf("doctor finds nothing, %v", err)
	}
}
