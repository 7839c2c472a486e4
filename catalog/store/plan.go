package store

import (
	"database/sql"
	"database/sql/driver"
	"fmt"
	"strings"

	"gradeline/catalog"
)

// deed is what happens to one descent.
type deed uint8

const (
	add deed = iota
	keep
	update
	propose
)

// step is one new entry with what happens to it.
type step struct {
	do      deed
	entry   *catalog.Entry
	index   int // of the entry in the survey
	id      string
	old     *stored // nil when added
	shifts  []Shift
	why     string // put in question because; empty if not
	back    bool
	samples []byte // its profile, packed; empty where none is kept
}

// plan is everything that saving one route will do. Making it only reads.
type plan struct {
	rs       *RouteSurvey
	entries  []catalog.Entry // as they will be stored
	routeFID int64           // 0 for a new route
	slug     string
	sameLine bool
	classSHA map[int64]string  // of the versions in the catalogue
	classNow map[string]string // of the versions used by this survey
	steps    []step
	gone     []*stored
	changes  Changes
}

// planner keeps what must stay unique between the routes of one batch.
type planner struct {
	q        querier
	reserved map[string]bool   // ids and slugs given out but perhaps not written
	sha      map[string]string // fingerprints of definitions
}

// fingerprint remembers: the same few definitions come with every route.
func (pl *planner) fingerprint(definition string) string {
	sha, ok := pl.sha[definition]
	if !ok {
		sha = fingerprint(definition)
		if pl.sha == nil || len(pl.sha) > 1000 {
			pl.sha = map[string]string{}
		}
		pl.sha[definition] = sha
	}
	return sha
}

// planOf works out what saving rs changes.
func (pl *planner) planOf(rs *RouteSurvey, o SaveOptions, at string) (*plan, error) {
	p := &plan{rs: rs, sameLine: true, classSHA: map[int64]string{}, classNow: map[string]string{}}
	p.changes = Changes{At: at, Route: rs.Route.ID, Added: []string{}, Same: []string{}, Updated: []string{}, Moved: []Move{}, Gone: []string{}, Back: []string{}, Holds: []HoldChange{}, Questioned: []Question{}}
	for _, k := range rs.ClassesUsed {
		p.classNow[k.ID] = pl.fingerprint(k.Definition)
	}
	if err := pl.route(p); err != nil {
		return nil, err
	}
	existing, err := pl.existing(p)
	if err != nil {
		return nil, err
	}
	p.entries = make([]catalog.Entry, len(rs.Entries))
	for i := range rs.Entries {
		p.entries[i] = normal(rs.Entries[i], rs)
	}
	matched := map[int]*stored{}
	used := map[*stored]bool{}
	for _, m := range match(existing, p.entries, p.sameLine) {
		matched[m.new] = existing[m.old]
		used[existing[m.old]] = true
	}
	for i := range p.entries {
		e := &p.entries[i]
		if old := matched[i]; old != nil {
			p.compare(old, e, i, o, at)
			continue
		}
		base := baseID(p.slug, &e.Descent)
		if rs.from != nil && e.Descent.ID != "" {
			base = e.Descent.ID
		}
		id, err := free(base, "-", func(id string) (bool, error) { return pl.taken("descents", "id", id) })
		if err != nil {
			return nil, err
		}
		pl.reserved[id] = true
		e.Descent.ID = id
		p.steps = append(p.steps, step{do: add, entry: e, id: id, index: i})
		p.changes.Added = append(p.changes.Added, id)
	}
	for i := range p.entries {
		p.changes.Descents = append(p.changes.Descents, p.entries[i].Descent.ID)
	}
	for _, old := range existing {
		if !used[old] && old.gone == "" {
			p.gone = append(p.gone, old)
			p.changes.Gone = append(p.changes.Gone, old.Descent.ID)
			if old.Review.State == catalog.FieldChecked || old.Review.State == catalog.Approved {
				p.changes.Questioned = append(p.changes.Questioned, Question{old.Descent.ID, goneWords(at)})
			}
		}
	}
	return p, pl.otherRoutes(p)
}

// route finds the route's row, or a short name for a new one.
func (pl *planner) route(p *plan) error {
	var line string
	d := pl.q.direct()
	found := false
	err := d.each("SELECT fid, slug, line_sha256 FROM routes WHERE route = ?", d.start().add(p.rs.Route.ID), func(row []driver.Value) error {
		found = true
		p.routeFID, _ = row[0].(int64)
		p.slug, line = string(bytesOf(row[1])), string(bytesOf(row[2]))
		return nil
	})
	if err != nil {
		return err
	}
	if found {
		p.sameLine = line == p.rs.Route.LineSHA256
		return nil
	}
	base := p.rs.Route.baseSlug()
	if p.rs.from != nil && p.rs.from.slug != "" { // a road keeps its short name from catalogue to catalogue
		base = p.rs.from.slug
	}
	p.slug, err = free(base, "-", func(s string) (bool, error) { return pl.taken("routes", "slug", s) })
	pl.reserved["slug "+p.slug] = true
	return err
}

func (pl *planner) taken(table, column, value string) (bool, error) {
	if table == "routes" && pl.reserved["slug "+value] || table == "descents" && pl.reserved[value] {
		return true, nil
	}
	d := pl.q.direct()
	return d.any("SELECT 1 FROM "+table+" WHERE "+column+" = ?", d.start().add(value))
}

func (pl *planner) existing(p *plan) ([]*stored, error) {
	if p.routeFID == 0 {
		return nil, nil
	}
	err := each(pl.q, func(rows *sql.Rows) error {
		var fid int64
		var sha string
		if err := rows.Scan(&fid, &sha); err != nil {
			return err
		}
		p.classSHA[fid] = sha
		return nil
	}, "SELECT fid, sha256 FROM classes")
	if err != nil {
		return nil, err
	}
	var fids []int64
	if err := keys(pl.q, &fids, "SELECT fid FROM descents WHERE route_fid = ? ORDER BY fid", p.routeFID); err != nil {
		return nil, err
	}
	l := loader{q: pl.q}
	var out []*stored
	for _, fid := range fids {
		e, found, err := l.entry(fid)
		if err != nil {
			return nil, err
		}
		if found {
			out = append(out, e)
		}
	}
	return out, nil
}

// compare decides what happens to a descent that was found again.
func (p *plan) compare(old *stored, e *catalog.Entry, index int, o SaveOptions, at string) {
	id := old.Descent.ID
	e.Descent.ID = id
	s := step{do: update, entry: e, index: index, id: id, old: old, shifts: shifts(old, e, p.sameLine), back: old.gone != ""}
	reasons := p.reasons(old, e)
	if len(reasons) == 0 && sameAdvice(old, e) && sameBasis(old.Provenance, e.Provenance) && !s.back {
		s.do = keep
		p.steps = append(p.steps, s)
		p.changes.Same = append(p.changes.Same, id)
		return
	}
	reviewed := old.Review.State == catalog.FieldChecked || old.Review.State == catalog.Approved
	switch {
	case len(s.shifts) > 0 && reviewed && !o.AcceptMoves:
		s.do = propose
		s.why = "survey of " + at[:10] + " moved it beyond its bounds: " + shiftWords(s.shifts) + "; accept or refuse it"
	case len(s.shifts) > 0 && reviewed:
		s.why = "survey of " + at[:10] + " moved it beyond its bounds: " + shiftWords(s.shifts)
	case old.Review.State == catalog.Approved && len(reasons) > 0:
		s.why = "survey of " + at[:10] + ": " + strings.Join(reasons, "; ")
	}
	if len(s.shifts) > 0 {
		p.changes.Moved = append(p.changes.Moved, Move{id, s.shifts, s.do == update})
	} else {
		p.changes.Updated = append(p.changes.Updated, id)
	}
	if s.back {
		p.changes.Back = append(p.changes.Back, id)
	}
	p.changes.Holds = append(p.changes.Holds, holdChanges(id, old.Holds, e.Holds)...)
	if s.why != "" {
		p.changes.Questioned = append(p.changes.Questioned, Question{id, s.why})
	}
	p.steps = append(p.steps, s)
}

// otherRoutes finds approvals elsewhere that stand on an older version of a
// class that this survey brings in a new one.
func (pl *planner) otherRoutes(p *plan) error {
	for _, k := range p.rs.ClassesUsed {
		d := pl.q.direct()
		known, err := d.any("SELECT 1 FROM classes WHERE class = ? AND sha256 = ?", d.start().add(k.ID, p.classNow[k.ID]))
		if err != nil || known || pl.reserved["class "+k.ID+p.classNow[k.ID]] {
			if err != nil {
				return err
			}
			continue
		}
		pl.reserved["class "+k.ID+p.classNow[k.ID]] = true
		why := fmt.Sprintf("weight class %s changed; survey its road again", k.ID)
		err = each(pl.q, func(rows *sql.Rows) error {
			var id string
			if err := rows.Scan(&id); err != nil {
				return err
			}
			p.changes.Questioned = append(p.changes.Questioned, Question{id, why})
			return nil
		}, "SELECT v.descent FROM reviews v JOIN descents d ON d.id = v.descent JOIN holds h ON h.descent_fid = d.fid WHERE v.state = 'approved' AND h.class = ? AND d.route_fid <> ? ORDER BY v.descent", k.ID, p.routeFID)
		if err != nil {
			return err
		}
	}
	return nil
}
