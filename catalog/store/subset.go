package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"gradeline/catalog"
)

// SubsetOptions says how to take a part of a catalogue out.
type SubsetOptions struct {
	By      string // who asked for it, for the history of the part
	Words   string // what was asked for, likewise
	Replace bool   // an existing file
}

// partSQL copies what belongs to the descents in temp.wanted and the routes in
// temp.roads, key for key; %s is the list of a table's columns. Every table stands
// here: a test says so.
var partSQL = []struct{ table, where string }{
	{"routes", "fid IN (SELECT fid FROM temp.roads)"},
	{"provenance", "fid IN (SELECT provenance_fid FROM src.descents WHERE fid IN (SELECT fid FROM temp.wanted))"},
	{"classes", "fid IN (SELECT class_fid FROM src.holds WHERE descent_fid IN (SELECT fid FROM temp.wanted)) OR fid IN (SELECT j.value FROM src.proposals p, json_each(p.class_fids) j WHERE p.descent_fid IN (SELECT fid FROM temp.wanted))"},
	{"descents", "fid IN (SELECT fid FROM temp.wanted)"},
	{"holds", "descent_fid IN (SELECT fid FROM temp.wanted)"},
	{"profiles", "descent_fid IN (SELECT fid FROM temp.wanted)"},
	{"tangents", "route_fid IN (SELECT fid FROM temp.roads)"},
	{"sources", "route_fid IN (SELECT fid FROM temp.roads)"},
	{"reviews", "descent IN (SELECT id FROM src.descents WHERE fid IN (SELECT fid FROM temp.wanted))"},
	{"proposals", "descent_fid IN (SELECT fid FROM temp.wanted)"},
	{"history", "descent IN (SELECT id FROM src.descents WHERE fid IN (SELECT fid FROM temp.wanted)) OR descent = '' AND route IN (SELECT route FROM src.routes WHERE fid IN (SELECT fid FROM temp.roads))"},
	{"sites", "route IN (SELECT route FROM src.routes WHERE fid IN (SELECT fid FROM temp.roads))"},
}

// Subset writes the descents that f chooses into a new catalogue at path, with
// all that belongs to them: their holds, profiles, reviews, waiting surveys and
// history; their routes whole with tangents, sources and sites; weight classes and
// provenance. With no other filter than a route, routes without a descent come
// too. It returns how many descents there are. The file appears whole or not at
// all; ErrWrite where it exists and may not be replaced.
func (c *Catalog) Subset(ctx context.Context, path string, f Filter, o SubsetOptions) (int, error) {
	if _, err := os.Lstat(path); err == nil && !o.Replace {
		return 0, existsAlready(path)
	}
	var fids []int64
	keysOnly := f
	keysOnly.NoHolds = true
	if err := c.eachStored(ctx, keysOnly, func(e *stored) error { fids = append(fids, e.fid); return nil }); err != nil {
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
			if strings.HasSuffix(fault.What, heldBefore) {
				err = notMade(err)
			}
		}
		return 0, err
	}
	if err := noLeftJournal(path); err != nil {
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
	return len(fids), syncDir(filepath.Dir(path))
}

func existsAlready(path string) error {
	return &Fault{Kind: ErrWrite, File: path, What: "exists already", Fix: "choose another name, or add --force to replace it"}
}

// fillPart makes the part at path. SQLite syncs it when it commits.
func (c *Catalog) fillPart(ctx context.Context, path string, fids []int64, f Filter, o SubsetOptions) (err error) {
	part, err := Open(ctx, path, Options{Create: true, Tool: c.opt.Tool, Now: c.opt.Now})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, part.Close()) }()
	mode := "ro"
	if c.found != nil {
		mode = "ro&immutable=1"
	}
	uri, err := c.dsn(c.path, mode)
	if err != nil {
		return err
	}
	if _, err := part.w.ExecContext(ctx, "ATTACH ? AS src", uri); err != nil {
		return c.fault(err, "reading")
	}
	if err := spill(part, "ON"); err != nil { // no one else looks at it yet
		return part.fault(err, "writing")
	}
	err = part.change(ctx, func() error {
		if err := part.choose(fids, f); err != nil {
			return err
		}
		if err := part.copyFrom(ctx); err != nil {
			return err
		}
		return part.log("taken out", o.By, "", "", fmt.Sprintf("%d descents of another catalogue: %s", len(fids), o.Words))
	})
	if err != nil {
		return err
	}
	return c.stillAsFound()
}

// choose lists the wanted descents and their routes.
func (c *Catalog) choose(fids []int64, f Filter) error {
	for _, q := range []string{"CREATE TEMP TABLE wanted (fid INTEGER PRIMARY KEY)", "CREATE TEMP TABLE roads (fid INTEGER PRIMARY KEY)"} {
		if err := c.d.put(q, nil); err != nil {
			return err
		}
	}
	for _, fid := range fids {
		if err := c.d.put("INSERT INTO temp.wanted VALUES (?)", c.d.start().add(fid)); err != nil {
			return err
		}
	}
	roads := "fid IN (SELECT route_fid FROM src.descents WHERE fid IN (SELECT fid FROM temp.wanted))"
	v := c.d.start()
	if f == (Filter{Route: f.Route, WithRetired: f.WithRetired}) {
		roads += " OR ?1 IN ('', route, slug, name, ref)"
		v = v.add(f.Route)
	}
	return c.d.put("INSERT INTO temp.roads SELECT fid FROM src.routes WHERE "+roads, v)
}

// copyFrom copies the tables, then what describes them.
func (c *Catalog) copyFrom(ctx context.Context) error {
	if err := c.byProgram(true); err != nil { // no review is written by hand
		return err
	}
	for _, p := range partSQL {
		if err := ctx.Err(); err != nil {
			return err
		}
		names := columnNames(p.table)
		if err := c.d.put("INSERT INTO main."+p.table+"("+names+") SELECT "+names+" FROM src."+p.table+" WHERE "+p.where+" ORDER BY fid", nil); err != nil {
			return err
		}
	}
	if err := c.byProgram(false); err != nil {
		return err
	}
	for _, layer := range []string{"descents", "sites"} {
		all, err := layerBox(c, layer)
		if err == nil && all.minX <= all.maxX {
			err = c.widen(layer, all)
		}
		if err != nil {
			return err
		}
	}
	now := c.now()
	for _, q := range []string{
		"UPDATE main.gpkg_contents SET last_change = ? WHERE table_name <> 'catalogue'",
		"UPDATE main.gpkg_metadata_reference SET timestamp = ?",
	} {
		if err := c.d.put(q, c.d.start().add(now)); err != nil {
			return err
		}
	}
	// The last survey of what is in the part: that of another road is nobody's business.
	var details string
	found, err := one(c, []any{&details}, "SELECT details FROM main.provenance ORDER BY at DESC, fid DESC LIMIT 1")
	if err != nil || !found {
		return err
	}
	var last catalog.Provenance
	if err := json.Unmarshal([]byte(details), &last); err != nil {
		return &Fault{File: c.path, What: "its provenance cannot be read", Err: err, Fix: "let doctor look at the catalogue"}
	}
	return c.d.put("UPDATE main.gpkg_metadata SET metadata = ? WHERE id = 1", c.d.start().add(metadata(c.opt.Tool, &last)))
}

func columnNames(table string) string {
	var names []string
	for i := range tables {
		if tables[i].name == table {
			for _, c := range tables[i].columns {
				names = append(names, c.name)
			}
		}
	}
	return strings.Join(names, ", ")
}
