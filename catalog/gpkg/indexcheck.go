package gpkg

import (
	"database/sql/driver"
	"fmt"
	"strings"

	"gradeline/terrain"
)

// A damaged index leaves rows out in silence: a list without a hill reads as if there
// were none. So before rows are looked up, the indexes are compared with their tables,
// once for each connection and each change of the file by others.

// largestChecked is the file up to which every index entry is compared; in a larger
// file, where that would take seconds, entries are only counted.
var largestChecked int64 = 256 << 20

// CheckIndexes fails where the indexes of our tables, or with a layer its spatial
// index, disagree with what they index.
func CheckIndexes(q Querier, layer string) error {
	r, isReader := q.(*reader)
	if !isReader {
		return nil
	}
	version := int64(-1)
	err := r.d.Each("PRAGMA data_version", r.d.Args(), func(row []driver.Value) error {
		version, _ = row[0].(int64)
		return nil
	})
	if err != nil {
		return err
	}
	if r.checkedAt != version {
		if err := checkTables(r); err != nil {
			return err
		}
		r.checkedAt, r.checkedLayers = version, ""
	}
	if layer != "" && !strings.Contains(r.checkedLayers, "|"+layer) {
		if err := checkSpatialIndex(r, layer); err != nil {
			return err
		}
		r.checkedLayers += "|" + layer
	}
	return nil
}

// lookedUp are the tables whose rows are found by an index.
var lookedUp = []string{"descents", "reviews", "holds", "proposals", "routes", "profiles"}

func checkTables(r *reader) error {
	var pages, pageB int64
	for name, to := range map[string]*int64{"page_count": &pages, "page_size": &pageB} {
		err := r.d.Each("PRAGMA "+name, r.d.Args(), func(row []driver.Value) error { *to, _ = row[0].(int64); return nil })
		if err != nil {
			return err
		}
	}
	for _, table := range lookedUp {
		var err error
		if pages*pageB <= largestChecked {
			err = checkEntries(r, table)
		} else {
			err = countEntries(r, table)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// checkEntries has SQLite compare every index entry of a table with its row.
func checkEntries(r *reader, table string) error {
	says := ""
	err := r.d.Each("PRAGMA integrity_check("+table+")", r.d.Args(), func(row []driver.Value) error {
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
func countEntries(r *reader, table string) error {
	rows, err := countOf(r, table+" NOT INDEXED")
	if err != nil {
		return err
	}
	for _, index := range indexesOf(table) {
		n, err := countOf(r, table+" INDEXED BY "+index)
		if err != nil {
			return err
		}
		if n != rows {
			return damagedTable(table, fmt.Sprintf("index %s has %d entries for %d rows", index, n, rows))
		}
	}
	return nil
}

// countOf counts by the index that is named: count(*) would choose one itself.
func countOf(r *reader, from string) (n int64, err error) {
	err = r.d.Each("SELECT coalesce(sum(1), 0) FROM main."+from, r.d.Args(), func(row []driver.Value) error {
		n, _ = row[0].(int64)
		return nil
	})
	return n, err
}

func indexesOf(table string) []string {
	var out []string
	for _, ix := range tableNamed(table).indexes {
		name, _, _ := strings.Cut(ix, " ")
		out = append(out, name)
	}
	return out
}

// checkSpatialIndex compares the R-tree of a layer with the extents of its features.
func checkSpatialIndex(r *reader, layer string) error {
	name := "rtree_" + layer + "_geom"
	features, bad := int64(0), 0
	err := r.d.Each("SELECT substr(t.geom, 1, 40), r.minx, r.maxx, r.miny, r.maxy FROM main."+layer+" t NOT INDEXED LEFT JOIN main."+name+" r ON r.id = t.fid", r.d.Args(), func(row []driver.Value) error {
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
	entries, err := countOf(r, name)
	if err != nil {
		return err
	}
	if bad > 0 || entries != features {
		return damagedTable(layer, fmt.Sprintf("its spatial index has %d entries for %d features, and %d of them wrong", entries, features, bad))
	}
	return nil
}

// covers reports whether an entry of an R-tree, which keeps 32-bit numbers rounded
// outward, stands for an extent.
func (b *Envelope) covers(of *Envelope) bool {
	const slack = 1e-4 // degrees
	return b.MinX <= of.MinX && b.MaxX >= of.MaxX && b.MinY <= of.MinY && b.MaxY >= of.MaxY &&
		b.MinX >= of.MinX-slack && b.MaxX <= of.MaxX+slack && b.MinY >= of.MinY-slack && b.MaxY <= of.MaxY+slack
}

func damagedTable(table, says string) error {
	return &Fault{Kind: terrain.ErrRead, Feature: "table " + table, What: "is damaged, so that rows would be left out: " + says,
		Fix: "let doctor --repair mend what can be mended, or restore the last copy"}
}
