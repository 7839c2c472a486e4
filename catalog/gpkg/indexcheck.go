package gpkg

import (
	"database/sql/driver"
	"fmt"
	"slices"
	"strings"

	"gradeline/terrain"
)

// A damaged index leaves out rows silently: a list with a missing hill looks as if
// there were none. So before rows are looked up, the indexes are compared with their
// tables, once for each connection and each change of the file by another program.

// largestChecked is the file up to which every index entry is compared; in a larger
// file, where that would take seconds, entries are only counted.
var largestChecked int64 = 256 << 20

// indexCheck is the state of a connection's index checks: SQLite's counter of changes by others at
// the last comparison, -1 before, and the layers compared since.
type indexCheck struct {
	at     int64
	layers string
	// sums are the tables whose rows were compared with their check sums at sumsAt.
	sumsAt int64
	sums   string
}

// dataVersion is SQLite's counter of changes by other connections.
func dataVersion(d *Direct) (version int64, err error) {
	version = -1
	err = d.Each("PRAGMA data_version", d.Args(), func(row []driver.Value) error {
		version, _ = row[0].(int64)
		return nil
	})
	return version, err
}

// CheckIndexes fails where the indexes of our tables, or with a layer its spatial index, disagree
// with their tables.
func CheckIndexes(q Querier, layer string) error {
	switch r := q.(type) {
	case *reader:
		return r.indexes.check(r.d, r.dataVersion, layer)
	case *File:
		version, err := dataVersion(r.d)
		if err != nil {
			return err
		}
		return r.indexes.check(r.d, version, layer)
	}
	return nil
}

func (k *indexCheck) check(d *Direct, version int64, layer string) error {
	if k.at != version {
		if err := checkTables(d); err != nil {
			return err
		}
		k.at, k.layers = version, ""
	}
	if layer != "" && !strings.Contains(k.layers, "|"+layer) {
		if err := checkSpatialIndex(d, layer); err != nil {
			return err
		}
		k.layers += "|" + layer
	}
	return nil
}

// lookedUp are the tables whose rows are found by an index.
var lookedUp = []string{"descents", "reviews", "holds", "proposals", "routes", "profiles", "advice", "steep_parts", "drives"}

func checkTables(d *Direct) error {
	var pages, pageB int64
	for name, to := range map[string]*int64{"page_count": &pages, "page_size": &pageB} {
		err := d.Each("PRAGMA "+name, d.Args(), func(row []driver.Value) error { *to, _ = row[0].(int64); return nil })
		if err != nil {
			return err
		}
	}
	for _, table := range lookedUp {
		if slices.Contains(laterTables, table) { // a file of a version before lacks it
			isThere, err := d.Any("SELECT 1 FROM main.sqlite_master WHERE type = 'table' AND name = ?", d.Args().Add(table))
			if err != nil {
				return err
			}
			if !isThere {
				continue
			}
		}
		var err error
		if pages*pageB <= largestChecked {
			err = checkEntries(d, table)
		} else {
			err = countEntries(d, table)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// checkEntries has SQLite compare every index entry of a table with its row.
func checkEntries(d *Direct, table string) error {
	says := ""
	err := d.Each("PRAGMA integrity_check("+table+")", d.Args(), func(row []driver.Value) error {
		if s := string(BytesOf(row[0])); s != "ok" && says == "" {
			says = strings.Join(strings.Fields(s), " ")
		}
		return nil
	})
	if err == nil && says != "" {
		err = damagedTable(table, says)
	}
	return err
}

// countEntries compares the number of entries of each index with that of the rows.
func countEntries(d *Direct, table string) error {
	rows, err := countOf(d, table+" NOT INDEXED")
	if err != nil {
		return err
	}
	for _, index := range indexesOf(table) {
		n, err := countOf(d, table+" INDEXED BY "+index)
		if err != nil {
			return err
		}
		if n != rows {
			return damagedTable(table, fmt.Sprintf("index %s has %d entries for %d rows", index, n, rows))
		}
	}
	return nil
}

// countOf counts with the named index: count(*) would choose one itself.
func countOf(d *Direct, from string) (n int64, err error) {
	err = d.Each("SELECT coalesce(sum(1), 0) FROM main."+from, d.Args(), func(row []driver.Value) error {
		n, _ = row[0].(int64)
		return nil
	})
	return n, err
}

// indexesOf are the indexes of one of our tables, with those that SQLite makes and numbers for each
// UNIQUE (sqlite.org/fileformat2.html section 2.6).
func indexesOf(table string) []string {
	var out []string
	t := tableNamed(table)
	for _, ix := range t.indexes {
		name, _, _ := strings.Cut(ix, " ")
		out = append(out, name)
	}
	unique := 0
	for _, c := range t.columns {
		unique += strings.Count(c.decl, "UNIQUE")
	}
	for _, c := range t.constraints {
		unique += strings.Count(c, "UNIQUE")
	}
	for n := range unique {
		out = append(out, fmt.Sprintf("sqlite_autoindex_%s_%d", table, n+1))
	}
	return out
}

// checkSpatialIndex compares the R-tree of a layer with the extents of its features.
func checkSpatialIndex(d *Direct, layer string) error {
	name := "rtree_" + layer + "_geom"
	features, bad := int64(0), 0
	err := d.Each("SELECT substr(t.geom, 1, 40), r.minx, r.maxx, r.miny, r.maxy FROM main."+layer+" t NOT INDEXED LEFT JOIN main."+name+" r ON r.id = t.fid", d.Args(), func(row []driver.Value) error {
		features++
		b, ok := EnvelopeOfBlob(BytesOf(row[0]))
		var kept Envelope
		for i, to := range []*float64{&kept.MinX, &kept.MaxX, &kept.MinY, &kept.MaxY} {
			x, isNumber := row[i+1].(float64)
			*to, ok = x, ok && isNumber
		}
		if !ok || !kept.covers(&b) {
			bad++
		}
		return nil
	})
	if err != nil {
		return err
	}
	entries, err := countOf(d, name)
	if err != nil {
		return err
	}
	if bad > 0 || entries != features {
		return damagedTable(layer, fmt.Sprintf("its spatial index has %d entries for %d features, and %d of them wrong", entries, features, bad))
	}
	return nil
}

// covers reports whether an entry of an R-tree, which has 32-bit numbers rounded outward, matches
// an extent.
func (b *Envelope) covers(of *Envelope) bool {
	const slack = 1e-4 // degrees
	return b.MinX <= of.MinX && b.MaxX >= of.MaxX && b.MinY <= of.MinY && b.MaxY >= of.MaxY &&
		b.MinX >= of.MinX-slack && b.MaxX <= of.MaxX+slack && b.MinY >= of.MinY-slack && b.MaxY <= of.MaxY+slack
}

func damagedTable(table, says string) error {
	return &Fault{Kind: terrain.ErrRead, Feature: "table " + table, What: "is damaged, so that rows would be left out: " + says,
		Fix: "repair it with doctor --repair, or restore the last copy"}
}
