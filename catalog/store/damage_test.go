package store

import (
	"database/sql"
	"encoding/binary"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/specimen"
)

var updateDamage = flag.Bool("update.damage", false, "write catalog/gpkg/DAMAGE.md anew")

const damageFile = "../gpkg/DAMAGE.md"

// asked is what a command asks the catalogue, and what of the answer a driver may act
// on, as JSON.
type asked struct {
	name string
	ask  func(c *Catalog, dir string) (any, error)
}

type figures struct {
	Descent any
	Line    []catalog.Vertex
	Holds   []catalog.Hold
	State   catalog.ReviewState
}

func figuresOf(list []catalog.Entry, err error) (any, error) {
	var out []figures
	for _, e := range list {
		out = append(out, figures{e.Descent, e.Line, e.Holds, e.Review.State})
	}
	return out, err
}

var everythingAsked = []asked{
	{"list", func(c *Catalog, _ string) (any, error) { return figuresOf(c.Descents(ctx, Filter{Brief: true})) }},
	{"list --bbox", func(c *Catalog, _ string) (any, error) {
		return figuresOf(c.Descents(ctx, Filter{Brief: true, BBox: &Box{-180, -90, 180, 90}}))
	}},
	{"show", func(c *Catalog, _ string) (any, error) {
		e, err := c.Descent(ctx, "brasket-gap-road-f-0.6")
		if err != nil {
			return nil, err
		}
		p, err := c.Profile(ctx, e.Descent.ID)
		if err != nil {
			return nil, err
		}
		return []any{figures{e.Descent, e.Line, e.Holds, e.Review.State}, fmt.Sprint(p.ElevationM)}, nil
	}},
	{"overlay avoid", func(c *Catalog, _ string) (any, error) {
		return figuresOf(c.Descents(ctx, Filter{NotHeldBy: "ca-btrain-63t"}))
	}},
	{"review (queue)", func(c *Catalog, _ string) (any, error) {
		q, err := c.Queue(ctx)
		var out []any
		for _, it := range q {
			out = append(out, it.ID, it.State, it.Reasons)
		}
		return out, err
	}},
	{"sites list", func(c *Catalog, _ string) (any, error) {
		s, err := c.Sites(ctx, SiteFilter{})
		var out []any
		for _, x := range s {
			out = append(out, x.ID, x.Point, x.Kind)
		}
		return out, err
	}},
	{"list -o part.gpkg", func(c *Catalog, dir string) (any, error) {
		part := filepath.Join(dir, "part.gpkg")
		os.Remove(part)
		if _, err := c.Subset(ctx, part, Filter{}, SubsetOptions{}); err != nil {
			return nil, err
		}
		p, err := Open(ctx, part, Options{ReadOnly: true})
		if err != nil {
			return nil, err
		}
		defer p.Close()
		return figuresOf(p.Descents(ctx, Filter{}))
	}},
	{"merge", func(c *Catalog, dir string) (any, error) {
		into := filepath.Join(dir, "into.gpkg")
		os.Remove(into)
		d, err := Open(ctx, into, Options{Create: true, Now: clock})
		if err != nil {
			return nil, err
		}
		defer d.Close()
		if _, err := Merge(ctx, d, c, MergeOptions{}); err != nil {
			return nil, err
		}
		return figuresOf(d.Descents(ctx, Filter{}))
	}},
}

// answers asks everything of the file at path: JSON of each answer, or the fault.
func answers(path, dir string) (out []string, faults []error) {
	c, err := Open(ctx, path, Options{ReadOnly: true})
	for _, a := range everythingAsked {
		text, fault := "", err
		if err == nil {
			var x any
			if x, fault = a.ask(c, dir); fault == nil {
				b, _ := json.Marshal(x)
				text = string(b)
			}
		}
		out, faults = append(out, text), append(faults, fault)
	}
	if err == nil {
		c.Close()
	}
	return out, faults
}

// damageable is a closed catalogue with rows in every table, those of real advice too.
func damageable(t testing.TB) string {
	t.Helper()
	old, err := Open(ctx, version1(t), Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer old.Close()
	c, path := fresh(t)
	fillEveryTable(t, c)
	rs := survey("Brasket Gap Road", 0)
	rs.Profile = plainProfile(12000)
	list, err := old.Descents(ctx, Filter{})
	if err != nil {
		t.Fatal(err)
	}
	rs.Entries = append(rs.Entries, list...)
	save(t, c, rs, SaveOptions{})
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// rootPages are the pages at which tables and indexes begin, in the file's order.
func rootPages(t testing.TB, path string) (roots []specimen.Root) {
	t.Helper()
	c, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	err = c.file.Read(ctx, func(q gpkg.Querier) error {
		return gpkg.Each(q, func(rows *sql.Rows) error {
			var r specimen.Root
			err := rows.Scan(&r.Name, &r.IsIndex, &r.Page)
			roots = append(roots, r)
			return err
		}, "SELECT name, type = 'index', rootpage FROM sqlite_master WHERE rootpage > 0")
	})
	if err != nil {
		t.Fatal(err)
	}
	return roots
}

// spoiled are values in the file of damageable, by what is done to them.
func spoiled() map[string][]byte {
	station := string(binary.BigEndian.AppendUint64(nil, math.Float64bits(1234.5)))
	out := map[string][]byte{"a site's station": []byte("Rampr" + station), "a site's station in its index": []byte("r" + station)}
	for what, text := range map[string]string{
		"a letter of advice in words": "Before the crest", "a letter of a weight class's id": "ca-btrain-63t",
		"a letter of a descent's id": "brasket-gap-road-f-0.6", "a letter of a review's state": "r-f-1.0approvedAda2026", "a letter of a review's note": "approvedAda2026-03-04T05:06:07.089Zseen",
		"a letter of a site's kind": "escape-ramp-r-1.2escape-ramp", "a letter of a road's fingerprint": "line of Brasket Gap Road2026", "a letter of a class's definition": `{"id":"heavy"}`,
		"a letter of a provenance": `800 m{"tool":"gradeline test`, "a letter of a newer survey that waits": `"mean_downgrade_pct":6`,
	} {
		out[what] = []byte(text)
	}
	return out
}

// No damage gives another answer than the sound file's: each command answers right or
// refuses, and doctor never gives an all-clear to a file of which something is refused.
func TestDamageGivesNoWrongAnswer(t *testing.T) {
	if testing.Short() {
		t.Skip("a minute")
	}
	path := damageable(t)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	sound, faults := answers(path, dir)
	if err := errors.Join(faults...); err != nil {
		t.Fatal(err)
	}
	var table strings.Builder
	fmt.Fprintf(&table, "| damage |")
	for _, a := range everythingAsked {
		fmt.Fprintf(&table, " %s |", a.name)
	}
	fmt.Fprintf(&table, " doctor | after doctor --repair |\n|%s\n", strings.Repeat("---|", len(everythingAsked)+3))
	target := filepath.Join(dir, "damaged.gpkg")
	kinds := specimen.Damages(whole, rootPages(t, path), spoiled())
	for _, d := range kinds {
		row := judge(t, d.What, d.Do(slices.Clone(whole)), target, dir, sound)
		fmt.Fprintf(&table, "| %s | %s |\n", d.What, strings.Join(row, " | "))
	}
	text := fmt.Sprintf(damageIntro, len(kinds)) + table.String()
	if *updateDamage {
		if err := os.WriteFile(damageFile, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if kept, err := os.ReadFile(damageFile); err != nil || string(kept) != text {
		t.Errorf("%s is not what damage does now (%v): run this test with -update.damage", damageFile, err)
	}
}

const damageIntro = `# What damage to a catalogue does

Made by ` + "`go test ./catalog/store -run TestDamageGivesNoWrongAnswer -update.damage`" + `, which fails where the answer of a command differs from that for the sound file. %d kinds of damage to a catalogue with rows in every table. *Right*: the answer for the sound file, in everything that a driver may act on: descents, figures, lines, advice by class, review states; sites by id, kind and place. *Refused*: a message that names the file and what to do, exit code 1. Names of roads and descents have no check sum; reviews and sites that were edited in a GIS have none either.

`

// judge asks everything of damaged bytes.
func judge(t *testing.T, what string, b []byte, target, dir string, sound []string) []string {
	t.Helper()
	for _, end := range []string{"", "-journal", "-wal", "-shm"} {
		os.Remove(target + end)
	}
	if err := os.WriteFile(target, b, 0o644); err != nil {
		t.Fatal(err)
	}
	var row []string
	isRefused := false
	check := func(got []string, faults []error, when string) {
		for i := range got {
			switch {
			case faults[i] != nil:
				var f *Fault
				if !errors.As(faults[i], &f) || f.What == "" {
					t.Errorf("%s: %s%s: no fault but %v", what, everythingAsked[i].name, when, faults[i])
				}
			case got[i] != sound[i]:
				t.Errorf("%s: %s%s answers\n%.300s\nthe sound file\n%.300s", what, everythingAsked[i].name, when, got[i], sound[i])
			}
		}
	}
	got, faults := answers(target, dir)
	check(got, faults, "")
	for _, f := range faults {
		if f != nil {
			row, isRefused = append(row, "refused"), true
		} else {
			row = append(row, "right")
		}
	}
	found, err := ExamineFile(ctx, target, Options{})
	switch {
	case err != nil:
		row = append(row, "refused")
	case len(found) > 0:
		row = append(row, "names it")
	case isRefused:
		t.Errorf("%s: doctor gives an all-clear", what)
		row = append(row, "ALL-CLEAR")
	default:
		row = append(row, "no fault")
	}
	report, err := RepairFile(ctx, target, "t", Options{Now: clock})
	got, faults = answers(target, dir)
	check(got, faults, " after the repair")
	refused := 0
	for _, f := range faults {
		if f != nil {
			refused++
		}
	}
	switch {
	case err != nil:
		row = append(row, "cannot be mended")
	case len(report.Left) > 0:
		row = append(row, fmt.Sprintf("%d of %d answer", len(faults)-refused, len(faults)))
	case refused > 0:
		t.Errorf("%s: repaired, and still refused: %v", what, errors.Join(faults...))
	default:
		row = append(row, "all right")
	}
	return row
}

// A flipped byte anywhere gives no wrong answer either.
func TestFlippedBytesGiveNoWrongAnswer(t *testing.T) {
	path := damageable(t)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	sound, _ := answers(path, dir)
	target := filepath.Join(dir, "damaged.gpkg")
	r := rand.New(rand.NewPCG(20261129, 17))
	flips := 60
	if testing.Short() {
		flips = 10
	}
	for k := range flips {
		b := slices.Clone(whole)
		at := r.IntN(len(b))
		b[at] ^= byte(1 << r.IntN(8))
		judge(t, fmt.Sprintf("flip %d, byte %d", k, at), b, target, dir, sound)
	}
}
