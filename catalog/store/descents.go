package store

import (
	"cmp"
	"context"
	"database/sql/driver"
	"encoding/json"
	"errors"
	"fmt"
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
		isAll, err := l.chooseInBox(q, &entries)
		if err == nil && !isAll {
			err = l.choose(q)
		}
		if err != nil || isAll {
			return err
		}
		from := l.loader(q, len(l.fids))
		fids := l.fids[l.at:min(l.at+chunk, len(l.fids))]
		if l.f.BBox == nil && l.f.Limit > 0 {
			fids = fids[:min(l.f.Limit-l.given, len(fids))]
		}
		return l.c.inFile(from.each(fids, func(e *resurvey.Stored, _ dangerOrder) (isEnough bool) {
			if l.f.BBox == nil || l.f.BBox.meets(e.Line) {
				entries = append(entries, e)
			}
			return l.isFull(l.given + len(entries))
		}))
	})
	l.at, l.given = l.at+chunk, l.given+len(entries)
	return entries, err
}

// loader reads entries for a list of n descents.
func (l *lister) loader(q gpkg.Querier, n int) *loader {
	from := &loader{q: q, brief: l.f.Brief, levers: l.f.Levers, noHolds: l.f.NoHolds}
	if n <= mostKept {
		from.kept = gpkg.KeptBy(q)
	}
	return from
}

// chooseInBox reads all that lies in a box, if nothing but a box is asked for and it holds few: then
// the order needs no look at rows that are kept. isAll is false where it does not.
func (l *lister) chooseInBox(q gpkg.Querier, entries *[]*resurvey.Stored) (isAll bool, err error) {
	if l.isFixed || !l.f.isOfBoxAlone() {
		return false, nil
	}
	if err := l.check(q); err != nil {
		return false, err
	}
	where, args := l.f.BBox.sql()
	var fids []int64
	d := q.Direct()
	err = d.Each("SELECT r.id FROM rtree_descents_geom r WHERE "+where, d.Args().Add(args...), func(row []driver.Value) error {
		fid, _ := row[0].(int64)
		fids = append(fids, fid)
		return nil
	})
	if err != nil || len(fids) > mostKept {
		return false, err
	}
	l.isFixed = true
	type found struct {
		e *resurvey.Stored
		o dangerOrder
	}
	var all []found
	err = l.loader(q, len(fids)).each(fids, func(e *resurvey.Stored, o dangerOrder) (isEnough bool) {
		if (l.f.WithRetired || e.Review.State != catalog.Retired) && l.f.BBox.meets(e.Line) {
			all = append(all, found{e, o})
		}
		return false
	})
	slices.SortFunc(all, func(a, b found) int { // as the query of a filter does
		return cmp.Or(cmp.Compare(a.o.rank, b.o.rank), cmp.Compare(a.o.speedMPS, b.o.speedMPS), cmp.Compare(b.e.Descent.DropM, a.e.Descent.DropM), cmp.Compare(a.e.Descent.ID, b.e.Descent.ID))
	})
	for _, f := range all {
		if !l.isFull(len(*entries)) {
			*entries = append(*entries, f.e)
		}
	}
	return true, l.c.inFile(err)
}

// choose selects the keys once.
func (l *lister) choose(q gpkg.Querier) error {
	if l.isFixed {
		return nil
	}
	l.isFixed = true
	if err := l.check(q); err != nil {
		return err
	}
	query, args := l.f.sql()
	d := q.Direct()
	return d.Each(query, d.Args().Add(args...), func(row []driver.Value) error {
		fid, _ := row[0].(int64)
		l.fids = append(l.fids, fid)
		return nil
	})
}

// check compares what decides which descents a filter chooses.
func (l *lister) check(q gpkg.Querier) error {
	layer := ""
	if l.f.BBox != nil {
		layer = "descents"
	}
	err := gpkg.CheckIndexes(q, layer)
	if err == nil {
		err = gpkg.CheckRows(q, "routes", "reviews")
	}
	return l.c.inFile(err)
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
	kept       *gpkg.Kept // nil keeps nothing
	provenance map[int64]catalog.Provenance
	surfaces   map[string][]string // of lists in JSON
	// classSHA256 is the fingerprint of each version of a class, by its key; nil leaves
	// ClassSHA256 of the entries out.
	classSHA256 map[int64]string
	texts       map[int64]string          // of packed advice, by key
	schemas     map[int64]*compact.Schema // likewise
}

var (
	// Plain look-ups by several keys: joined and sorted they take four times as long, one by one twice.
	descentQuery = "SELECT " + strings.Join(descentRecord.Names, ", ") + ", more, geom, provenance_fid, coalesce(gone_since, ''), route_fid, seal, line, heaviest_rank, heaviest_speed_mps, fid FROM descents WHERE fid IN " + someKeys
	reviewQuery  = "SELECT state, reviewed_by, coalesce(reviewed_at, ''), measured_downgrade_pct, note, photo_ref, in_question, descent FROM reviews WHERE descent IN " + someKeys
	holdQuery    = "SELECT descent_fid, coalesce(class_fid, 0), position, seal, " + strings.Join(laterColumns, ", ") + ", " + strings.Join(holdRecord.Names, ", ") + ", more FROM holds WHERE descent_fid IN " + someKeys
	// Details of a hold for a line of a list, beyond its columns, without decoding the rest: for
	// rows that have them in JSON.
	briefQuery = strings.Replace(holdQuery, ", more", ", CASE WHEN more IN ('', '{}') THEN '' ELSE json_extract(more, '$.surfaces_excluded', '$.gear_name', '$.class_figures', '$.levers') END, more", 1)

	// Columns that older tables lack are NULL.
	withoutPacked = strings.NewReplacer(", line, heaviest_rank", ", NULL, heaviest_rank", strings.Join(laterColumns, ", "), "NULL, NULL, NULL")
	withoutSeal   = strings.NewReplacer(" seal,", " NULL,")
	olderQueries  = map[string][2]string{descentQuery: olderQuery(descentQuery), holdQuery: olderQuery(holdQuery), briefQuery: olderQuery(briefQuery)}
)

// olderQuery is a query for tables of version 1, and of versions 2 to 4.
func olderQuery(q string) [2]string {
	q = withoutPacked.Replace(q)
	return [2]string{withoutSeal.Replace(q), q}
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

// reviewStates are those that a review can have.
var reviewStates = catalog.ReviewStates()

// unknownState is the fault of a review whose state is damaged: a retired descent could pass for
// one in use.
func unknownState(state catalog.ReviewState) error {
	return &Fault{Kind: terrain.ErrRead, What: fmt.Sprintf("its review has the unknown state %.20q", state), Fix: "restore the last copy, or set the state by review"}
}

func (l *loader) provenanceOf(fid int64) (catalog.Provenance, error) {
	if p, ok := l.provenance[fid]; ok {
		return p, nil
	}
	key := gpkg.KeptKey{Kind: keptProvenance, Key: fid}
	if p, ok := l.kept.Get(key).(*catalog.Provenance); ok {
		c := *p
		c.Rasters, c.Credits = slices.Clone(p.Rasters), slices.Clone(p.Credits)
		return c, nil
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
	if l.kept != nil {
		kept := p
		kept.Rasters, kept.Credits = slices.Clone(p.Rasters), slices.Clone(p.Credits)
		l.kept.Put(key, &kept, len(details)+1024)
	}
	return p, nil
}
