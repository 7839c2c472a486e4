package store

import (
	"database/sql/driver"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"gradeline/catalog/gpkg"
)

// The floor of any program with these tables: the rows of 1,000 descents as a survey writes them,
// ready in memory, given to SQLite in the same statements and with the same indexes.
//
//	go test ./catalog/store -run '^$' -bench SQLiteAlone -benchtime 1x
func BenchmarkSQLiteAlone(b *testing.B) {
	const n = 1000
	c, _ := fresh(b)
	fillSized(b, c, rand.New(rand.NewPCG(7, 2)), n, true)
	tables := []string{"provenance", "classes", "texts", "routes", "sources", "descents", "holds", "profiles", "advice", "history"}
	rows := map[string][]driver.Value{} // row after row
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		for _, table := range tables {
			d := q.Direct()
			err := d.Each("SELECT +"+strings.ReplaceAll(gpkg.ColumnNames(table), ", ", ", +")+" FROM "+table+" ORDER BY fid", d.Args(), func(row []driver.Value) error {
				rows[table] = append(rows[table], row...)
				return nil
			})
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	for range b.N {
		f, _ := fresh(b)
		took := writeAlone(b, f.file, rows, n)
		b.ReportMetric(took.Seconds()*1e6/n, "cpu-µs/descent")
		b.ReportMetric(10*n/took.Seconds(), "rows/cpu-s")
	}
	b.ReportMetric(0, "ns/op")
}

// writeAlone writes the rows of n descents in the order of a survey and gives the processor's time.
func writeAlone(b *testing.B, f *gpkg.File, rows map[string][]driver.Value, n int) time.Duration {
	left := map[string][]driver.Value{}
	for table, values := range rows {
		left[table] = slices.Clone(values)
	}
	insert := func(table string, most int) {
		names := gpkg.ColumnNames(table)
		columns := strings.Count(names, ",") + 1
		most = min(most, len(left[table])/columns)
		if most == 0 {
			return
		}
		row := "(" + gpkg.Placeholders(columns) + ")"
		values := left[table][:most*columns]
		left[table] = left[table][most*columns:]
		sql := "INSERT INTO " + table + "(" + names + ") VALUES " + strings.Repeat(row+", ", most-1) + row
		args := f.Direct().Args().Add(values...)
		var err error
		if table == "descents" {
			box, _ := gpkg.EnvelopeOfBlob(gpkg.BytesOf(values[1]))
			err = f.InsertIndexed(table, sql, args, values[0].(int64), box)
		} else {
			err = f.Direct().Run(sql, args)
		}
		if err != nil {
			b.Fatal(table, err)
		}
	}
	start := cpuTime(b)
	if err := f.Begin(ctx); err != nil {
		b.Fatal(err)
	}
	for len(left["provenance"])+len(left["classes"])+len(left["texts"]) > 0 {
		insert("provenance", 1)
		insert("classes", 1)
		insert("texts", 1)
	}
	for i := range n {
		if i%2 == 0 {
			insert("routes", 1)
			insert("sources", 1)
		}
		insert("descents", 1)
		insert("holds", 9)
		insert("profiles", 1)
		insert("advice", 1)
		insert("history", 1)
	}
	if err := f.Commit(ctx); err != nil {
		b.Fatal(err)
	}
	return cpuTime(b) - start
}
