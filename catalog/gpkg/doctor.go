package gpkg

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"

	sqlite3 "github.com/mattn/go-sqlite3"
)

// Defect is one thing that is wrong with the file.
type Defect struct {
	Check    string `json:"check"`
	Where    string `json:"where"` // table, row, or id
	What     string `json:"what"`
	Fix      string `json:"fix"`      // what to do
	Provable bool   `json:"provable"` // the correct value follows from the rest of the file, so Repair can restore it
	Repaired bool   `json:"repaired"`

	Repair func(c *File) error `json:"-"` // repairs it; inside a change
}

// CheckSchema is the check for which Open refuses a file.
const CheckSchema = "schema"

// Checks whose defects, if they cannot be repaired, leave no basis for other repairs.
const (
	CheckIntegrity = "integrity"
	CheckFigures   = "figures"
)

const mostFindings = 100 // of one check; more add nothing

// Examine looks for damage to the file, its schema, references, layers, geometries,
// spatial indexes and extents, then makes the checks of the caller. It writes nothing.
func (c *File) Examine(ctx context.Context, more ...func(x *Examination) error) ([]Defect, error) {
	out := []Defect{}
	err := c.Read(ctx, func(q Querier) error {
		x := &Examination{Querier: q, path: c.path}
		x.files()
		if len(c.refused) > 0 { // its tables may be anything
			x.schema(c)
			out = append(out, x.found...)
			return nil
		}
		checks := append([]func(*Examination) error{
			(*Examination).integrity, (*Examination).references, (*Examination).tables, (*Examination).layers, (*Examination).geometries, (*Examination).extents, (*Examination).sums,
		}, more...)
		for _, check := range checks {
			if err := ctx.Err(); err != nil {
				return err
			}
			if err := check(x); err != nil && !x.isDamage(err) {
				return err
			}
		}
		out = append(out, x.found...)
		return nil
	})
	return out, err
}

// Repair repairs what can be proved from the rest of the file, in one change, and returns all
// findings. It never changes what people recorded.
func (c *File) Repair(ctx context.Context, by string, more ...func(x *Examination) error) ([]Defect, error) {
	found, err := c.Examine(ctx, more...)
	if err != nil {
		return nil, err
	}
	if slices.ContainsFunc(found, func(d Defect) bool { return d.Repair == nil && (d.Check == CheckIntegrity || d.Check == CheckFigures) }) {
		// The tables themselves may be wrong: nothing can be proved from them.
		for i := range found {
			found[i].Repair, found[i].Provable = nil, false
		}
		return found, nil
	}
	c.mu.Lock()
	c.repairs = true
	c.mu.Unlock()
	defer func() { c.mu.Lock(); c.repairs = false; c.mu.Unlock() }()
	err = c.changeSchema(ctx, func() error {
		done := map[string]bool{}
		for i := range found {
			f := &found[i]
			if f.Repair == nil {
				continue
			}
			if key := f.Check + f.Where; !done[key] {
				if err := f.Repair(c); err != nil {
					return err
				}
				done[key] = true
			}
			f.Repaired = true
			if err := c.LogHistory("repaired", by, "", "", f.Check+": "+f.Where+": "+f.What); err != nil {
				return err
			}
		}
		return nil
	})
	return found, err
}

// Examination collects the defects of one consistent state of the file.
type Examination struct {
	Querier
	path  string
	found []Defect
	count map[string]int
}

// Add notes a finding; of one check at most a hundred that can't be repaired.
func (x *Examination) Add(f Defect) {
	if x.count == nil {
		x.count = map[string]int{}
	}
	if x.count[f.Check]++; x.count[f.Check] <= mostFindings || f.Repair != nil {
		f.Provable = f.Repair != nil
		x.found = append(x.found, f)
	}
}

// files looks in the same folder for files that another program may have left.
func (x *Examination) files() {
	for _, end := range []string{"-wal", "-journal"} {
		st, err := os.Stat(x.path + end)
		if err == nil && (end == "-journal" && HasJournal(x.path) || end == "-wal" && st.Size() > 0) {
			x.Add(Defect{Check: "files", Where: x.path + end, What: "another program has the file open or was interrupted", Fix: "close other programs; never copy the catalogue without this file"})
		}
	}
}

// schema names the definitions that make Open refuse the file.
func (x *Examination) schema(c *File) {
	for i := range c.refused {
		r := &c.refused[i]
		x.Add(Defect{Check: CheckSchema, Where: r.row.String(), What: r.why + "; nothing else was checked", Fix: "ask who sent the file; doctor --repair copies its data into a clean file"})
	}
}

// isDamage notes an error that means that the file is damaged; the other checks continue.
func (x *Examination) isDamage(err error) bool {
	var se sqlite3.Error
	if !errors.As(err, &se) || se.Code != sqlite3.ErrCorrupt && se.Code != sqlite3.ErrNotADB {
		return false
	}
	x.Add(Defect{Check: CheckIntegrity, Where: "file", What: err.Error(), Fix: "restore the last copy"})
	return true
}

func (x *Examination) integrity() error {
	return Each(x, func(rows *sql.Rows) error {
		var s string
		if err := rows.Scan(&s); err != nil {
			return err
		}
		if m := damagedRTree.FindStringSubmatch(s); m != nil {
			x.Add(rtreeFinding(m[1], strings.Join(strings.Fields(m[2]), " ")))
			return nil
		}
		for _, line := range strings.Split(s, "\n") {
			if line != "ok" && line != "" && !strings.HasPrefix(line, "***") {
				d, err := x.integrityFinding(line)
				if err != nil {
					return err
				}
				x.Add(d)
			}
		}
		return nil
	}, "PRAGMA integrity_check")
}

// integrityFinding is one line of PRAGMA integrity_check. An index can be rebuilt from its table; a
// table can't be rebuilt.
func (x *Examination) integrityFinding(line string) (Defect, error) {
	f := Defect{Check: CheckIntegrity, Where: "file", What: line, Fix: "restore the last copy"}
	m := damagedIndex.FindStringSubmatch(line)
	if m == nil {
		return f, nil
	}
	f.Where = "index " + m[1]
	// An index with more entries than rows means that rows are lost.
	var table string
	if _, err := First(x, []any{&table}, "SELECT tbl_name FROM sqlite_master WHERE type = 'index' AND name = ?", m[1]); err != nil || table == "" {
		return f, err
	}
	rows, err := countOf(x.Direct(), quoteName(table)+" NOT INDEXED")
	if err != nil {
		return f, nil
	}
	entries, err := countOf(x.Direct(), quoteName(table)+" INDEXED BY "+quoteName(m[1]))
	if err == nil && entries > rows {
		f.What += fmt.Sprintf("; it has %d entries and table %s %d rows: rows are lost", entries, table, rows)
		return f, nil
	}
	f.Fix = "repair rebuilds it"
	f.Repair = func(c *File) error {
		_, err := c.w.ExecContext(context.Background(), "REINDEX "+quoteName(m[1]))
		return err
	}
	return f, nil
}

var damagedRTree = regexp.MustCompile(`(?s)^In RTree main\.rtree_(descents|sites|steep_parts)_geom:(.*)`)

var damagedIndex = regexp.MustCompile(`^(?:row \d+ missing from|wrong # of entries in|non-unique entry in|rowid not at end-of-record for row \d+ of|values differ from) index (\S+)$`)

// references finds rows that refer to a missing row. Advice, profiles, tangents, sources and
// proposals are useless without their owner and can be deleted; a review was made by a person and
// stays.
func (x *Examination) references() error {
	derived := map[string]string{"holds": "descent_fid", "profiles": "descent_fid", "advice": "descent_fid", "proposals": "descent_fid", "tangents": "route_fid", "sources": "route_fid", "steep_parts": "route_fid"}
	owner := map[string]string{"descent_fid": "descents", "route_fid": "routes"}
	return Each(x, func(rows *sql.Rows) error {
		var t, parent string
		var fid sql.NullInt64
		var k int
		if err := rows.Scan(&t, &fid, &parent, &k); err != nil {
			return err
		}
		f := Defect{Check: "references", Where: fmt.Sprintf("%s, row %d", t, fid.Int64), What: "names a row of " + parent + " that does not exist", Fix: "a person must decide: restore the missing row, or delete this one"}
		if col := derived[t]; col != "" && owner[col] == parent {
			f.Fix = "repair deletes it: it is useless without that row"
			f.Repair = func(c *File) error {
				_, err := c.Exec(fmt.Sprintf("DELETE FROM %s WHERE fid = ? AND %s NOT IN (SELECT fid FROM %s)", t, col, parent), fid.Int64)
				return err
			}
		}
		x.Add(f)
		return nil
	}, "PRAGMA foreign_key_check")
}
