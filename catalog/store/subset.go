package store

import (
	"context"
	"database/sql/driver"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/catalog/shared"
)

// SubsetOptions set how a part of a catalogue is copied.
type SubsetOptions struct {
	By      string // who copies it, for the history of the part
	Words   string // the request in words, for the history too
	Replace bool   // an existing file
}

// partSQL copies what belongs to the descents in temp.wanted and the routes in
// temp.roads, key for key; %s is the list of a table's columns. Every table is listed
// here; a test checks that.
var partSQL = []struct{ table, where string }{
	{"routes", "fid IN (SELECT fid FROM temp.roads)"},
	{"provenance", "fid IN (SELECT provenance_fid FROM src.descents WHERE fid IN (SELECT fid FROM temp.wanted))"},
	{"classes", "fid IN (SELECT class_fid FROM src.holds WHERE descent_fid IN (SELECT fid FROM temp.wanted)) OR fid IN (SELECT j.value FROM src.proposals p, json_each(p.class_fids) j WHERE p.descent_fid IN (SELECT fid FROM temp.wanted))"},
	{"descents", "fid IN (SELECT fid FROM temp.wanted)"},
	{"holds", "descent_fid IN (SELECT fid FROM temp.wanted)"},
	{"profiles", "descent_fid IN (SELECT fid FROM temp.wanted)"},
	{"tangents", "route_fid IN (SELECT fid FROM temp.roads)"},
	{"sources", "route_fid IN (SELECT fid FROM temp.roads)"},
	{"steep_parts", "route_fid IN (SELECT fid FROM temp.roads)"},
	{"reviews", "descent IN (SELECT id FROM src.descents WHERE fid IN (SELECT fid FROM temp.wanted))"},
	{"proposals", "descent_fid IN (SELECT fid FROM temp.wanted)"},
	{"history", "descent IN (SELECT id FROM src.descents WHERE fid IN (SELECT fid FROM temp.wanted)) OR descent = '' AND what = 'fleet' OR descent = '' AND route IN (SELECT route FROM src.routes WHERE fid IN (SELECT fid FROM temp.roads))"},
	{"sites", "route IN (SELECT route FROM src.routes WHERE fid IN (SELECT fid FROM temp.roads))"},
	{"advice", "descent_fid IN (SELECT fid FROM temp.wanted)"},
	{"texts", "fid IN (SELECT fid FROM temp.named)"},
	// A part of a network is of no use: a way needs the complete network.
	{"network_sources", ""},
	{"network_roads", ""},
	{"network_parts", ""},
	// A part is handed out; drives stay in the office.
	{"drives", ""},
}

// Subset writes the descents that f chooses into a new catalogue at path, with
// everything that belongs to them: their holds, profiles, reviews, waiting surveys and
// history; their routes whole with tangents, sources and sites; weight classes and
// provenance. With no other filter than a route, routes without a descent come too. It
// returns how many descents there are. The file appears whole or not at all; ErrWrite
// where it exists and may not be replaced. The path may be the address of a database that has no
// catalogue yet.
func (c *Catalog) Subset(ctx context.Context, path string, f Filter, o SubsetOptions) (int, error) {
	if shared.IsAddress(path) {
		n := 0
		err := c.toDatabase(ctx, path, func(file string) (err error) { n, err = c.Subset(ctx, file, f, o); return err })
		return n, err
	}
	if _, err := os.Lstat(path); err == nil && !o.Replace {
		return 0, existsAlready(path)
	}
	var fids []int64
	keysOnly := f
	keysOnly.NoHolds = true
	if err := c.eachStored(ctx, keysOnly, func(e *resurvey.Stored) error { fids = append(fids, e.Key); return nil }); err != nil {
		return 0, err
	}
	dir, err := os.MkdirTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return 0, &Fault{Kind: ErrWrite, File: path, What: "cannot be written", Err: err, Fix: "check that its folder exists, can be written and has space"}
	}
	defer os.RemoveAll(dir)
	tmp := filepath.Join(dir, "part.gpkg")
	if err := c.fillPart(ctx, tmp, fids, f, o); err != nil {
		var fault *Fault
		if errors.As(err, &fault) && fault.File == tmp {
			fault.File = path
			if strings.HasSuffix(fault.What, gpkg.HeldBefore) {
				err = gpkg.NotMade(err)
			}
		}
		return 0, err
	}
	if err := gpkg.CheckNoJournal(path); err != nil {
		return 0, err
	}
	if o.Replace {
		err = os.Rename(tmp, path)
	} else if err = os.Link(tmp, path); errors.Is(err, os.ErrExist) {
		return 0, existsAlready(path)
	} else if err != nil { // a file system without hard links
		err = os.Rename(tmp, path)
	}
	if err != nil {
		return 0, &Fault{Kind: ErrWrite, File: path, What: "cannot be written", Err: err, Fix: "check its folder"}
	}
	return len(fids), gpkg.SyncDir(filepath.Dir(path))
}

func existsAlready(path string) error {
	return &Fault{Kind: ErrWrite, File: path, What: "exists already", Fix: "choose another name, or add --force to replace it"}
}

// fillPart makes the part at path. SQLite syncs it when it commits.
func (c *Catalog) fillPart(ctx context.Context, path string, fids []int64, f Filter, o SubsetOptions) (err error) {
	if err := c.file.Read(ctx, func(q gpkg.Querier) error { return c.inFile(checkSums(q)) }); err != nil {
		return err
	}
	part, err := Open(ctx, path, Options{Create: true, Tool: c.file.Tool(), Now: c.file.Now})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, part.Close()) }()
	if err := part.file.AttachReadOnly(ctx, c.file, "src"); err != nil {
		return err
	}
	if err := part.file.AllowSpill(true); err != nil { // no one else looks at it yet
		return part.file.Fault(err, "writing")
	}
	err = part.file.Change(ctx, func() error {
		if err := part.file.CheckAttached(ctx, c.file, "src"); err != nil {
			return err
		}
		if err := part.choose(fids, f); err != nil {
			return err
		}
		if c.file.HasPacked() {
			if err := part.chooseTexts(); err != nil {
				return err
			}
		}
		if err := part.copyFrom(ctx, c.file); err != nil {
			return err
		}
		return part.file.LogHistory("taken out", o.By, "", "", fmt.Sprintf("%d descents of another catalogue: %s", len(fids), o.Words))
	})
	if err != nil {
		return err
	}
	return c.file.CheckUnchanged()
}

// checkSums fails where any row that has a check sum of its own or of its road does not match it.
func checkSums(q gpkg.Querier) error {
	if err := gpkg.CheckRows(q, gpkg.SealedTables()...); err != nil {
		return err
	}
	return gpkg.CheckAllParts(q)
}

// choose lists the wanted descents and their routes.
func (c *Catalog) choose(fids []int64, f Filter) error {
	for _, q := range []string{"CREATE TEMP TABLE wanted (fid INTEGER PRIMARY KEY)", "CREATE TEMP TABLE roads (fid INTEGER PRIMARY KEY)"} {
		if err := c.file.Direct().Run(q, nil); err != nil {
			return err
		}
	}
	for _, fid := range fids {
		if err := c.file.Direct().Run("INSERT INTO temp.wanted VALUES (?)", c.file.Direct().Args().Add(fid)); err != nil {
			return err
		}
	}
	roads := "fid IN (SELECT route_fid FROM src.descents WHERE fid IN (SELECT fid FROM temp.wanted))"
	v := c.file.Direct().Args()
	if reflect.DeepEqual(f, Filter{Route: f.Route, WithRetired: f.WithRetired}) {
		roads += " OR ?1 IN ('', route, slug, name, ref)"
		v = v.Add(f.Route)
	}
	return c.file.Direct().Run("INSERT INTO temp.roads SELECT fid FROM src.routes WHERE "+roads, v)
}

// chooseTexts lists the texts that the advice of the wanted descents names.
func (c *Catalog) chooseTexts() error {
	named := map[int64]bool{}
	d := c.file.Direct()
	err := d.Each("SELECT packed FROM src.advice WHERE descent_fid IN (SELECT fid FROM temp.wanted)", d.Args(), func(row []driver.Value) error {
		keys, _, err := keysOf(gpkg.BytesOf(row[0]))
		for _, key := range keys {
			named[key] = true
		}
		return err
	})
	if err == nil {
		err = d.Run("CREATE TEMP TABLE named (fid INTEGER PRIMARY KEY)", nil)
	}
	for _, key := range slices.Sorted(maps.Keys(named)) {
		if err == nil {
			err = d.Run("INSERT INTO temp.named VALUES (?)", d.Args().Add(key))
		}
	}
	return err
}

// columnsFrom are the columns to copy into those of one of our tables: NULL for one that
// the tables of src lack, none where they lack the table.
func columnsFrom(table, names string, src *gpkg.File) string {
	if !src.HasPacked() && (table == "advice" || table == "texts") || !src.HasSteepParts() && table == "steep_parts" || !src.HasDrives() && table == "drives" {
		return ""
	}
	list := strings.Split(names, ", ")
	for i, name := range list {
		if isLaterSum(table, name, src) || (name == "line" || slices.Contains(laterColumns, name)) && !src.HasPacked() || name == "possible_steep_m" && !src.HasSteepParts() {
			list[i] = "NULL"
		}
	}
	return strings.Join(list, ", ")
}

// isLaterSum reports whether a column is a check sum that the tables of src lack.
func isLaterSum(table, name string, src *gpkg.File) bool {
	if slices.Contains(gpkg.SealedTables(), table) {
		return (name == "seal" || name == "parts_seal") && !src.HasRowSums()
	}
	return name == "seal" && !src.HasSeals()
}

// copyFrom copies the tables, then what describes them.
func (c *Catalog) copyFrom(ctx context.Context, src *gpkg.File) error {
	if err := c.file.MarkOwnChange(true); err != nil { // no review is written by hand
		return err
	}
	for _, p := range partSQL {
		if err := ctx.Err(); err != nil {
			return err
		}
		names := gpkg.ColumnNames(p.table)
		from := columnsFrom(p.table, names, src)
		if p.where == "" || from == "" {
			continue
		}
		if p.table == "provenance" && src.HasSteepParts() {
			p.where += " OR fid IN (SELECT provenance_fid FROM src.steep_parts WHERE route_fid IN (SELECT fid FROM temp.roads))"
		}
		if err := c.file.Direct().Run("INSERT INTO main."+p.table+"("+names+") SELECT "+from+" FROM src."+p.table+" WHERE "+p.where+" ORDER BY fid", nil); err != nil {
			return err
		}
	}
	if !src.HasRowSums() {
		if err := c.file.SealAllRows(); err != nil {
			return err
		}
	}
	if err := c.file.MarkOwnChange(false); err != nil {
		return err
	}
	return c.file.RefreshDescription()
}
