package store

import (
	"cmp"
	"database/sql"
	"database/sql/driver"
	"fmt"

	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
)

// plan lists the changes from saving one route, with the rows that they need. Making it only reads.
type plan struct {
	*resurvey.Plan
	known    resurvey.Known
	routeFID int64    // 0 for a new route
	from     *carried // additional data of a merge; nil for a survey
	samples  [][]byte // the packed profile of each entry; empty where none is kept
	packed   []packed // the rest of each entry; empty where nothing is written, or not yet
}

// planner keeps names unique between the routes of one batch.
type planner struct {
	q        gpkg.Querier
	reserved map[string]bool   // ids and slugs that are used but perhaps not yet written
	sha      map[string]string // fingerprints of definitions
}

// fingerprint caches its results: every route has the same few definitions.
func (pl *planner) fingerprint(definition string) string {
	sha, ok := pl.sha[definition]
	if !ok {
		sha = resurvey.Fingerprint(definition)
		if pl.sha == nil || len(pl.sha) > 1000 {
			pl.sha = map[string]string{}
		}
		pl.sha[definition] = sha
	}
	return sha
}

// fingerprints are those of the classes that a survey used, by class.
func (pl *planner) fingerprints(used []ClassUsed) map[string]string {
	out := make(map[string]string, len(used))
	for _, k := range used {
		out[k.ID] = pl.fingerprint(k.Definition)
	}
	return out
}

// planOf works out what saving rs changes.
func (pl *planner) planOf(rs *RouteSurvey, from *carried, o SaveOptions, at string) (*plan, error) {
	p := &plan{from: from}
	err := pl.readKnown(p, rs)
	if err != nil {
		return nil, err
	}
	p.Plan, err = resurvey.Compare(rs, p.known, resurvey.Options{
		At: at, AcceptMoves: o.AcceptMoves, KeepIDs: from != nil, ClassSHA256: pl.fingerprints(rs.ClassesUsed),
		IsTaken: func(id string) (bool, error) { return pl.isTaken("descents", "id", id) },
	})
	if err != nil {
		return nil, err
	}
	return p, pl.questionOtherRoutes(p)
}

// readKnown reads what the catalogue holds of a route, or finds a short name for a new one.
func (pl *planner) readKnown(p *plan, rs *RouteSurvey) error {
	p.known.SameLine = true
	d := pl.q.Direct()
	found := false
	// An id that the catalogue already holds stays, so that reviews stay with their road.
	err := d.Each("SELECT fid, slug, line_sha256, route FROM routes WHERE route IN (?, ?) ORDER BY route = ?", d.Args().Add(rs.Route.ID).Add(cmp.Or(rs.Route.Title, rs.Route.ID)).Add(rs.Route.ID), func(row []driver.Value) error {
		if found {
			return nil
		}
		found = true
		p.routeFID, _ = row[0].(int64)
		p.known.Slug = string(gpkg.BytesOf(row[1]))
		p.known.SameLine = string(gpkg.BytesOf(row[2])) == rs.Route.LineSHA256
		rs.Route.ID = string(gpkg.BytesOf(row[3]))
		return nil
	})
	if err != nil {
		return err
	}
	if found {
		p.known.Descents, err = pl.descentsOf(p.routeFID)
		return err
	}
	want := rs.Route.ShortName()
	if p.from != nil && p.from.slug != "" { // a road keeps its short name from catalogue to catalogue
		want = p.from.slug
	}
	p.known.Slug, err = resurvey.FirstFree(want, "-", func(s string) (bool, error) { return pl.isTaken("routes", "slug", s) })
	return err
}

// isTaken reports whether a name is in use, and reserves one that is not.
func (pl *planner) isTaken(table, column, value string) (bool, error) {
	key := table + " " + value
	if pl.reserved[key] {
		return true, nil
	}
	d := pl.q.Direct()
	used, err := d.Any("SELECT 1 FROM "+table+" WHERE "+column+" = ?", d.Args().Add(value))
	if err == nil && !used {
		pl.reserved[key] = true
	}
	return used, err
}

// descentsOf reads the descents of a route in the order in which they came in.
func (pl *planner) descentsOf(routeFID int64) ([]*resurvey.Stored, error) {
	if err := gpkg.CheckRows(pl.q, "routes", "classes", "proposals"); err != nil {
		return nil, err
	}
	l := loader{q: pl.q, classSHA256: map[int64]string{}}
	err := gpkg.Each(pl.q, func(rows *sql.Rows) error {
		var fid int64
		var sha string
		err := rows.Scan(&fid, &sha)
		l.classSHA256[fid] = sha
		return err
	}, "SELECT fid, sha256 FROM classes")
	if err != nil {
		return nil, err
	}
	var fids []int64
	if err := gpkg.Keys(pl.q, &fids, "SELECT fid FROM descents WHERE route_fid = ? ORDER BY fid", routeFID); err != nil {
		return nil, err
	}
	var out []*resurvey.Stored
	for _, fid := range fids {
		var at, words string
		e, found, err := l.entry(fid)
		if err != nil {
			return nil, err
		}
		if !found {
			continue
		}
		_, err = gpkg.First(pl.q, []any{&at, &words}, "SELECT at || '', words FROM proposals WHERE descent_fid = ?", fid)
		if err != nil {
			return nil, err
		}
		if at != "" {
			e.Waiting = resurvey.ProposalQuestion(at, words)
		}
		out = append(out, e)
	}
	return out, nil
}

// questionOtherRoutes finds approvals on other routes that are based on an older version of a class
// that has changed in this survey.
func (pl *planner) questionOtherRoutes(p *plan) error {
	for _, k := range p.Survey.ClassesUsed {
		key := "class " + k.ID + p.ClassSHA256[k.ID]
		if pl.reserved[key] { // asked before
			continue
		}
		d := pl.q.Direct()
		known, err := d.Any("SELECT 1 FROM classes WHERE class = ? AND sha256 = ?", d.Args().Add(k.ID, p.ClassSHA256[k.ID]))
		if err != nil {
			return err
		}
		pl.reserved[key] = true
		if known {
			continue
		}
		why := fmt.Sprintf("weight class %s changed; survey its road again", k.ID)
		err = gpkg.Each(pl.q, func(rows *sql.Rows) error {
			var id string
			if err := rows.Scan(&id); err != nil {
				return err
			}
			p.Changes.Questioned = append(p.Changes.Questioned, Question{ID: id, Why: why})
			return nil
		}, "SELECT v.descent FROM reviews v JOIN descents d ON d.id = v.descent JOIN holds h ON h.descent_fid = d.fid WHERE v.state = 'approved' AND h.class = ? AND d.route_fid <> ? ORDER BY v.descent", k.ID, p.routeFID)
		if err != nil {
			return err
		}
	}
	return nil
}
