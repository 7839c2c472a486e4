package store

import (
	"compress/gzip"
	"database/sql"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
)

// version3 is a catalogue as the program wrote it before details were packed: the
// invented Old Quendrel Road, two descents with nine classes, one approved.
func version3(t testing.TB) string { return unzipped(t, "testdata/version3.gpkg.gz") }

// version1 is a catalogue as an earlier version of the program wrote it: the invented
// Brasket Gap Road, two descents with nine classes, one approved.
func version1(t testing.TB) string { return unzipped(t, "testdata/version1.gpkg.gz") }

func unzipped(t testing.TB, file string) string {
	t.Helper()
	f, err := os.Open(file)
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
	isFirstStep := func(e Event) bool {
		return e.What == "migrated" && strings.Contains(e.Words, "tables from version 1 to 2")
	}
	if err != nil || !slices.ContainsFunc(h, isFirstStep) || !strings.HasPrefix(h[len(h)-2].Words, "tables from version") {
		t.Errorf("history %+v, %v", h, err)
	}
	if found, err := c.Doctor(ctx); err != nil || len(found) != 0 {
		t.Errorf("doctor: %+v, %v", found, err)
	}
}

// A catalogue of version 3 is read as it is and brought up to date with the same figures,
// lines and advice, to the bit; its columns for a GIS are filled. Surveyed again, with the
// same answers, it is packed.
func TestACatalogueOfVersion3Stays(t *testing.T) {
	const id = "old-quendrel-road-f-0.5"
	path := version3(t)
	old, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	want := all(t, old)
	profile, err := old.Profile(ctx, id)
	if err != nil || len(want) != 2 || len(want[id].Holds) != 9 || want[id].Review.State != catalog.Approved || len(want[id].Holds[8].Statuses) == 0 {
		t.Fatalf("read as it is: %d descents, %v", len(want), err)
	}
	into, intoPath := fresh(t)
	if _, err := Merge(ctx, into, old, MergeOptions{By: "Bo"}); err != nil {
		t.Fatal(err)
	}
	part := filepath.Join(t.TempDir(), "part.gpkg")
	if _, err := old.Subset(ctx, part, Filter{}, SubsetOptions{}); err != nil {
		t.Fatal(err)
	}
	old.Close()
	brief, before := briefOf(t, path), fileSize(t, path)
	c := open(t, path)
	for what, c := range map[string]*Catalog{"brought up to date": c, "merged": into, "a part": open(t, part)} {
		if got := all(t, c); !reflect.DeepEqual(got, want) {
			t.Errorf("%s: it is another", what)
		}
		if got, err := c.Profile(ctx, id); err != nil || !reflect.DeepEqual(got.ElevationM, profile.ElevationM) {
			t.Errorf("%s: its profile is another, %v", what, err)
		}
		if found, err := c.Doctor(ctx); err != nil || len(found) != 0 {
			t.Errorf("%s: doctor: %+v, %v", what, found, err)
		}
	}
	mustBeValid(t, path, "bringing it up to date")
	mustHoldJSON(t, c)
	c.Close()
	into.Close()
	for _, path := range []string{path, intoPath, part} {
		if got := briefOf(t, path); !reflect.DeepEqual(got, brief) {
			t.Errorf("the list is another")
		}
	}
	// The columns that a GIS shows say what the details say.
	db, err := sql.Open("sqlite3", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var named int
	if err := db.QueryRow("SELECT count(*) FROM holds WHERE gear_name IS json_extract(more, '$.gear_name') AND surfaces_excluded IS json_extract(more, '$.surfaces_excluded') AND class_figures IS NULL").Scan(&named); err != nil || named != 18 {
		t.Errorf("%d of 18 holds name their gear, %v", named, err)
	}
	if after := fileSize(t, intoPath); after > before*2/3 {
		t.Errorf("merged it takes %d bytes, %d before", after, before)
	}
}

func briefOf(t testing.TB, path string) []catalog.Entry {
	t.Helper()
	c, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	list, err := c.Descents(ctx, Filter{Brief: true})
	if err != nil {
		t.Fatal(err)
	}
	return list
}

func fileSize(t testing.TB, path string) int64 {
	t.Helper()
	st, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	return st.Size()
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
		"another gear's name":  "UPDATE holds SET gear_name = '9' WHERE descent_fid = 1",
		"a surface less":       "UPDATE holds SET surfaces_excluded = '[]' WHERE descent_fid = 1",
		"no check sum":         "UPDATE holds SET seal = NULL WHERE descent_fid = 1",
		"as of an older table": "UPDATE holds SET class_figures = NULL WHERE descent_fid = 1",
		"a line less":          noTriggers + "UPDATE descents SET line = NULL WHERE fid = 1",
		"another line":         noTriggers + "UPDATE descents SET line = (SELECT line FROM descents WHERE fid = 2) WHERE fid = 1",
		"a gentler hill":       noTriggers + "UPDATE descents SET mean_downgrade_pct = 5 WHERE fid = 1",
		"a line elsewhere":     noTriggers + "UPDATE descents SET geom = (SELECT geom FROM descents WHERE fid = 2) WHERE fid = 1",
		"another provenance":   noTriggers + "INSERT INTO provenance(fid, at, cell_m, noise_sigma_m, invented, details) SELECT 9, at, cell_m, noise_sigma_m, invented, '{\"tool\":\"x\"}' FROM provenance; UPDATE descents SET provenance_fid = 9 WHERE fid = 1",
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

// Details that were changed or are gone are not given as advice either; a list does not
// read them.
func TestDamagedDetailsAreRefused(t *testing.T) {
	c, good := fresh(t)
	rs := survey("Kestrel Road", 2)
	rs.Entries[0].Holds[0].Words.US, rs.Entries[0].Holds[0].OneGearUp = "be in gear 3", "in gear 4 it runs away"
	save(t, c, rs, SaveOptions{})
	want, err := c.Descents(ctx, Filter{Brief: true})
	if err != nil {
		t.Fatal(err)
	}
	c.Close()
	const id = "kestrel-road-f-1.0"
	for name, sql := range map[string]string{
		"a sentence":           "UPDATE texts SET text = replace(text, 'be in', 'no') WHERE text LIKE 'be in%'",
		"two sentences turned": "UPDATE texts SET text = (SELECT text FROM texts x WHERE x.fid <> texts.fid AND x.text LIKE '%gear%'), seal = (SELECT seal FROM texts x WHERE x.fid <> texts.fid AND x.text LIKE '%gear%') WHERE text LIKE '%gear #%'",
		"no sentence":          "DELETE FROM texts",
		"another hill's":       "DELETE FROM advice WHERE descent_fid = 1; UPDATE advice SET descent_fid = 1",
		"none":                 "DELETE FROM advice",
		"cut":                  "UPDATE advice SET packed = substr(packed, 1, length(packed) - 1)",
		"a text":               "UPDATE advice SET packed = 'text'",
		"a hold less":          "DELETE FROM holds WHERE position = 1",
	} {
		t.Run(name, func(t *testing.T) {
			path := copyFile(t, good)
			spoil(t, path, sql)
			c, err := Open(ctx, path, Options{ReadOnly: true})
			if err != nil {
				t.Fatal(err)
			}
			defer c.Close()
			if e, err := c.Descent(ctx, id); err == nil || !strings.Contains(err.Error(), id) {
				t.Errorf("%+v, %v", e.Holds, err)
			}
			if got, err := c.Descents(ctx, Filter{Brief: true}); name != "a hold less" && (err != nil || !reflect.DeepEqual(got, want)) {
				t.Errorf("the list is another: %v", err)
			}
			if found, err := c.Doctor(ctx); err != nil || len(found) == 0 {
				t.Errorf("doctor finds nothing, %v", err)
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
