package store

import (
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"

	"gradeline/catalog"
)

var (
	insertDescent = "INSERT INTO descents(" + strings.Join(descentRecord.names, ", ") + ", more, geom, heaviest_class, heaviest_rank, heaviest_speed_mps, gone_since, route_fid, provenance_fid, fid) VALUES (" + marks(len(descentRecord.names)+9) + ")"
	updateDescent = "UPDATE descents SET (" + strings.Join(descentRecord.names, ", ") + ", more, geom, heaviest_class, heaviest_rank, heaviest_speed_mps, gone_since, route_fid, provenance_fid) = (" + marks(len(descentRecord.names)+8) + ") WHERE fid = ?"
	insertHold    = "INSERT INTO holds(" + strings.Join(holdRecord.names, ", ") + ", more, descent_fid, position, class_fid) VALUES (" + marks(len(holdRecord.names)+4) + ")"
)

func marks(n int) string { return strings.TrimSuffix(strings.Repeat("?, ", n), ", ") }

// apply writes a plan; inside the transaction.
func (s *Survey) apply(p *plan, at string) error {
	if err := s.writeRoute(p, at); err != nil {
		return err
	}
	if err := s.writeClasses(p, at); err != nil {
		return err
	}
	for i := range p.steps {
		if err := s.applyStep(p, &p.steps[i], at); err != nil {
			return err
		}
	}
	for _, old := range p.gone {
		if _, err := s.c.exec("UPDATE descents SET gone_since = ? WHERE fid = ?", at, old.fid); err != nil {
			return err
		}
		if err := s.c.log("gone", s.o.By, old.Descent.ID, p.rs.Route.ID, goneWords(at)); err != nil {
			return err
		}
	}
	for _, q := range p.changes.Questioned {
		if err := s.c.question(q.ID, s.o.By, q.Why); err != nil {
			return err
		}
	}
	return nil
}

// pack makes the profiles that the plan will write.
func (p *plan) pack() error {
	for i := range p.steps {
		st := &p.steps[i]
		if p.rs.from != nil {
			st.samples = p.rs.from.samples[st.index]
		}
		if p.rs.Profile == nil || st.do == keep {
			continue
		}
		if stretch := stretchOf(p.rs.Profile, &st.entry.Descent); stretch != nil {
			var err error
			if st.samples, err = stretch.pack(); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *Survey) applyStep(p *plan, st *step, at string) error {
	e := st.entry
	what, words := "updated", "surveyed again"
	switch st.do {
	case keep:
		return s.c.withdraw(st.old.fid, st.id, p.rs.Route.ID, s.o.By)
	case propose:
		return s.propose(p, st, at)
	case add:
		what, words = "added", fmt.Sprintf("%.0f m long, %.0f m down, mean %.1f %%", e.Descent.LengthM, e.Descent.DropM, e.Descent.MeanDowngradePct)
	case update:
		if len(st.shifts) > 0 {
			what, words = "moved", shiftWords(st.shifts)
		}
		if st.back {
			words = "found again; " + words
		}
	}
	if st.old != nil {
		if err := s.c.withdraw(st.old.fid, st.id, p.rs.Route.ID, s.o.By); err != nil {
			return err
		}
	}
	if err := s.writeEntry(st, p); err != nil {
		return err
	}
	return s.c.log(what, s.o.By, st.id, p.rs.Route.ID, words)
}

// writeEntry writes a descent with its holds, profile and provenance.
func (s *Survey) writeEntry(st *step, p *plan) error {
	e := st.entry
	origin, err := s.origin(&e.Provenance)
	if err != nil {
		return err
	}
	geom, b := lineBlob(s.geom[:0], e.Line)
	s.geom = geom // the driver copies it
	class, rank, speedMPS := heaviest(e.Holds)
	var gone any
	if f := p.rs.from; f != nil && f.gone[st.index] != "" {
		gone = f.gone[st.index]
	}
	var fid int64
	if st.old != nil {
		fid = st.old.fid
	} else if fid, err = s.next("descents", &s.lastDescent); err != nil {
		return err
	}
	args, err := descentRecord.bind(reflect.ValueOf(&e.Descent).Elem(), s.c.d.start(), s.scratch)
	if err != nil {
		return err
	}
	args = args.add(geom, class, int64(rank), speedMPS, gone, p.routeFID, origin, fid)
	if st.old == nil {
		err = s.c.putIndexed(args, fid, b)
	} else {
		err = s.c.d.put(updateDescent, args)
	}
	if err != nil {
		return err
	}
	if st.old != nil {
		for _, q := range []string{"DELETE FROM holds WHERE descent_fid = ?", "DELETE FROM profiles WHERE descent_fid = ?"} {
			if err := s.c.d.put(q, s.c.d.start().add(fid)); err != nil {
				return err
			}
		}
	}
	s.extent.add(b.minX, b.minY)
	s.extent.add(b.maxX, b.maxY)
	s.bytes += len(geom) + len(st.samples) + 1024
	if err := s.writeHolds(st, p, fid); err != nil {
		return err
	}
	if len(st.samples) > 0 {
		if err := s.c.d.put("INSERT INTO profiles(descent_fid, samples) VALUES (?, ?)", s.c.d.start().add(fid, st.samples)); err != nil {
			return err
		}
	}
	if st.old == nil && e.Review != (catalog.Review{State: catalog.Surveyed}) {
		return s.c.writeReview(st.id, &e.Review)
	}
	return nil
}

// writeHolds writes the advice of a descent. One row a statement: several at once
// make SQLite keep a journal for each statement, which takes longer.
func (s *Survey) writeHolds(st *step, p *plan, fid int64) error {
	for i := range st.entry.Holds {
		h := &st.entry.Holds[i]
		args, err := holdRecord.bind(reflect.ValueOf(h).Elem(), s.c.d.start(), s.scratch)
		if err != nil {
			return err
		}
		s.bytes += 256 + len(args[len(args)-1].Value.(string))
		var class any
		sha := p.classNow[h.Class]
		if f := p.rs.from; f != nil {
			sha = f.classes[st.index][h.Class]
		}
		if k := s.classes[h.Class+sha]; k != 0 {
			class = k
		}
		if err := s.c.d.put(insertHold, args.add(fid, int64(i), class)); err != nil {
			return err
		}
	}
	return nil
}

// next gives the key that AUTOINCREMENT would give to the next row of a table.
func (s *Survey) next(table string, last *int64) (int64, error) {
	if *last == 0 {
		d := s.c.d
		err := d.each("SELECT max(coalesce((SELECT seq FROM sqlite_sequence WHERE name = '"+table+"'), 0), coalesce((SELECT max(fid) FROM "+table+"), 0))", d.start(), func(row []driver.Value) error {
			*last, _ = row[0].(int64)
			return nil
		})
		if err != nil {
			return 0, err
		}
	}
	*last++
	return *last, nil
}

// origin gives the key of a provenance, which many descents share.
func (s *Survey) origin(pv *catalog.Provenance) (int64, error) {
	b, err := json.Marshal(pv)
	if err != nil {
		return 0, err
	}
	details := string(b)
	s.last = pv
	if fid := s.origins[details]; fid != 0 {
		return fid, nil
	}
	var fid int64
	d, found := s.c.d, false
	err = d.each("SELECT fid FROM provenance WHERE details = ?", d.start().add(details), func(row []driver.Value) error {
		found = true
		fid, _ = row[0].(int64)
		return nil
	})
	if err == nil && !found {
		res, e := s.c.exec("INSERT INTO provenance(tool, at, cell_m, noise_sigma_m, rules, invented, details) VALUES (?, ?, ?, ?, ?, ?, ?)",
			pv.Tool, stamp(pv.At), pv.CellM, pv.NoiseM, pv.Rules, pv.Invented, details)
		if err = e; err == nil {
			fid, err = res.LastInsertId()
		}
	}
	s.origins[details] = fid
	return fid, err
}

func (s *Survey) writeClasses(p *plan, at string) error {
	for _, k := range p.rs.ClassesUsed {
		sha := s.planner.fingerprint(k.Definition)
		if s.classes[k.ID+sha] != 0 {
			continue
		}
		var fid int64
		found, err := one(s.c, []any{&fid}, "SELECT fid FROM classes WHERE class = ? AND sha256 = ?", k.ID, sha)
		if err != nil {
			return err
		}
		if !found {
			res, err := s.c.exec("INSERT INTO classes(class, sha256, definition, first_used_at) VALUES (?, ?, ?, ?)", k.ID, sha, k.Definition, at)
			if err != nil {
				return err
			}
			if fid, err = res.LastInsertId(); err != nil {
				return err
			}
		}
		s.classes[k.ID+sha] = fid
	}
	return nil
}
