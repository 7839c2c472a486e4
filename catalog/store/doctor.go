package store

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"sort"

	"gradeline/catalog"
)

// Finding is one thing that is wrong with the file.
type Finding struct {
	Check    string `json:"check"`
	Where    string `json:"where"` // table, row, or id
	What     string `json:"what"`
	Fix      string `json:"fix"`      // what to do
	Provable bool   `json:"provable"` // what is right follows from the rest of the file, so Repair can put it right
	Repaired bool   `json:"repaired"`

	repair func(c *Catalog) error
}

const mostFindings = 100 // of one check; more say the same again

// Doctor looks for damage, orphans, stale indexes, extents and figures, and
// broken references. It writes nothing.
func (c *Catalog) Doctor(ctx context.Context) ([]Finding, error) {
	var out []Finding
	err := c.read(ctx, func(q querier) error {
		x := &examination{q: q, path: c.path}
		x.files()
		for _, check := range []func() error{x.integrity, x.references, x.tables, x.layers, x.geometries, x.extents, x.heaviest, x.reviews} {
			if err := ctx.Err(); err != nil {
				return err
			}
			if err := check(); err != nil {
				return err
			}
		}
		out = x.found
		return nil
	})
	if out == nil {
		out = []Finding{}
	}
	return out, err
}

// Repair puts right what can be proved from the rest of the file, in one
// change, and returns all findings. What people recorded is never touched.
func (c *Catalog) Repair(ctx context.Context, by string) ([]Finding, error) {
	found, err := c.Doctor(ctx)
	if err != nil {
		return nil, err
	}
	err = c.change(ctx, func() error {
		done := map[string]bool{}
		for i := range found {
			f := &found[i]
			if f.repair == nil {
				continue
			}
			if key := f.Check + f.Where; !done[key] {
				if err := f.repair(c); err != nil {
					return err
				}
				done[key] = true
			}
			f.Repaired = true
			if err := c.log("repaired", by, "", "", f.Check+": "+f.Where+": "+f.What); err != nil {
				return err
			}
		}
		return nil
	})
	return found, err
}

type examination struct {
	q     querier
	path  string
	found []Finding
	count map[string]int
}

func (x *examination) add(f Finding) {
	if x.count == nil {
		x.count = map[string]int{}
	}
	if x.count[f.Check]++; x.count[f.Check] <= mostFindings || f.repair != nil {
		f.Provable = f.repair != nil
		x.found = append(x.found, f)
	}
}

// files looks beside the file for what another program may have left.
func (x *examination) files() {
	for _, end := range []string{"-wal", "-journal"} {
		st, err := os.Stat(x.path + end)
		if err == nil && (end == "-journal" && hasJournal(x.path) || end == "-wal" && st.Size() > 0) {
			x.add(Finding{Check: "files", Where: x.path + end, What: "another program has the file open or was interrupted", Fix: "close other programs; never copy the catalogue without this file"})
		}
	}
}

func (x *examination) integrity() error {
	return each(x.q, func(rows *sql.Rows) error {
		var s string
		if err := rows.Scan(&s); err != nil {
			return err
		}
		if s != "ok" {
			x.add(Finding{Check: "integrity", Where: "file", What: s, Fix: "restore the last copy"})
		}
		return nil
	}, "PRAGMA integrity_check")
}

// references finds rows that name a row that is not there. Advice, profiles,
// tangents, sources and proposals mean nothing without their owner and can go;
// a review is a person's word and stays.
func (x *examination) references() error {
	derived := map[string]string{"holds": "descent_fid", "profiles": "descent_fid", "proposals": "descent_fid", "tangents": "route_fid", "sources": "route_fid"}
	owner := map[string]string{"descent_fid": "descents", "route_fid": "routes"}
	return each(x.q, func(rows *sql.Rows) error {
		var t, parent string
		var fid sql.NullInt64
		var k int
		if err := rows.Scan(&t, &fid, &parent, &k); err != nil {
			return err
		}
		f := Finding{Check: "references", Where: fmt.Sprintf("%s, row %d", t, fid.Int64), What: "names a row of " + parent + " that is not there", Fix: "a person must decide: put back what it names, or delete it"}
		if col := derived[t]; col != "" && owner[col] == parent {
			f.Fix = "repair deletes it: it means nothing without what it belongs to"
			f.repair = func(c *Catalog) error {
				_, err := c.exec(fmt.Sprintf("DELETE FROM %s WHERE fid = ? AND %s NOT IN (SELECT fid FROM %s)", t, col, parent), fid.Int64)
				return err
			}
		}
		x.add(f)
		return nil
	}, "PRAGMA foreign_key_check")
}

// heaviest checks the figures by which descents are listed against the holds.
func (x *examination) heaviest() error {
	type row struct {
		id, class string
		rank      int
		speedMPS  float64
		holds     []catalog.Hold
	}
	all := map[int64]*row{}
	err := each(x.q, func(rows *sql.Rows) error {
		var fid int64
		r := &row{}
		err := rows.Scan(&fid, &r.id, &r.class, &r.rank, &r.speedMPS)
		all[fid] = r
		return err
	}, "SELECT fid, id, heaviest_class, heaviest_rank, heaviest_speed_mps FROM descents")
	if err != nil {
		return err
	}
	err = each(x.q, func(rows *sql.Rows) error {
		var fid int64
		var h catalog.Hold
		if err := rows.Scan(&fid, &h.Class, &h.MassKg, &h.Holds, &h.SpeedMPS); err != nil {
			return err
		}
		if r := all[fid]; r != nil {
			r.holds = append(r.holds, h)
		}
		return nil
	}, "SELECT descent_fid, class, mass_kg, holds, speed_mps FROM holds ORDER BY descent_fid, position")
	if err != nil {
		return err
	}
	fids := make([]int64, 0, len(all))
	for fid := range all {
		fids = append(fids, fid)
	}
	sort.Slice(fids, func(i, j int) bool { return fids[i] < fids[j] })
	for _, fid := range fids {
		r := all[fid]
		class, rank, speedMPS := heaviest(r.holds)
		if class == r.class && rank == r.rank && speedMPS == r.speedMPS {
			continue
		}
		x.add(Finding{Check: "order of danger", Where: "descents, " + r.id, What: "does not follow from its holds", Fix: "repair works it out anew", repair: func(c *Catalog) error {
			_, err := c.exec("UPDATE descents SET heaviest_class = ?, heaviest_rank = ?, heaviest_speed_mps = ? WHERE fid = ?", class, rank, speedMPS, fid)
			return err
		}})
	}
	return nil
}

// reviews looks at what may have been typed by hand.
func (x *examination) reviews() error {
	return each(x.q, func(rows *sql.Rows) error {
		var id, at, by, state string
		if err := rows.Scan(&id, &at, &by, &state); err != nil {
			return err
		}
		t, _ := momentOf(at)
		switch {
		case at != "" && (t.IsZero() || stamp(t) != at):
			x.add(Finding{Check: "reviews", Where: id, What: fmt.Sprintf("date %q is not written as 2026-03-04T05:06:07.000Z", at), Fix: "write it so, or record the review again"})
		case state == string(catalog.Approved) && by == "":
			x.add(Finding{Check: "reviews", Where: id, What: "approved by nobody", Fix: "record the review again with a name"})
		}
		return nil
	}, "SELECT descent, coalesce(reviewed_at, ''), reviewed_by, state FROM reviews ORDER BY descent")
}
