package store

import (
	"context"
	"database/sql/driver"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/compact"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/terrain"
)

// Descents lists complete descents in order of danger (see Filter).
func (c *Catalog) Descents(ctx context.Context, f Filter) ([]catalog.Entry, error) {
	out := []catalog.Entry{}
	err := c.Each(ctx, f, func(e catalog.Entry) error {
		out = append(out, e)
		return nil
	})
	return out, err
}

const chunk = 256 // descents read in one transaction, so that a slow reader does not block a writer

// Each calls do for every wanted descent in order of danger. The list is fixed at the start; each
// descent is read just before its call.
func (c *Catalog) Each(ctx context.Context, f Filter, do func(catalog.Entry) error) error {
	return c.eachStored(ctx, f, func(e *resurvey.Stored) error {
		e.Holds = f.onlyFleet(e.Holds)
		c.questionStale(&e.Entry)
		return do(e.Entry)
	})
}

func (c *Catalog) eachStored(ctx context.Context, f Filter, do func(*resurvey.Stored) error) error {
	l := lister{c: c, f: f}
	for {
		entries, err := l.next(ctx)
		if err != nil || len(entries) == 0 && l.isDone() {
			return err
		}
		for _, e := range entries {
			if err := do(e); err != nil {
				return err
			}
		}
	}
}

// lister reads the descents that match a filter in chunks.
type lister struct {
	c       *Catalog
	f       Filter
	fids    []int64 // all keys, selected with the first chunk
	isFixed bool    // fids is filled
	at      int     // in fids
	given   int
}

func (l *lister) isDone() bool {
	return l.isFixed && l.at >= len(l.fids) || l.isFull(l.given)
}

// isFull reports whether n descents reach the limit of the filter.
func (l *lister) isFull(n int) bool { return l.f.Limit > 0 && n >= l.f.Limit }

// next reads the next chunk, in one transaction. It may be empty before the end.
func (l *lister) next(ctx context.Context) (entries []*resurvey.Stored, err error) {
	if l.isDone() {
		return nil, nil
	}
	err = l.c.file.Read(ctx, func(q gpkg.Querier) error {
		if err := l.choose(q); err != nil {
			return err
		}
		from := loader{q: q, brief: l.f.Brief, levers: l.f.Levers, noHolds: l.f.NoHolds}
		for _, fid := range l.fids[l.at:min(l.at+chunk, len(l.fids))] {
			if l.isFull(l.given + len(entries)) {
				break
			}
			e, found, err := from.entry(fid)
			if err != nil {
				return l.c.inFile(err)
			}
			if found && (l.f.BBox == nil || l.f.BBox.meets(e.Line)) {
				entries = append(entries, e)
			}
		}
		return nil
	})
	l.at, l.given = l.at+chunk, l.given+len(entries)
	return entries, err
}

// choose selects the keys once.
func (l *lister) choose(q gpkg.Querier) error {
	if l.isFixed {
		return nil
	}
	l.isFixed = true
	layer := ""
	if l.f.BBox != nil {
		layer = "descents"
	}
	err := gpkg.CheckIndexes(q, layer)
	if err == nil {
		err = gpkg.CheckRows(q, "routes", "reviews") // they decide which descents a filter chooses
	}
	if err != nil {
		return l.c.inFile(err)
	}
	query, args := l.f.sql()
	return gpkg.Keys(q, &l.fids, query, args...)
}

// inFile adds the file to a fault without one.
func (c *Catalog) inFile(err error) error {
	var f *Fault
	if errors.As(err, &f) && f.File == "" {
		f.File = c.file.Path()
	}
	return err
}

// Descent returns one descent by its id or an unambiguous beginning of it.
// ErrNotFound names the nearest ids.
func (c *Catalog) Descent(ctx context.Context, id string) (catalog.Entry, error) {
	var out catalog.Entry
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		err := gpkg.CheckIndexes(q, "")
		if err == nil {
			err = gpkg.CheckRows(q, "reviews")
		}
		if err != nil {
			return c.inFile(err)
		}
		fid, _, err := findDescent(q, c.file.Path(), id)
		if err != nil {
			return err
		}
		l := loader{q: q}
		e, _, err := l.entry(fid)
		out = e.Entry
		c.questionStale(&out)
		return c.inFile(err)
	})
	return out, err
}

// loader reads entries. It reads shared rows once.
type loader struct {
	q          gpkg.Querier
	brief      bool
	levers     bool // with brief
	noHolds    bool
	provenance map[int64]catalog.Provenance
	// classSHA256 is the fingerprint of each version of a class, by its key; nil leaves
	// ClassSHA256 of the entries out.
	classSHA256 map[int64]string
	texts       map[int64]string          // of packed advice, by key
	schemas     map[int64]*compact.Schema // likewise
}

var (
	// Plain look-ups by key: joined and sorted they take four times as long.
	descentQuery = "SELECT " + strings.Join(descentRecord.Names, ", ") + ", more, geom, provenance_fid, coalesce(gone_since, ''), route_fid, seal, line FROM descents WHERE fid = ?"
	reviewQuery  = "SELECT state, reviewed_by, coalesce(reviewed_at, ''), measured_downgrade_pct, note, photo_ref, in_question FROM reviews WHERE descent = ?"
	holdQuery    = "SELECT coalesce(class_fid, 0), position, seal, " + strings.Join(laterColumns, ", ") + ", " + strings.Join(holdRecord.Names, ", ") + ", more FROM holds WHERE descent_fid = ?"
	// Details of a hold for a line of a list, beyond its columns, without decoding the rest: for
	// rows that have them in JSON.
	briefQuery = strings.Replace(holdQuery, ", more", ", CASE WHEN more IN ('', '{}') THEN '' ELSE json_extract(more, '$.surfaces_excluded', '$.gear_name', '$.class_figures', '$.levers') END, more", 1)

	// Columns that older tables lack are NULL.
	withoutPacked = strings.NewReplacer(", line FROM", ", NULL FROM", strings.Join(laterColumns, ", "), "NULL, NULL, NULL")
	withoutSeal   = strings.NewReplacer(" seal,", " NULL,")
	olderQueries  = map[string][2]string{descentQuery: olderQuery(descentQuery), holdQuery: olderQuery(holdQuery), briefQuery: olderQuery(briefQuery)}
)

// olderQuery is a query for tables of version 1, and of versions 2 to 4.
func olderQuery(q string) [2]string {
	q = withoutPacked.Replace(q)
	return [2]string{withoutSeal.Replace(q), q}
}

// entry reads one descent with its holds, review and provenance.
func (l *loader) entry(fid int64) (*resurvey.Stored, bool, error) {
	d := l.q.Direct()
	e := &resurvey.Stored{Key: fid}
	e.Holds = []catalog.Hold{} // no advice is an empty list, as in JSON
	found := false
	var provenanceFID int64
	err := d.Each(l.query(descentQuery), d.Args().Add(fid), func(row []driver.Value) (err error) {
		found = true
		n := len(descentRecord.Names) + 1
		if err = descentRecord.Fill(reflect.ValueOf(&e.Descent).Elem(), row[:n]); err != nil {
			return err
		}
		provenanceFID, _ = row[n+1].(int64)
		if row[n+5] == nil { // of a version that kept every vertex in the geometry
			err = gpkg.CheckSeal(row[n+4], sealed(row[:n-1], row[n], row[n+3], row[n+1]), string(gpkg.BytesOf(row[n-1])))
		} else {
			err = gpkg.CheckOwnSeal(row[n+4], sealed(row[:n-1], row[n], row[n+3], row[n+1], row[n+5]), string(gpkg.BytesOf(row[n-1])))
		}
		if err != nil {
			return err
		}
		if row[n+5] == nil {
			e.Line, err = gpkg.ParseLine(gpkg.BytesOf(row[n]))
		} else {
			e.Line, err = unpackLine(gpkg.BytesOf(row[n+5]))
		}
		if err != nil {
			return err
		}
		e.GoneSince = string(gpkg.BytesOf(row[n+2]))
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
	e.Provenance, err = l.provenanceOf(provenanceFID)
	if e.GoneSince != "" && e.Review.InQuestion == "" {
		e.Review.InQuestion = resurvey.GoneQuestion(e.GoneSince)
	}
	return e, true, err
}

// query is the query for the tables' version.
func (l *loader) query(q string) string {
	switch {
	case l.q.HasPacked():
		return q
	case l.q.HasSeals():
		return olderQueries[q][1]
	}
	return olderQueries[q][0]
}

// nameColumn is the place of a descent's name, which people may edit in a GIS.
var nameColumn = slices.Index(descentRecord.Names, "name")

// sealed are the values that a check sum covers: the record's columns, for a descent all but its
// name, and the other values that identify the row.
func sealed(columns []driver.Value, more ...driver.Value) []driver.Value {
	out := make([]driver.Value, len(columns), len(columns)+len(more))
	copy(out, columns)
	if len(columns) == len(descentRecord.Names) {
		out = slices.Delete(out, nameColumn, nameColumn+1)
	}
	return append(out, more...)
}

func (l *loader) review(e *resurvey.Stored) error {
	d, r := l.q.Direct(), &e.Review
	r.State = catalog.Surveyed
	return d.Each(reviewQuery, d.Args().Add(e.Descent.ID), func(row []driver.Value) (err error) {
		if r.State = catalog.ReviewState(gpkg.BytesOf(row[0])); !slices.Contains(reviewStates, r.State) {
			return unknownState(r.State)
		}
		r.By, r.Note, r.Photo, r.InQuestion = string(gpkg.BytesOf(row[1])), string(gpkg.BytesOf(row[4])), string(gpkg.BytesOf(row[5])), string(gpkg.BytesOf(row[6]))
		if r.At, err = gpkg.ParseMoment(string(gpkg.BytesOf(row[2]))); err != nil || row[3] == nil {
			return err
		}
		pct, err := gpkg.Float64Of(row[3])
		r.MeasuredGradePct = &pct
		return gpkg.Unreadable("measured_downgrade_pct", err)
	})
}

// reviewStates are those that a review can have.
var reviewStates = []catalog.ReviewState{catalog.Surveyed, catalog.FieldChecked, catalog.Approved, catalog.Retired}

// unknownState is the fault of a review whose state is damaged: a retired descent could pass for
// one in use.
func unknownState(state catalog.ReviewState) error {
	return &Fault{Kind: terrain.ErrRead, What: fmt.Sprintf("its review has the unknown state %.20q", state), Fix: "restore the last copy, or set the state by review"}
}

func (l *loader) provenanceOf(fid int64) (catalog.Provenance, error) {
	if p, ok := l.provenance[fid]; ok {
		return p, nil
	}
	var details string
	var p catalog.Provenance
	if err := gpkg.CheckRows(l.q, "provenance"); err != nil {
		return p, err
	}
	found, err := gpkg.First(l.q, []any{&details}, "SELECT details FROM provenance WHERE fid = ?", fid)
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
