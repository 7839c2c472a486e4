package store

import (
	"database/sql/driver"
	"encoding/json"
	"reflect"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
)

// holds reads the advice of an entry, in its order.
func (l *loader) holds(e *resurvey.Stored) error {
	d, query := l.q.Direct(), holdQuery
	if l.brief {
		query = briefQuery
	}
	var order []int64
	packed := 0 // holds whose details are packed
	err := d.Each(l.query(query), d.Args().Add(e.Key), func(row []driver.Value) error {
		if order == nil { // most catalogues have so many classes
			order, e.Holds = make([]int64, 0, 9), make([]catalog.Hold, 0, 9)
		}
		class, _ := row[0].(int64)
		position, _ := row[1].(int64)
		at, _ := slices.BinarySearch(order, position)
		order, e.Holds = slices.Insert(order, at, position), slices.Insert(e.Holds, at, catalog.Hold{})
		h := &e.Holds[at]
		isPacked, err := l.fillHold(h, row, e.Key, position)
		if err != nil {
			return err
		}
		if isPacked {
			packed++
		}
		if l.classSHA256 != nil {
			if e.ClassSHA256 == nil {
				e.ClassSHA256 = make(map[string]string, 8)
			}
			e.ClassSHA256[h.Class] = l.classSHA256[class]
		}
		return nil
	})
	switch {
	case err != nil || packed == 0:
		return err
	case packed < len(e.Holds) || order[len(order)-1] != int64(len(order)-1): // a row is missing or another's
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
		return true, fillLater(h, later)
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
