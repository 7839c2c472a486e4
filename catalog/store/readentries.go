package store

import (
	"database/sql/driver"
	"errors"
	"reflect"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
)

// keysAtOnce is the number of descents that are looked up in one statement.
const keysAtOnce = 16

var someKeys = "(" + gpkg.Placeholders(keysAtOnce) + ")"

// readGroup is some descents that are read together.
type readGroup struct {
	fids       []int64
	entries    [keysAtOnce]resurvey.Stored
	found      [keysAtOnce]bool
	isKept     [keysAtOnce]bool // not read now: see loader.kept
	provenance [keysAtOnce]int64
	danger     [keysAtOnce]dangerOrder
}

// dangerOrder is the place of a descent in a list: its columns heaviest_rank and heaviest_speed_mps.
type dangerOrder struct {
	rank     int64
	speedMPS float64
}

// entry reads one descent with its holds, review and provenance.
func (l *loader) entry(fid int64) (*resurvey.Stored, bool, error) {
	g := &readGroup{fids: []int64{fid}}
	err := l.readGroup(g)
	return &g.entries[0], g.found[0], err
}

// each calls do for each descent of the list that is there, in its order, until do says that it is
// enough.
func (l *loader) each(fids []int64, do func(e *resurvey.Stored, o dangerOrder) (isEnough bool)) error {
	for len(fids) > 0 {
		g := &readGroup{fids: fids[:min(keysAtOnce, len(fids))]}
		fids = fids[len(g.fids):]
		if err := l.readGroup(g); err != nil {
			return err
		}
		for i := range g.fids {
			if g.found[i] && do(&g.entries[i], g.danger[i]) {
				return nil
			}
		}
	}
	return nil
}

func (l *loader) readGroup(g *readGroup) error {
	err := l.readDescents(g)
	if err == nil && !l.noHolds {
		err = l.readHolds(g)
	}
	if err != nil {
		return err
	}
	for i := range g.fids {
		e := &g.entries[i]
		if !g.found[i] {
			continue
		}
		if e.Provenance, err = l.provenanceOf(g.provenance[i]); err != nil {
			return err
		}
		if e.GoneSince != "" && e.Review.InQuestion == "" {
			e.Review.InQuestion = resurvey.GoneQuestion(e.GoneSince)
		}
	}
	return nil
}

// place is where a key is in the group; -1 for one that was not asked for.
func (g *readGroup) place(fid driver.Value) int {
	for i, k := range g.fids {
		if driver.Value(k) == fid {
			return i
		}
	}
	return -1
}

// keys are the arguments of a query for those of the group that is chooses; n is how many.
func (g *readGroup) keys(args gpkg.Args, is func(i int) bool, value func(i int) driver.Value) (_ gpkg.Args, n int) {
	for i := range g.fids {
		if is(i) {
			args = args.Add(value(i))
			n++
		}
	}
	for len(args) < keysAtOnce {
		args = args.Add(nil)
	}
	return args, n
}

// named adds the descent to a fault without a place.
func (g *readGroup) named(i int, err error) error {
	var f *Fault
	if errors.As(err, &f) && f.Feature == "" {
		f.Feature = "descent " + g.entries[i].Descent.ID
	}
	return err
}

// readDescents reads the rows of the descents and of their reviews.
func (l *loader) readDescents(g *readGroup) error {
	for i, fid := range g.fids {
		e := &g.entries[i]
		e.Key, e.Holds = fid, []catalog.Hold{} // no advice is an empty list, as in JSON
		if k, isKept := l.kept.Get(gpkg.KeptKey{Kind: keptDescent, Key: fid}).(*keptOfDescent); isKept {
			k.copyTo(e)
			g.provenance[i], g.danger[i], g.found[i], g.isKept[i] = k.provenanceFID, k.danger, true, true
		}
	}
	d := l.q.Direct()
	args, n := g.keys(d.Args(), func(i int) bool { return !g.isKept[i] }, func(i int) driver.Value { return g.fids[i] })
	if n == 0 {
		return nil
	}
	err := d.Each(l.query(descentQuery), args, func(row []driver.Value) error {
		i := g.place(row[len(row)-1])
		if i < 0 {
			return nil
		}
		g.found[i] = true
		return g.named(i, l.fillDescent(g, i, row))
	})
	if err == nil {
		err = l.readReviews(g)
	}
	if err != nil {
		return err
	}
	for i := range g.fids {
		if l.kept != nil && g.found[i] && !g.isKept[i] {
			l.keepDescent(&g.entries[i], g.provenance[i], g.danger[i])
		}
	}
	return nil
}

// fillDescent fills an entry from the row of its descent.
func (l *loader) fillDescent(g *readGroup, i int, row []driver.Value) error {
	e, n := &g.entries[i], len(descentRecord.Names)+1
	err := descentRecord.Fill(reflect.ValueOf(&e.Descent).Elem(), row[:n])
	if err != nil {
		return err
	}
	g.provenance[i], _ = row[n+1].(int64)
	g.danger[i].rank, _ = row[n+6].(int64)
	g.danger[i].speedMPS, _ = row[n+7].(float64)
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
	e.GoneSince = string(gpkg.BytesOf(row[n+2]))
	return err
}

func (l *loader) readReviews(g *readGroup) error {
	d := l.q.Direct()
	args, n := g.keys(d.Args(), func(i int) bool { return g.found[i] && !g.isKept[i] }, func(i int) driver.Value {
		g.entries[i].Review.State = catalog.Surveyed
		return g.entries[i].Descent.ID
	})
	if n == 0 {
		return nil
	}
	return d.Each(reviewQuery, args, func(row []driver.Value) error {
		id := string(gpkg.BytesOf(row[len(row)-1]))
		for i := range g.fids {
			if g.found[i] && !g.isKept[i] && g.entries[i].Descent.ID == id {
				return g.named(i, fillReview(&g.entries[i].Review, row))
			}
		}
		return nil
	})
}

// fillReview fills a review from its row.
func fillReview(r *catalog.Review, row []driver.Value) (err error) {
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
}
