package gpkg

import (
	"database/sql/driver"
	"fmt"
	"maps"
	"slices"
	"strings"

	"gradeline/terrain"
)

// Rows that are small and seldom change have a check sum too, see sealedColumns. A row of reviews
// or sites that another program changed has none: a trigger takes it out, so that an edit in a GIS
// is no damage, and damage no edit.

// rowSumsVersion is the version of the tables that brought these sums.
const rowSumsVersion = 7

// sealedColumns are the columns that the check sum of a row covers, first the one that names the
// row. The names of a road, which people may edit, and the keys of rows are not among them.
var sealedColumns = map[string]string{
	"routes":     "route, slug, length_m, stations, missing_m, reliable, unreliable, line_sha256, surveyed_at, surveyed_by, possible_steep_m, parts_seal",
	"provenance": "details, tool, at, cell_m, noise_sigma_m, rules, invented",
	"classes":    "class, sha256, definition, first_used_at",
	"reviews":    "descent, state, reviewed_by, reviewed_at, measured_downgrade_pct, note, photo_ref, in_question",
	"proposals":  "words, descent_fid, at, proposed_by, entry, class_fids, samples",
	"history":    "what, at, done_by, descent, route, words",
	"sites":      "id, geom, kind, name, route, station_m, side, direction, code, legend, note, source",
}

// partColumns are the tables whose rows the check sum parts_seal of their road covers.
var partColumns = []struct{ table, query string }{
	{"tangents", selectPart("tangents", "from_m, to_m, grade_pct, grade_err_pct")},
	{"sources", selectPart("sources", "kind, name, crs, vertical_datum, vertical_unit, vertical_unit_from, cell_m, bytes, sha256, driver, cols, rows")},
}

func selectPart(table, columns string) string {
	return "SELECT " + rawColumns(columns) + " FROM main." + table + " WHERE route_fid = ? ORDER BY fid"
}

// mend says what to do about a damaged row.
var mend = map[string]string{
	"reviews": "record its review again, or restore the last copy",
	"sites":   "take it out with sites remove and import it again, or restore the last copy",
}

// rawColumns selects columns as they are stored: a plus stops the driver from making times and truth
// values of them.
func rawColumns(columns string) string { return "+" + strings.ReplaceAll(columns, ", ", ", +") }

// SealedTables are the tables with these sums, by name.
func SealedTables() []string { return slices.Sorted(maps.Keys(sealedColumns)) }

// CheckRows fails where a row of the tables does not match its check sum. Each connection reads a
// table once after each change by another program.
func CheckRows(q Querier, tables ...string) error {
	if !q.HasRowSums() {
		return nil
	}
	var k *indexCheck
	var version int64
	d := q.Direct()
	switch r := q.(type) {
	case *reader:
		k, version = &r.indexes, r.dataVersion
	case *File:
		k = &r.indexes
		var err error
		if version, err = dataVersion(d); err != nil {
			return err
		}
	default:
		return nil
	}
	if k.sumsAt != version {
		k.sumsAt, k.sums = version, ""
	}
	for _, t := range tables {
		if strings.Contains(k.sums, "|"+t) {
			continue
		}
		if err := eachUnsealed(d, t, func(_ int64, fault *Fault) error { return fault }); err != nil {
			return err
		}
		k.sums += "|" + t
	}
	return nil
}

// CheckRow is CheckRows for one row.
func CheckRow(q Querier, table string, fid int64) error {
	if !q.HasRowSums() {
		return nil
	}
	d := q.Direct()
	return d.Each("SELECT fid, seal, "+rawColumns(sealedColumns[table])+" FROM main."+table+" WHERE fid = ?", d.Args().Add(fid), func(row []driver.Value) error {
		if f := rowFault(table, row); f != nil {
			return f
		}
		return nil
	})
}

// eachUnsealed calls f for each row of a table that does not match its check sum.
func eachUnsealed(d *Direct, table string, f func(fid int64, fault *Fault) error) error {
	return d.Each("SELECT fid, seal, "+rawColumns(sealedColumns[table])+" FROM main."+table+" NOT INDEXED", d.Args(), func(row []driver.Value) error {
		fault := rowFault(table, row)
		if fault == nil {
			return nil
		}
		fid, _ := row[0].(int64)
		return f(fid, fault)
	})
}

// rowFault is the fault of a row: key, check sum, then the columns that it covers; nil where they
// match, or where the row has no sum.
func rowFault(table string, row []driver.Value) *Fault {
	want, isThere := row[1].(int64)
	if row[1] == nil || isThere && want == Seal(row[2:], "") {
		return nil
	}
	fix := mend[table]
	if fix == "" {
		fix = "restore the last copy"
	}
	name := ""
	if s := string(BytesOf(row[2])); table != "provenance" && s != "" {
		name = fmt.Sprintf(", %.60q", s)
	}
	return &Fault{Kind: terrain.ErrRead, Feature: fmt.Sprintf("table %s, row %v%s", table, row[0], name),
		What: "damaged or changed by another program: it doesn't match its check sum", Fix: fix}
}

// SealRows gives the rows of a table that the end of a query chooses their check sums; inside a
// change, after each write.
func (c *File) SealRows(table, which string, args ...driver.Value) error {
	type sum struct{ fid, seal int64 }
	var sums []sum
	err := c.d.Each("SELECT fid, "+rawColumns(sealedColumns[table])+" FROM main."+table+" "+which, c.d.Args().Add(args...), func(row []driver.Value) error {
		fid, _ := row[0].(int64)
		sums = append(sums, sum{fid, Seal(row[1:], "")})
		return nil
	})
	for _, s := range sums {
		if err == nil {
			err = c.d.Run("UPDATE main."+table+" SET seal = ? WHERE fid = ?", c.d.Args().Add(s.seal, s.fid))
		}
	}
	return err
}

var selectRoute = "SELECT " + strings.TrimSuffix(rawColumns(sealedColumns["routes"]), ", +parts_seal") + " FROM main.routes WHERE fid = ?"

// RouteSums are the check sums parts_seal and seal of a road, of the values of its columns in the
// order of sealedColumns without parts_seal, and of those of its tangents and sources in the order of
// partColumns. SealRoute reads the same from the file.
func RouteSums(columns, tangents, sources []driver.Value) (parts, seal int64) {
	values := make([]driver.Value, 0, 2+len(tangents)+len(sources))
	values = append(append(values, partColumns[0].table), tangents...)
	values = append(append(values, partColumns[1].table), sources...)
	parts = Seal(values, "")
	return parts, Seal(append(columns, parts), "")
}

// SealRoute gives a road its check sums, after it and its tangents and sources were written.
func (c *File) SealRoute(fid int64) error {
	parts, err := partsSum(c.d, fid)
	if err != nil {
		return err
	}
	seal := int64(0)
	err = c.d.Each(selectRoute, c.d.Args().Add(fid), func(row []driver.Value) error {
		seal = Seal(append(row, parts), "")
		return nil
	})
	if err != nil {
		return err
	}
	return c.d.Run("UPDATE main.routes SET parts_seal = ?, seal = ? WHERE fid = ?", c.d.Args().Add(parts, seal, fid))
}

// partsSum is the check sum of the tangents and sources of a road.
func partsSum(d *Direct, routeFID int64) (sum int64, err error) {
	values := []driver.Value{}
	for _, p := range partColumns {
		values = append(values, p.table)
		err := d.Each(p.query, d.Args().Add(routeFID), func(row []driver.Value) error {
			values = append(values, row...)
			return nil
		})
		if err != nil {
			return 0, err
		}
	}
	return Seal(values, ""), nil
}

// CheckParts fails where the tangents and sources of a road do not match their check sum.
func CheckParts(q Querier, routeFID int64) error {
	if !q.HasRowSums() {
		return nil
	}
	d := q.Direct()
	var kept driver.Value
	name := ""
	err := d.Each("SELECT parts_seal, route FROM main.routes WHERE fid = ?", d.Args().Add(routeFID), func(row []driver.Value) error {
		kept, name = row[0], string(BytesOf(row[1]))
		return nil
	})
	if err != nil || kept == nil {
		return err
	}
	sum, err := partsSum(d, routeFID)
	if err == nil && kept != driver.Value(sum) {
		err = &Fault{Kind: terrain.ErrRead, Feature: fmt.Sprintf("route %q", name), What: "its tangents or sources are damaged or were changed by another program: they don't match their check sum",
			Fix: "survey the road again, or restore the last copy"}
	}
	return err
}

// CheckAllParts is CheckParts for every road.
func CheckAllParts(q Querier) error {
	var roads []int64
	err := Keys(q, &roads, "SELECT fid FROM main.routes NOT INDEXED")
	for _, fid := range roads {
		if err == nil {
			err = CheckParts(q, fid)
		}
	}
	return err
}

// SealAllRows gives every row of an older version its check sum.
func (c *File) SealAllRows() error {
	var roads []int64
	if err := Keys(c, &roads, "SELECT fid FROM main.routes"); err != nil {
		return err
	}
	for _, fid := range roads {
		if err := c.SealRoute(fid); err != nil {
			return err
		}
	}
	for _, table := range SealedTables() {
		if table == "routes" {
			continue
		}
		if err := c.SealRows(table, ""); err != nil {
			return err
		}
	}
	return nil
}

// sums is the check of an examination for the rows with these sums.
func (x *Examination) sums() error {
	if !x.HasRowSums() {
		return nil
	}
	for _, table := range SealedTables() {
		err := eachUnsealed(x.Direct(), table, func(_ int64, f *Fault) error {
			x.Add(Defect{Check: CheckFigures, Where: f.Feature, What: f.What, Fix: f.Fix})
			return nil
		})
		if err != nil {
			return err
		}
	}
	var roads []int64
	if err := Keys(x, &roads, "SELECT fid FROM routes"); err != nil {
		return err
	}
	for _, fid := range roads {
		err := CheckParts(x, fid)
		if f, ok := err.(*Fault); ok {
			x.Add(Defect{Check: CheckFigures, Where: f.Feature, What: f.What, Fix: f.Fix})
		} else if err != nil {
			return err
		}
	}
	return nil
}
