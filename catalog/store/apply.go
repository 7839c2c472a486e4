package store

import (
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
)

var (
	descentNames  = strings.Join(descentRecord.Names, ", ") + ", more, geom, heaviest_class, heaviest_rank, heaviest_speed_mps, gone_since, route_fid, provenance_fid, line, seal"
	insertDescent = "INSERT INTO descents(" + descentNames + ", fid) VALUES (" + gpkg.Placeholders(len(descentRecord.Names)+11) + ")"
	updateDescent = "UPDATE descents SET (" + descentNames + ") = (" + gpkg.Placeholders(len(descentRecord.Names)+10) + ") WHERE fid = ?"
	insertHold    = "INSERT INTO holds(" + strings.Join(holdRecord.Names, ", ") + ", " + strings.Join(laterColumns, ", ") + ", descent_fid, position, class_fid, seal) VALUES "
	insertHolds   = [holdsAtOnce + 1]string{} // by number of rows
)

// apply writes a plan; inside the transaction.
func (s *Survey) apply(p *plan, at string) error {
	if err := s.writeRoute(p, at); err != nil {
		return err
	}
	if err := s.writeClasses(p, at); err != nil {
		return err
	}
	for i := range p.Steps {
		if err := s.applyStep(p, &p.Steps[i], at); err != nil {
			return err
		}
	}
	for _, old := range p.Gone {
		if _, err := s.c.file.Exec("UPDATE descents SET gone_since = ? WHERE fid = ?", at, old.Key); err != nil {
			return err
		}
		if err := s.c.file.LogHistory("gone", s.o.By, old.Descent.ID, p.Survey.Route.ID, resurvey.GoneWords(at)); err != nil {
			return err
		}
	}
	for _, q := range p.Changes.Questioned {
		if err := s.c.question(q.ID, s.o.By, q.Why); err != nil {
			return err
		}
	}
	return nil
}

func (s *Survey) applyStep(p *plan, st *resurvey.Step, at string) error {
	e := st.Entry
	what, words := "updated", "surveyed again"
	switch st.Do {
	case resurvey.Keep:
		return s.c.withdraw(st.Old.Key, st.ID, p.Survey.Route.ID, s.o.By)
	case resurvey.Propose:
		return s.propose(p, st, at, resurvey.ShiftWords(st.Shifts))
	case resurvey.Add:
		what, words = "added", fmt.Sprintf("%.0f m long, %.0f m down, mean %.1f %%", e.Descent.LengthM, e.Descent.DropM, e.Descent.MeanDowngradePct)
	case resurvey.Update:
		if len(st.Shifts) > 0 {
			what, words = "moved", resurvey.ShiftWords(st.Shifts)
		}
		if st.Back {
			words = "found again; " + words
		}
	}
	if st.Old != nil {
		if err := s.c.withdraw(st.Old.Key, st.ID, p.Survey.Route.ID, s.o.By); err != nil {
			return err
		}
	}
	if err := s.writeEntry(st, p); err != nil {
		return err
	}
	return s.c.file.LogHistory(what, s.o.By, st.ID, p.Survey.Route.ID, words)
}

// writeEntry writes a descent with its holds, profile and provenance.
func (s *Survey) writeEntry(st *resurvey.Step, p *plan) error {
	e := st.Entry
	origin, err := s.origin(&e.Provenance)
	if err != nil {
		return err
	}
	k, err := p.packedOf(st)
	if err != nil {
		return err
	}
	class, rank, speedMPS := heaviest(e.Holds)
	var gone any
	if f := p.from; f != nil && f.gone[st.Index] != "" {
		gone = f.gone[st.Index]
	}
	var fid int64
	if st.Old != nil {
		fid = st.Old.Key
	} else if fid, err = s.next("descents", &s.lastDescent); err != nil {
		return err
	}
	args, err := descentRecord.Bind(reflect.ValueOf(&e.Descent).Elem(), s.c.file.Direct().Args(), s.scratch)
	if err != nil {
		return err
	}
	n := len(descentRecord.Names)
	seal := sealOf(args[:n], args[n].Value, k.geom, p.routeFID, origin, k.line)
	args = args.Add(k.geom, class, int64(rank), speedMPS, gone, p.routeFID, origin, k.line, seal, fid)
	if st.Old == nil {
		err = s.c.file.InsertIndexed("descents", insertDescent, args, fid, k.box)
	} else {
		err = s.c.file.Direct().Run(updateDescent, args)
	}
	if err != nil {
		return err
	}
	if st.Old != nil {
		if err := s.dropAdvice(fid); err != nil {
			return err
		}
	}
	s.extent.Add(k.box.MinX, k.box.MinY)
	s.extent.Add(k.box.MaxX, k.box.MaxY)
	s.bytes += len(k.geom) + len(k.line) + len(p.samples[st.Index]) + 1024
	if err := s.writeHolds(st, p, fid); err != nil {
		return err
	}
	if len(e.Holds) > 0 {
		if err := s.writeAdvice(k.advice, fid); err != nil {
			return err
		}
	}
	if len(p.samples[st.Index]) > 0 {
		if err := s.c.file.Direct().Run("INSERT INTO profiles(descent_fid, samples) VALUES (?, ?)", s.c.file.Direct().Args().Add(fid, p.samples[st.Index])); err != nil {
			return err
		}
	}
	if st.Old == nil && e.Review != (catalog.Review{State: catalog.Surveyed}) {
		return s.c.writeReview(st.ID, &e.Review)
	}
	return nil
}

// dropAdvice takes a descent's holds with their details and its profile out, for those of a newer survey.
func (s *Survey) dropAdvice(fid int64) error {
	for _, q := range []string{"DELETE FROM holds WHERE descent_fid = ?", "DELETE FROM profiles WHERE descent_fid = ?", "DELETE FROM advice WHERE descent_fid = ?"} {
		if err := s.c.file.Direct().Run(q, s.c.file.Direct().Args().Add(fid)); err != nil {
			return err
		}
	}
	return nil
}

// holdsAtOnce is the largest number of rows of a statement, so that it stays within the limits of a
// connection.
const holdsAtOnce = 16

func init() {
	row := "(" + gpkg.Placeholders(len(holdRecord.Names)+len(laterColumns)+4) + ")"
	for n := 1; n <= holdsAtOnce; n++ {
		insertHolds[n] = insertHold + strings.Repeat(row+", ", n-1) + row
	}
}

// writeHolds writes the advice of a descent, as many rows in a statement as it may have: each
// statement costs more than a row.
func (s *Survey) writeHolds(st *resurvey.Step, p *plan, fid int64) error {
	holds := st.Entry.Holds
	for from := 0; from < len(holds); from += holdsAtOnce {
		part := holds[from:min(from+holdsAtOnce, len(holds))]
		args := s.c.file.Direct().Args()
		for i := range part {
			var err error
			if args, err = s.bindHold(args, &part[i], fid, int64(from+i), s.classes[part[i].Class+p.classSHA(st.Index, part[i].Class)]); err != nil {
				return err
			}
		}
		s.bytes += 256 * len(part)
		if err := s.c.file.Direct().Run(insertHolds[len(part)], args); err != nil {
			return err
		}
	}
	return nil
}

// bindHold adds the values of one row; classFID is 0 where the class's definition is not known.
func (s *Survey) bindHold(args gpkg.Args, h *catalog.Hold, fid, position, classFID int64) (gpkg.Args, error) {
	before := len(args)
	args, err := holdRecord.BindColumns(reflect.ValueOf(h).Elem(), args)
	if err != nil {
		return nil, err
	}
	surfaces, err := s.surfaces.text(h.SurfacesOut)
	if err != nil {
		return nil, err
	}
	var class any
	if classFID != 0 {
		class = classFID
	}
	figures := figuresText(h)
	seal := sealOf(args[before:], "", fid, position, h.GearName, surfaces, figures)
	return args.Add(h.GearName, surfaces, figures, fid, position, class, seal), nil
}

// sealOf is the check sum of a row over the values of sealed.
func sealOf(columns gpkg.Args, details driver.Value, more ...driver.Value) int64 {
	var kept [48]driver.Value
	values := kept[:0]
	for i, v := range columns {
		if i != nameColumn || len(columns) != len(descentRecord.Names) {
			values = append(values, v.Value)
		}
	}
	text, _ := details.(string)
	return gpkg.Seal(append(values, more...), text)
}

// classSHA is the fingerprint of a class's definition when an entry's advice was worked out.
func (p *plan) classSHA(index int, class string) string {
	if p.from != nil {
		return p.from.classes[index][class]
	}
	return p.ClassSHA256[class]
}

// next returns the key that AUTOINCREMENT would use for the next row of a table.
func (s *Survey) next(table string, last *int64) (int64, error) {
	if *last == 0 {
		d := s.c.file.Direct()
		err := d.Each("SELECT max(coalesce((SELECT seq FROM sqlite_sequence WHERE name = '"+table+"'), 0), coalesce((SELECT max(fid) FROM "+table+"), 0))", d.Args(), func(row []driver.Value) error {
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

// origin returns the key of a provenance, which many descents share.
func (s *Survey) origin(pv *catalog.Provenance) (int64, error) {
	if s.last != nil && s.lastOrigin != 0 && (s.last == pv || reflect.DeepEqual(s.last, pv)) { // nearly always
		return s.lastOrigin, nil
	}
	b, err := json.Marshal(pv)
	if err != nil {
		return 0, err
	}
	details := string(b)
	s.last, s.lastOrigin = pv, 0
	if fid := s.origins[details]; fid != 0 {
		s.lastOrigin = fid
		return fid, nil
	}
	var fid int64
	d, found := s.c.file.Direct(), false
	err = d.Each("SELECT fid FROM provenance WHERE details = ?", d.Args().Add(details), func(row []driver.Value) error {
		found = true
		fid, _ = row[0].(int64)
		return nil
	})
	if err == nil && !found {
		res, e := s.c.file.Exec("INSERT INTO provenance(tool, at, cell_m, noise_sigma_m, rules, invented, details) VALUES (?, ?, ?, ?, ?, ?, ?)",
			pv.Tool, gpkg.Stamp(pv.At), pv.CellM, pv.NoiseM, pv.Rules, pv.Invented, details)
		if err = e; err == nil {
			fid, err = res.LastInsertId()
		}
		if err == nil {
			err = s.c.file.SealRows("provenance", "WHERE fid = ?", fid)
		}
	}
	s.origins[details], s.lastOrigin = fid, fid
	return fid, err
}

func (s *Survey) writeClasses(p *plan, at string) error {
	for _, k := range p.Survey.ClassesUsed {
		sha := s.planner.fingerprint(k.Definition)
		if s.classes[k.ID+sha] != 0 {
			continue
		}
		var fid int64
		found, err := gpkg.First(s.c.file, []any{&fid}, "SELECT fid FROM classes WHERE class = ? AND sha256 = ?", k.ID, sha)
		if err != nil {
			return err
		}
		if !found {
			res, err := s.c.file.Exec("INSERT INTO classes(class, sha256, definition, first_used_at) VALUES (?, ?, ?, ?)", k.ID, sha, k.Definition, at)
			if err != nil {
				return err
			}
			if fid, err = res.LastInsertId(); err != nil {
				return err
			}
			if err := s.c.file.SealRows("classes", "WHERE fid = ?", fid); err != nil {
				return err
			}
		}
		s.classes[k.ID+sha] = fid
	}
	return nil
}
