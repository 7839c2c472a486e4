package gpkg

import (
	"context"
	"database/sql/driver"
	"errors"
	"maps"
	"slices"

	sqlite3 "github.com/mattn/go-sqlite3"
)

// A file may be the local copy of a database that several offices share, see package shared. Then
// each change of the file is a change of the database: it begins with what others have stored there
// meanwhile, while nobody else may change anything, and the rows that it changed are in the database
// before they are in the file.

// SharedDatabase is the database of which a file is the copy. Its methods are called inside a change.
type SharedDatabase interface {
	// Lock waits until nobody else changes the database, and keeps others from it. It brings the file
	// up to date and reports whether it wrote to it.
	Lock(ctx context.Context, c *File) (wrote bool, err error)
	// Store stores the changed rows in the database, for good, and gives up the lock. On a fault
	// nothing of them is stored.
	Store(ctx context.Context, c *File, changed []ChangedRows) error
	// Unlock gives up the lock, if there is one, with nothing stored.
	Unlock()
	Close() error
}

// ChangedRows are the keys of the rows of a table that a change has written, ascending.
type ChangedRows struct {
	Table                      string
	Inserted, Updated, Deleted []int64
}

// IsCopy reports whether the file is the copy of a database.
func (c *File) IsCopy() bool { return c.opt.Shared != nil || c.opt.Name != "" }

// LocalPath is the path of the file itself; Path is the address of the database of which it is the
// copy.
func (c *File) LocalPath() string { return c.path }

// rowChanges notes what becomes of rows: the last kind of change by table and key.
type rowChanges map[string]map[int64]int

// note adds one change. A row that came and went in the same change is none; one that went and came
// again was there before.
func (r rowChanges) note(op int, table string, fid int64) {
	rows, isOurs := r[table]
	if !isOurs {
		return
	}
	before, isThere := rows[fid]
	switch {
	case !isThere, before == sqlite3.SQLITE_UPDATE:
		rows[fid] = op
	case before == sqlite3.SQLITE_INSERT && op == sqlite3.SQLITE_DELETE:
		delete(rows, fid)
	case before == sqlite3.SQLITE_DELETE && op == sqlite3.SQLITE_INSERT:
		rows[fid] = sqlite3.SQLITE_UPDATE
	}
}

// list gives the changes by table, in order of creation.
func (r rowChanges) list() []ChangedRows {
	var out []ChangedRows
	for _, table := range TableNames() {
		if len(r[table]) == 0 {
			continue
		}
		t := ChangedRows{Table: table}
		for _, fid := range slices.Sorted(maps.Keys(r[table])) {
			switch r[table][fid] {
			case sqlite3.SQLITE_INSERT:
				t.Inserted = append(t.Inserted, fid)
			case sqlite3.SQLITE_UPDATE:
				t.Updated = append(t.Updated, fid)
			default:
				t.Deleted = append(t.Deleted, fid)
			}
		}
		out = append(out, t)
	}
	return out
}

// newRowChanges has an empty list for each of our tables but catalogue, which is about the file.
func newRowChanges() rowChanges {
	out := rowChanges{}
	for _, table := range TableNames() {
		if table != "catalogue" {
			out[table] = map[int64]int{}
		}
	}
	return out
}

// lockShared begins a change of the database. What it brought is committed by itself, so that it
// stays where the change fails.
func (c *File) lockShared(ctx context.Context) error {
	if c.opt.Shared == nil {
		return nil
	}
	wrote, err := c.opt.Shared.Lock(ctx, c)
	if err == nil && wrote {
		for _, s := range []string{"COMMIT", "BEGIN IMMEDIATE"} {
			if err == nil {
				err = c.Fault(c.untilFree(ctx, s), "bringing the local copy up to date")
			}
		}
	}
	c.changed = newRowChanges()
	return err
}

// storeInShared ends the change of the database.
func (c *File) storeInShared(ctx context.Context) error {
	if c.opt.Shared == nil {
		return nil
	}
	list := c.changed.list()
	c.changed = nil
	if len(list) == 0 {
		c.opt.Shared.Unlock()
		return nil
	}
	return c.opt.Shared.Store(ctx, c, list)
}

// ChangeCopy runs f in a change of the file alone, which is not stored in the database.
func (c *File) ChangeCopy(ctx context.Context, f func() error) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	err := c.beginFile(ctx)
	if err == nil {
		err = c.defineSchema(f)
		if err == nil {
			err = c.untilFree(ctx, "COMMIT")
		}
		if err != nil {
			c.rollback()
		}
	}
	return c.Fault(err, "bringing the local copy up to date")
}

// CopyMark says up to which change of which database a file is the copy.
type CopyMark struct {
	Database string // the id that it was made with
	Number   int64  // of the last change that the file has
	Change   string // its id
}

// copyTable has the mark as its only row.
const copyTable = "CREATE TABLE IF NOT EXISTS main.database_copy (database TEXT NOT NULL, number INTEGER NOT NULL, change TEXT NOT NULL)"

// ReadCopyMark reads the mark. A file without one has the zero value.
func ReadCopyMark(q Querier) (m CopyMark, err error) {
	_, err = First(q, []any{&m.Database, &m.Number, &m.Change}, "SELECT database, number, change FROM main.database_copy")
	return m, err
}

// WriteCopyMark replaces the mark; inside a change.
func (c *File) WriteCopyMark(m CopyMark) error {
	if _, err := c.Exec("DELETE FROM main.database_copy"); err != nil {
		return err
	}
	_, err := c.Exec("INSERT INTO main.database_copy VALUES (?, ?, ?)", m.Database, m.Number, m.Change)
	return err
}

// MakeCopyTable prepares a file to be the copy of a database; inside ChangeCopy.
func (c *File) MakeCopyTable() error {
	_, err := c.w.ExecContext(context.Background(), copyTable)
	return err
}

// dropCopyTable makes an ordinary catalogue of a copy.
func (c *File) dropCopyTable(ctx context.Context) error {
	return c.ChangeCopy(ctx, func() error {
		_, err := c.w.ExecContext(ctx, "DROP TABLE IF EXISTS main.database_copy")
		return err
	})
}

// OverwriteDeleted makes SQLite overwrite what is deleted with zeros
// (sqlite.org/pragma.html#pragma_secure_delete), until the file is closed.
func (c *File) OverwriteDeleted() error {
	_, err := c.w.ExecContext(context.Background(), "PRAGMA secure_delete = ON")
	return err
}

// DeferKeys lets references be broken until the change ends; inside a change.
func (c *File) DeferKeys() error {
	_, err := c.w.ExecContext(context.Background(), "PRAGMA defer_foreign_keys = ON")
	return err
}

// LastKeys are the highest keys that each table ever had, as SQLite remembers them.
func LastKeys(q Querier) (map[string]int64, error) {
	out := map[string]int64{}
	err := q.Direct().Each("SELECT name, seq FROM main.sqlite_sequence", q.Direct().Args(), func(row []driver.Value) error {
		n, _ := row[1].(int64)
		out[string(BytesOf(row[0]))] = n
		return nil
	})
	return out, err
}

// RaiseLastKeys makes SQLite give out only keys above those given; inside a change.
func (c *File) RaiseLastKeys(last map[string]int64) error {
	have, err := LastKeys(c)
	for _, table := range slices.Sorted(maps.Keys(last)) {
		n, isThere := have[table]
		if err != nil || isThere && n >= last[table] {
			continue
		}
		query := "INSERT INTO main.sqlite_sequence(seq, name) VALUES (?, ?)"
		if isThere {
			query = "UPDATE main.sqlite_sequence SET seq = ? WHERE name = ?"
		}
		err = c.d.Run(query, c.d.Args().Add(last[table], table))
	}
	return err
}

// makeOrdinary makes an ordinary catalogue of a file that was copied from the copy of a database.
func makeOrdinary(ctx context.Context, path string) error {
	c, err := Open(ctx, path, Options{})
	if err != nil {
		return err
	}
	return errors.Join(c.dropCopyTable(ctx), c.Close())
}
