package gpkg

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"strings"

	sqlite3 "github.com/mattn/go-sqlite3"

	"gradeline/catalog"
)

// tables looks for missing parts of the schema: indexes and triggers.
func (x *Examination) tables() error {
	have := map[string]string{}
	err := Each(x, func(rows *sql.Rows) error {
		var name, text string
		err := rows.Scan(&name, &text)
		have[name] = text
		return err
	}, "SELECT name, coalesce(sql, '') FROM sqlite_master WHERE type IN ('index', 'trigger')")
	if err != nil {
		return err
	}
	for i := range tables {
		t := &tables[i]
		if t.name == "drives" && x.HasDrives() {
			isThere, err := x.Direct().Any("SELECT 1 FROM main.sqlite_master WHERE type = 'table' AND name = 'drives'", x.Direct().Args())
			if err != nil {
				return err
			}
			if !isThere {
				x.lostDrives()
				continue
			}
		}
		if t.name == "steep_parts" && !x.HasSteepParts() || t.name == "drives" && !x.HasDrives() { // of a version before
			continue
		}
		for _, ix := range t.indexes {
			name, _, _ := strings.Cut(ix, " ")
			if have[name] == "" {
				x.Add(Defect{Check: "tables", Where: "index " + name, What: "missing", Fix: "repair creates it", Repair: func(c *File) error {
					_, err := c.w.ExecContext(context.Background(), "CREATE INDEX "+ix)
					return err
				}})
			}
		}
		if t.geometry != "" {
			x.triggers(strings.ReplaceAll(rtreeSQL, "%t", t.name), have)
		}
	}
	if x.HasRowSums() {
		x.triggers(byHandSQL, have)
	}
	return nil
}

// lostDrives reports that the table of recorded drives is gone: no advice depends on its rows.
func (x *Examination) lostDrives() {
	x.Add(Defect{Check: "tables", Where: "table drives", What: "missing: the recorded drives are lost", Fix: "repair creates an empty one; import the recordings again", Repair: func(c *File) error {
		if _, err := c.w.ExecContext(context.Background(), "DELETE FROM gpkg_contents WHERE table_name = 'drives'; DELETE FROM gpkg_data_columns WHERE table_name = 'drives'"); err != nil {
			return err
		}
		for _, s := range newTables("drives") {
			if _, err := c.w.ExecContext(context.Background(), s); err != nil {
				return err
			}
		}
		return nil
	}})
}

// triggers compares the triggers of a script, one a line, with those of the file.
func (x *Examination) triggers(script string, have map[string]string) {
	for _, stmt := range strings.Split(script, "\n") {
		f := strings.Fields(stmt)
		if len(f) < 3 || f[1] != "TRIGGER" || have[f[2]] == strings.TrimSuffix(stmt, ";") {
			continue
		}
		x.Add(Defect{Check: "tables", Where: "trigger " + f[2], What: "missing or changed", Fix: "repair recreates it", Repair: func(c *File) error {
			_, err := c.w.ExecContext(context.Background(), "DROP TRIGGER IF EXISTS "+f[2]+"; "+stmt)
			return err
		}})
	}
}

// layers looks for tables that the GeoPackage no longer lists.
func (x *Examination) layers() error {
	listed := map[string]bool{}
	err := Each(x, func(rows *sql.Rows) error {
		var s string
		err := rows.Scan(&s)
		listed[s] = true
		return err
	}, "SELECT table_name FROM gpkg_contents")
	if err != nil {
		return err
	}
	for i := range tables {
		if !listed[tables[i].name] {
			var n int
			if isThere, err := First(x, []any{&n}, "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?", tables[i].name); err != nil {
				return err
			} else if !isThere { // of an older version; otherwise the schema was refused
				continue
			}
			x.Add(Defect{Check: "layers", Where: tables[i].name, What: "not listed as a layer", Fix: "a GIS won't show it; restore the last copy"})
		}
	}
	return nil
}

// geometries checks every line and point, and the R-tree against them.
func (x *Examination) geometries() error {
	for _, layer := range featureLayers() {
		label := "id"
		if layer == "steep_parts" {
			label = "route || ' ' || direction || ' ' || start_m"
		}
		if layer == "steep_parts" && !x.HasSteepParts() {
			continue
		}
		boxes := map[int64]Envelope{}
		err := Each(x, func(rows *sql.Rows) error {
			var fid int64
			var id string
			var b []byte
			if err := rows.Scan(&fid, &id, &b); err != nil {
				return err
			}
			var err error
			var is Envelope
			if layer != "sites" {
				var line []catalog.Vertex
				if line, err = ParseLine(b); err == nil {
					err = CheckLine(line)
					is = EnvelopeOf(line)
				}
			} else {
				p, e := ParsePoint(b)
				err, is = e, Envelope{p.LonDeg, p.LonDeg, p.LatDeg, p.LatDeg}
			}
			if err != nil {
				x.Add(Defect{Check: "geometry", Where: layer + ", " + id, What: err.Error(), Fix: "survey its road again"})
				return nil
			}
			if kept, ok := EnvelopeOfBlob(b); ok {
				boxes[fid] = kept
				if kept != is {
					x.Add(Defect{Check: "geometry", Where: layer + ", " + id, What: "its stored extent is wrong", Fix: "survey its road again"})
				}
			}
			return nil
		}, "SELECT fid, "+label+", geom FROM "+layer)
		if err != nil {
			return err
		}
		if err := x.rtree(layer, boxes); err != nil {
			return err
		}
	}
	return nil
}

func (x *Examination) rtree(layer string, boxes map[int64]Envelope) error {
	bad := 0
	seen := 0
	err := Each(x, func(rows *sql.Rows) error {
		var fid int64
		var r Envelope
		if err := rows.Scan(&fid, &r.MinX, &r.MaxX, &r.MinY, &r.MaxY); err != nil {
			return err
		}
		b, ok := boxes[fid]
		if !ok || !r.covers(&b) {
			bad++
		}
		seen++
		return nil
	}, "SELECT id, minx, maxx, miny, maxy FROM rtree_"+layer+"_geom")
	var se sqlite3.Error
	if errors.As(err, &se) && se.Code == sqlite3.ErrCorrupt {
		x.Add(rtreeFinding(layer, "cannot be read: "+se.Error()))
		return nil
	}
	if err != nil {
		return err
	}
	if bad > 0 || seen != len(boxes) {
		x.Add(rtreeFinding(layer, fmt.Sprintf("%d of its %d rows are wrong, for %d features", bad, seen, len(boxes))))
	}
	return nil
}

// rtreeFinding is a spatial index that disagrees with its table or cannot be read; it
// follows from the table.
func rtreeFinding(layer, what string) Defect {
	return Defect{Check: "spatial index", Where: layer, What: what, Fix: "repair rebuilds it", Repair: func(c *File) error {
		name := "rtree_" + layer + "_geom"
		script := "DROP TABLE " + name + "; CREATE VIRTUAL TABLE " + name + " USING rtree(id, minx, maxx, miny, maxy); " +
			"INSERT INTO " + name + " SELECT fid, ST_MinX(geom), ST_MaxX(geom), ST_MinY(geom), ST_MaxY(geom) FROM " + layer + " WHERE NOT ST_IsEmpty(geom)"
		_, err := c.w.ExecContext(context.Background(), script)
		return err
	}}
}

// extents checks that the extent that a GIS zooms to holds every feature.
func (x *Examination) extents() error {
	for _, layer := range featureLayers() {
		if layer == "steep_parts" && !x.HasSteepParts() {
			continue
		}
		all, err := LayerEnvelope(x, layer)
		if err != nil {
			return err
		}
		var MinX, MaxX, MinY, MaxY sql.NullFloat64
		if _, err := First(x, []any{&MinX, &MaxX, &MinY, &MaxY}, "SELECT min_x, max_x, min_y, max_y FROM gpkg_contents WHERE table_name = ?", layer); err != nil {
			return err
		}
		if math.IsInf(all.MinX, 1) {
			continue
		}
		if !MinX.Valid || !MaxX.Valid || !MinY.Valid || !MaxY.Valid || MinX.Float64 > all.MinX || MaxX.Float64 < all.MaxX || MinY.Float64 > all.MinY || MaxY.Float64 < all.MaxY {
			x.Add(Defect{Check: "extent", Where: layer, What: "does not hold all its features", Fix: "repair works it out again", Repair: func(c *File) error {
				_, err := c.Exec("UPDATE gpkg_contents SET min_x = ?, max_x = ?, min_y = ?, max_y = ? WHERE table_name = ?", all.MinX, all.MaxX, all.MinY, all.MaxY, layer)
				return err
			}})
		}
	}
	return nil
}
