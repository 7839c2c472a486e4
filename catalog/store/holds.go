package store

import (
	"cmp"
	"database/sql/driver"
	"encoding/json"
	"reflect"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
)

// readHolds reads the advice of the entries of a group, each in its order.
func (l *loader) readHolds(g *readGroup) error {
	var isKept [keysAtOnce]bool
	keeps := l.kept != nil && l.brief && !l.levers && l.classSHA256 == nil
	for i, fid := range g.fids {
		if kept, is := l.kept.Get(gpkg.KeptKey{Kind: keptHolds, Key: fid}).([]catalog.Hold); keeps && is {
			g.entries[i].Holds, isKept[i] = copyOfHolds(kept), true
		}
	}
	d, query := l.q.Direct(), holdQuery
	if l.brief {
		query = briefQuery
	}
	args, n := g.keys(d.Args(), func(i int) bool { return g.found[i] && !isKept[i] }, func(i int) driver.Value { return g.fids[i] })
	if n == 0 {
		return nil
	}
	var rows [keysAtOnce]holdRows
	err := d.Each(l.query(query), args, func(row []driver.Value) error {
		i := g.place(row[0])
		if i < 0 || isKept[i] {
			return nil
		}
		return g.named(i, rows[i].add(l, &g.entries[i], row[1:]))
	})
	if err != nil {
		return err
	}
	for i := range g.fids {
		if !g.found[i] || isKept[i] {
			continue
		}
		if err := rows[i].arrange(l, &g.entries[i]); err != nil {
			return g.named(i, err)
		}
		if keeps {
			l.keepHolds(&g.entries[i])
		}
	}
	return nil
}

// holdRows are the holds of an entry in the order of their rows.
type holdRows struct {
	order  []int64 // of each its position
	holds  []catalog.Hold
	packed int // holds whose details are packed
}

// add adds a hold from its row.
func (r *holdRows) add(l *loader, e *resurvey.Stored, row []driver.Value) error {
	if r.holds == nil { // most catalogues have so many classes
		r.order, r.holds = make([]int64, 0, 9), make([]catalog.Hold, 0, 9)
	}
	class, _ := row[0].(int64)
	position, _ := row[1].(int64)
	r.order, r.holds = append(r.order, position), append(r.holds, catalog.Hold{})
	h := &r.holds[len(r.holds)-1]
	isPacked, err := l.fillHold(h, row, e.Key, position)
	if err != nil {
		return err
	}
	if isPacked {
		r.packed++
	}
	if l.classSHA256 != nil {
		if e.ClassSHA256 == nil {
			e.ClassSHA256 = make(map[string]string, 8)
		}
		e.ClassSHA256[h.Class] = l.classSHA256[class]
	}
	return nil
}

// arrange gives the entry its holds in their order, with their details where they are wanted.
func (r *holdRows) arrange(l *loader, e *resurvey.Stored) error {
	if len(r.holds) == 0 {
		return nil
	}
	if e.Holds = r.holds; !slices.IsSorted(r.order) {
		by := make([]int, len(r.order))
		for i := range by {
			by[i] = i
		}
		slices.SortStableFunc(by, func(a, b int) int { return cmp.Compare(r.order[a], r.order[b]) })
		e.Holds = make([]catalog.Hold, len(by))
		for i, from := range by {
			e.Holds[i] = r.holds[from]
		}
	}
	switch {
	case r.packed == 0:
		return nil
	case r.packed < len(e.Holds) || slices.Max(r.order) != int64(len(r.order)-1): // a row is missing or another's
		return errAdvice
	case l.brief && !l.levers:
		return nil
	}
	return l.details(e)
}

// fillHold fills a hold from its row; isPacked says that its details are packed, and
// not in the row.
func (l *loader) fillHold(h *catalog.Hold, row []driver.Value, descent, position int64) (isPacked bool, err error) {
	const first = 3 // of the later columns
	later := row[first : first+len(laterColumns)]
	figures := row[first+len(laterColumns):][:len(holdRecord.Names)]
	if later[len(later)-1] != nil {
		if err := gpkg.CheckOwnSeal(row[2], sealed(figures, descent, position, later[0], later[1], later[2]), ""); err != nil {
			return true, err
		}
		if err := holdRecord.Fill(reflect.ValueOf(h).Elem(), figures); err != nil {
			return true, err
		}
		return true, l.fillLater(h, later)
	}
	details := row[len(row)-1]
	if err := gpkg.CheckSeal(row[2], sealed(figures, descent, position), string(gpkg.BytesOf(details))); err != nil {
		return false, err
	}
	if l.brief {
		return false, fillBrief(h, l.levers, figures, gpkg.BytesOf(row[len(row)-2]))
	}
	return false, holdRecord.Fill(reflect.ValueOf(h).Elem(), row[first+len(laterColumns):])
}

// fillBrief fills a hold from its columns and the few details of a list; none in the
// tables of a program that knew no such details.
func fillBrief(h *catalog.Hold, levers bool, figures []driver.Value, details []byte) error {
	if err := holdRecord.Fill(reflect.ValueOf(h).Elem(), figures); err != nil || len(details) == 0 {
		return err
	}
	wanted := []any{&h.SurfacesOut, &h.GearName, &h.ClassFigures, &h.Levers}
	if !levers {
		wanted[3] = new(any)
	}
	return gpkg.Unreadable("more", json.Unmarshal(details, &wanted))
}
