package store

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"

	"gradeline/catalog"
	"gradeline/terrain"
)

var (
	insertDescent = "INSERT INTO descents(" + strings.Join(descentRecord.names, ", ") + ", more, geom, heaviest_class, heaviest_rank, heaviest_speed_mps, gone_since, route_fid, provenance_fid) VALUES (" + marks(len(descentRecord.names)+8) + ")"
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

func (s *Survey) applyStep(p *plan, st *step, at string) error {
	e := st.entry
	var samples []byte
	if p.rs.from != nil {
		samples = p.rs.from.samples[st.index]
	}
	if p.rs.Profile != nil && st.do != keep {
		if stretch := stretchOf(p.rs.Profile, &e.Descent); stretch != nil {
			var err error
			if samples, err = stretch.pack(); err != nil {
				return err
			}
		}
	}
	what, words := "updated", "surveyed again"
	switch st.do {
	case keep:
		return s.c.withdraw(st.old.fid, st.id, p.rs.Route.ID, s.o.By)
	case propose:
		return s.propose(p, st, samples, at)
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
	if err := s.writeEntry(st, p, samples); err != nil {
		return err
	}
	return s.c.log(what, s.o.By, st.id, p.rs.Route.ID, words)
}

// writeEntry writes a descent with its holds, profile and provenance.
func (s *Survey) writeEntry(st *step, p *plan, samples []byte) error {
	e := st.entry
	origin, err := s.origin(&e.Provenance)
	if err != nil {
		return err
	}
	args, err := descentRecord.bind(reflect.ValueOf(e.Descent), make([]any, 0, 64))
	if err != nil {
		return err
	}
	geom, err := lineBlob(e.Line)
	if err != nil {
		return err
	}
	class, rank, speedMPS := heaviest(e.Holds)
	var gone any
	if f := p.rs.from; f != nil && f.gone[st.index] != "" {
		gone = f.gone[st.index]
	}
	args = append(args, geom, class, rank, speedMPS, gone, p.routeFID, origin)
	var fid int64
	if st.old == nil {
		res, err := s.c.exec(insertDescent, args...)
		if err != nil {
			return err
		}
		if fid, err = res.LastInsertId(); err != nil {
			return err
		}
	} else {
		fid = st.old.fid
		if _, err := s.c.exec(updateDescent, append(args, fid)...); err != nil {
			return err
		}
		for _, q := range []string{"DELETE FROM holds WHERE descent_fid = ?", "DELETE FROM profiles WHERE descent_fid = ?"} {
			if _, err := s.c.exec(q, fid); err != nil {
				return err
			}
		}
	}
	b := boxOf(e.Line)
	s.extent.add(b.minX, b.minY)
	s.extent.add(b.maxX, b.maxY)
	s.bytes += len(geom) + len(samples) + 1024
	for i := range e.Holds {
		if args, err = holdRecord.bind(reflect.ValueOf(e.Holds[i]), args[:0]); err != nil {
			return err
		}
		s.bytes += 256 + len(args[len(args)-1].(string))
		var classFID any
		sha := p.classNow[e.Holds[i].Class]
		if f := p.rs.from; f != nil {
			sha = f.classes[st.index][e.Holds[i].Class]
		}
		if k := s.classes[e.Holds[i].Class+sha]; k != 0 {
			classFID = k
		}
		if _, err := s.c.exec(insertHold, append(args, fid, i, classFID)...); err != nil {
			return err
		}
	}
	if len(samples) > 0 {
		if _, err := s.c.exec("INSERT INTO profiles(descent_fid, samples) VALUES (?, ?)", fid, samples); err != nil {
			return err
		}
	}
	if st.old == nil && e.Review != (catalog.Review{State: catalog.Surveyed}) {
		return s.c.writeReview(st.id, &e.Review)
	}
	return nil
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
	found, err := one(s.c, []any{&fid}, "SELECT fid FROM provenance WHERE details = ?", details)
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
		sha := fingerprint(k.Definition)
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

// writeRoute writes the route's row, its sources and tangents.
func (s *Survey) writeRoute(p *plan, at string) error {
	r := &p.rs.Route
	args := []any{r.ID, p.slug, r.Name, r.Ref, r.LengthM, r.Stations, r.MissingM, r.Reliable, r.Unreliable, r.LineSHA256, at, s.o.By}
	const columns = "route, slug, name, ref, length_m, stations, missing_m, reliable, unreliable, line_sha256, surveyed_at, surveyed_by"
	if p.routeFID == 0 {
		res, err := s.c.exec("INSERT INTO routes("+columns+") VALUES ("+marks(12)+")", args...)
		if err != nil {
			return err
		}
		if p.routeFID, err = res.LastInsertId(); err != nil {
			return err
		}
	} else {
		if _, err := s.c.exec("UPDATE routes SET ("+columns+") = ("+marks(12)+") WHERE fid = ?", append(args, p.routeFID)...); err != nil {
			return err
		}
		for _, q := range []string{"DELETE FROM sources WHERE route_fid = ?", "DELETE FROM tangents WHERE route_fid = ?"} {
			if _, err := s.c.exec(q, p.routeFID); err != nil {
				return err
			}
		}
	}
	for i, src := range p.rs.Sources {
		kind := "raster"
		if p.rs.from != nil {
			kind = p.rs.from.kinds[i]
		}
		if err := s.writeSource(p.routeFID, kind, src); err != nil {
			return err
		}
	}
	if f := p.rs.Provenance.RouteFile; f != "" {
		if err := s.writeSource(p.routeFID, "route file", terrain.Source{Name: f, Fingerprint: r.LineSHA256}); err != nil {
			return err
		}
	}
	for _, t := range p.rs.Tangents {
		if _, err := s.c.exec("INSERT INTO tangents(route_fid, from_m, to_m, grade_pct, grade_err_pct) VALUES (?, ?, ?, ?, ?)", p.routeFID, t.FromM, t.ToM, t.GradePct, t.GradeErrPct); err != nil {
			return err
		}
	}
	return nil
}

func (s *Survey) writeSource(route int64, kind string, src terrain.Source) error {
	_, err := s.c.exec("INSERT INTO sources(route_fid, kind, name, crs, vertical_datum, vertical_unit, vertical_unit_from, cell_m, bytes, sha256, driver, cols, rows) VALUES ("+marks(13)+")",
		route, kind, src.Name, src.CRS, src.VertDatum, src.VertUnit.String(), src.VertUnitFrom, src.CellM, src.Bytes, src.Fingerprint, src.Driver, src.Cols, src.Rows)
	return err
}
