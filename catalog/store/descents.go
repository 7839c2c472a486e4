package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"sort"
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
	var fids []int64
	given := 0
	first := true
	for at := 0; first || at < len(fids); at += chunk {
		var entries []catalog.Entry
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
					entries = append(entries, e.Entry)
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

// findDescent resolves an id or its beginning.
func findDescent(q querier, path, id string) (fid int64, full string, err error) {
	want := strings.ToLower(strings.TrimSpace(id))
	type match struct {
		fid int64
		id  string
	}
	var found []match
	// "\x7f" sorts after every character that an id can hold.
	err = each(q, func(rows *sql.Rows) error {
		var m match
		if err := rows.Scan(&m.fid, &m.id); err != nil {
			return err
		}
		found = append(found, m)
		return nil
	}, "SELECT fid, id FROM descents WHERE id >= ? AND id < ? ORDER BY id LIMIT 6", want, want+"\x7f")
	if err != nil {
		return 0, "", err
	}
	if want != "" && len(found) > 0 && (len(found) == 1 || found[0].id == want) {
		return found[0].fid, found[0].id, nil
	}
	f := &Fault{Kind: catalog.ErrNotFound, File: path, What: fmt.Sprintf("no descent %q", id), Fix: "list shows the ids"}
	if want != "" && len(found) > 1 {
		var ids []string
		for _, m := range found[:min(5, len(found))] {
			ids = append(ids, m.id)
		}
		f.What = fmt.Sprintf("%q begins the ids of several descents", id)
		f.Fix = "write one out: " + strings.Join(ids, ", ")
		return 0, "", f
	}
	near, err := nearIDs(q, want)
	if len(near) > 0 {
		f.Fix = "did you mean " + strings.Join(near, ", ") + "?"
	}
	if err != nil {
		return 0, "", err
	}
	return 0, "", f
}

// nearIDs gives up to three ids that differ least from what was typed, by no
// more than a third of it.
func nearIDs(q querier, want string) ([]string, error) {
	if want == "" || len(want) > 200 {
		return nil, nil
	}
	limit := 1 + len(want)/3
	type near struct {
		id string
		d  int
	}
	var best []near
	err := each(q, func(rows *sql.Rows) error {
		var n near
		if err := rows.Scan(&n.id); err != nil {
			return err
		}
		if n.d = distance(want, n.id, limit); n.d > limit {
			return nil
		}
		best = append(best, n)
		sort.SliceStable(best, func(i, j int) bool { return best[i].d < best[j].d })
		best = best[:min(3, len(best))]
		return nil
	}, "SELECT id FROM descents ORDER BY id")
	var out []string
	for _, n := range best {
		out = append(out, n.id)
	}
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
	// Three plain look-ups by key: joined and sorted they take four times as long.
	descentQuery = "SELECT " + strings.Join(descentRecord.names, ", ") + ", more, geom, provenance_fid, coalesce(gone_since, '') FROM descents WHERE fid = ?"
	reviewQuery  = "SELECT state, reviewed_by, coalesce(reviewed_at, ''), measured_downgrade_pct, note, photo_ref, in_question FROM reviews WHERE descent = ?"
	holdQuery    = "SELECT " + strings.Join(holdRecord.names, ", ") + ", more, coalesce(class_fid, 0), position FROM holds WHERE descent_fid = ?"
)

// entry reads one descent with its holds, review and provenance.
func (l *loader) entry(fid int64) (*stored, bool, error) {
	e := &stored{fid: fid}
	e.Holds = []catalog.Hold{} // no advice is an empty list, as in JSON
	var geom []byte
	var at string
	dest := descentRecord.targets(reflect.ValueOf(&e.Descent).Elem(), nil, false)
	found, err := one(l.q, append(dest, &geom, &e.provenanceFID, &e.gone), descentQuery, fid)
	if err != nil || !found {
		return e, found, err
	}
	r := &e.Review
	r.State = catalog.Surveyed
	if _, err := one(l.q, []any{&r.State, &r.By, &at, &r.MeasuredGradePct, &r.Note, &r.Photo, &r.InQuestion}, reviewQuery, e.Descent.ID); err != nil {
		return nil, false, err
	}
	if r.At, err = momentOf(at); err != nil {
		return nil, false, err
	}
	if e.Line, err = lineOf(geom); err != nil {
		err.(*Fault).Feature = "descent " + e.Descent.ID
		return nil, false, err
	}
	if err := l.holds(e); err != nil {
		return nil, false, err
	}
	e.Provenance, err = l.provenanceOf(e.provenanceFID)
	if e.gone != "" && r.InQuestion == "" {
		r.InQuestion = "no longer found since the survey of " + e.gone[:min(10, len(e.gone))]
	}
	return e, true, err
}

// holds reads the advice of an entry, in its order.
func (l *loader) holds(e *stored) error {
	if l.noHolds {
		return nil
	}
	var order []int
	return each(l.q, func(rows *sql.Rows) error {
		var h catalog.Hold
		var class int64
		var position int
		if err := rows.Scan(append(holdRecord.targets(reflect.ValueOf(&h).Elem(), nil, l.brief), &class, &position)...); err != nil {
			return err
		}
		at := sort.SearchInts(order, position)
		order, e.Holds = slices.Insert(order, at, position), slices.Insert(e.Holds, at, h)
		if e.classFIDs == nil {
			e.classFIDs = map[string]int64{}
		}
		e.classFIDs[h.Class] = class
		return nil
	}, holdQuery, e.fid)
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
