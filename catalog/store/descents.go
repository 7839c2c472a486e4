package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/terrain"
)

// Descents lists descents in order of danger (see Filter), whole.
func (c *Catalog) Descents(ctx context.Context, f Filter) ([]catalog.Entry, error) {
	out := []catalog.Entry{}
	err := c.Each(ctx, f, func(e catalog.Entry) error {
		out = append(out, e)
		return nil
	})
	return out, err
}

const chunk = 256 // descents read in one transaction, so that a slow reader keeps no writer waiting

// Each calls do for every wanted descent in order of danger. The list is fixed
// at the start; each descent is given as it stands when its turn comes.
func (c *Catalog) Each(ctx context.Context, f Filter, do func(catalog.Entry) error) error {
	return c.eachStored(ctx, f, func(e *stored) error { return do(e.Entry) })
}

func (c *Catalog) eachStored(ctx context.Context, f Filter, do func(*stored) error) error {
	var fids []int64
	given := 0
	first := true
	for at := 0; first || at < len(fids); at += chunk {
		var entries []*stored
		err := c.read(ctx, func(q querier) error {
			if first {
				first = false
				query, args := f.sql()
				if err := keys(q, &fids, query, args...); err != nil {
					return err
				}
			}
			l := loader{q: q, brief: f.Brief, noHolds: f.NoHolds}
			for _, fid := range fids[at:min(at+chunk, len(fids))] {
				if f.Limit > 0 && given+len(entries) >= f.Limit {
					break
				}
				e, found, err := l.entry(fid)
				if err != nil {
					return err
				}
				if found && (f.BBox == nil || f.BBox.meets(e.Line)) {
					entries = append(entries, e)
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
		for _, e := range entries {
			given++
			if err := do(e); err != nil {
				return err
			}
		}
		if f.Limit > 0 && given >= f.Limit {
			return nil
		}
	}
	return nil
}

func keys(q querier, out *[]int64, query string, args ...any) error {
	return each(q, func(rows *sql.Rows) error {
		var fid int64
		if err := rows.Scan(&fid); err != nil {
			return err
		}
		*out = append(*out, fid)
		return nil
	}, query, args...)
}

// Descent gives one descent by its id or by an unambiguous beginning of it.
// ErrNotFound names the nearest ids.
func (c *Catalog) Descent(ctx context.Context, id string) (catalog.Entry, error) {
	var out catalog.Entry
	err := c.read(ctx, func(q querier) error {
		fid, _, err := findDescent(q, c.path, id)
		if err != nil {
			return err
		}
		l := loader{q: q}
		e, _, err := l.entry(fid)
		out = e.Entry
		return err
	})
	return out, err
}

// stored is an entry with what only the store knows of it.
type stored struct {
	catalog.Entry
	fid           int64
	provenanceFID int64
	gone          string
	classFIDs     map[string]int64
}

// loader reads entries; what many share is read once.
type loader struct {
	q          querier
	brief      bool
	noHolds    bool
	provenance map[int64]catalog.Provenance
}

var (
	// Plain look-ups by key: joined and sorted they take four times as long.
	descentQuery = "SELECT " + strings.Join(descentRecord.names, ", ") + ", more, geom, provenance_fid, coalesce(gone_since, '') FROM descents WHERE fid = ?"
	reviewQuery  = "SELECT state, reviewed_by, coalesce(reviewed_at, ''), measured_downgrade_pct, note, photo_ref, in_question FROM reviews WHERE descent = ?"
	holdQuery    = "SELECT coalesce(class_fid, 0), position, " + strings.Join(holdRecord.names, ", ") + ", more FROM holds WHERE descent_fid = ?"
	briefQuery   = strings.Replace(holdQuery, ", more", "", 1)
)

// entry reads one descent with its holds, review and provenance.
func (l *loader) entry(fid int64) (*stored, bool, error) {
	d := l.q.direct()
	e := &stored{fid: fid}
	e.Holds = []catalog.Hold{} // no advice is an empty list, as in JSON
	found := false
	err := d.each(descentQuery, d.start().add(fid), func(row []driver.Value) (err error) {
		found = true
		n := len(descentRecord.names) + 1
		if err = descentRecord.fill(reflect.ValueOf(&e.Descent).Elem(), row[:n]); err != nil {
			return err
		}
		if e.Line, err = lineOf(bytesOf(row[n])); err != nil {
			return err
		}
		e.provenanceFID, _ = row[n+1].(int64)
		e.gone = string(bytesOf(row[n+2]))
		return nil
	})
	if err == nil && found {
		err = l.review(e)
	}
	if err == nil && found && !l.noHolds {
		err = l.holds(e)
	}
	if err != nil || !found {
		var f *Fault
		if errors.As(err, &f) && f.Feature == "" {
			f.Feature = "descent " + e.Descent.ID
		}
		return e, found, err
	}
	e.Provenance, err = l.provenanceOf(e.provenanceFID)
	if e.gone != "" && e.Review.InQuestion == "" {
		e.Review.InQuestion = "no longer found since the survey of " + e.gone[:min(10, len(e.gone))]
	}
	return e, true, err
}

func (l *loader) review(e *stored) error {
	d, r := l.q.direct(), &e.Review
	r.State = catalog.Surveyed
	return d.each(reviewQuery, d.start().add(e.Descent.ID), func(row []driver.Value) (err error) {
		r.State = catalog.ReviewState(bytesOf(row[0]))
		r.By, r.Note, r.Photo, r.InQuestion = string(bytesOf(row[1])), string(bytesOf(row[4])), string(bytesOf(row[5])), string(bytesOf(row[6]))
		if r.At, err = momentOf(string(bytesOf(row[2]))); err != nil || row[3] == nil {
			return err
		}
		pct, err := number64(row[3])
		r.MeasuredGradePct = &pct
		return unreadable("measured_downgrade_pct", err)
	})
}

// holds reads the advice of an entry, in its order.
func (l *loader) holds(e *stored) error {
	d, query := l.q.direct(), holdQuery
	if l.brief {
		query = briefQuery
	}
	var order []int64
	return d.each(query, d.start().add(e.fid), func(row []driver.Value) error {
		if order == nil { // most catalogues have so many classes
			order, e.Holds, e.classFIDs = make([]int64, 0, 8), make([]catalog.Hold, 0, 8), make(map[string]int64, 8)
		}
		class, _ := row[0].(int64)
		position, _ := row[1].(int64)
		at, _ := slices.BinarySearch(order, position)
		order, e.Holds = slices.Insert(order, at, position), slices.Insert(e.Holds, at, catalog.Hold{})
		h := &e.Holds[at]
		if err := holdRecord.fill(reflect.ValueOf(h).Elem(), row[2:]); err != nil {
			return err
		}
		e.classFIDs[h.Class] = class
		return nil
	})
}

func (l *loader) provenanceOf(fid int64) (catalog.Provenance, error) {
	if p, ok := l.provenance[fid]; ok {
		return p, nil
	}
	var details string
	var p catalog.Provenance
	found, err := one(l.q, []any{&details}, "SELECT details FROM provenance WHERE fid = ?", fid)
	if err != nil {
		return p, err
	}
	if !found {
		return p, &Fault{Kind: terrain.ErrRead, What: fmt.Sprintf("provenance %d is missing", fid), Fix: "run doctor on the catalogue"}
	}
	if err := json.Unmarshal([]byte(details), &p); err != nil {
		return p, &Fault{Kind: terrain.ErrRead, What: fmt.Sprintf("provenance %d cannot be read", fid), Err: err, Fix: "run doctor on the catalogue"}
	}
	if l.provenance == nil {
		l.provenance = map[int64]catalog.Provenance{}
	}
	l.provenance[fid] = p
	return p, nil
}
