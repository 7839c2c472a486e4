package store

import (
	"database/sql"

	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/terrain"
)

// routeSurvey reads one road of the source with its dependent rows.
func (m *merger) routeSurvey(fid int64) (*RouteSurvey, *carried, error) {
	rs, from := &RouteSurvey{}, &carried{}
	r := &rs.Route
	if _, err := gpkg.First(m.src, []any{&r.ID, &r.Name, &r.Ref, &r.LengthM, &r.Stations, &r.MissingM, &r.Reliable, &r.Unreliable, &r.LineSHA256, &from.slug},
		"SELECT route, name, ref, length_m, stations, missing_m, reliable, unreliable, line_sha256, slug FROM routes WHERE fid = ?", fid); err != nil {
		return nil, nil, err
	}
	byFID, err := m.classesUsed(rs, fid)
	if err != nil {
		return nil, nil, err
	}
	if err := m.tangentsAndSources(rs, from, fid); err != nil {
		return nil, nil, err
	}
	if rs.SteepParts, rs.PossibleSteepM, err = steepPartsOf(m.src, fid); err != nil {
		return nil, nil, err
	}
	var fids []int64
	if err := gpkg.Keys(m.src, &fids, "SELECT fid FROM descents WHERE route_fid = ? ORDER BY fid", fid); err != nil {
		return nil, nil, err
	}
	l := loader{q: m.src, classSHA256: map[int64]string{}}
	for key, k := range byFID {
		l.classSHA256[key] = resurvey.Fingerprint(k.Definition)
	}
	for _, d := range fids {
		e, _, err := l.entry(d)
		if err != nil {
			return nil, nil, err
		}
		if e.GoneSince != "" {
			// Reading adds to the review that the descent is gone. The merge needs the stored words.
			if _, err := gpkg.First(m.src, []any{&e.Review.InQuestion}, "SELECT coalesce((SELECT in_question FROM reviews WHERE descent = ?), '')", e.Descent.ID); err != nil {
				return nil, nil, err
			}
		}
		var samples []byte
		if _, err := gpkg.First(m.src, []any{&samples}, "SELECT samples FROM profiles WHERE descent_fid = ?", d); err != nil {
			return nil, nil, err
		}
		rs.Entries = append(rs.Entries, e.Entry)
		from.samples = append(from.samples, samples)
		from.gone = append(from.gone, e.GoneSince)
		from.classes = append(from.classes, e.ClassSHA256)
	}
	if len(rs.Entries) > 0 {
		rs.Provenance = rs.Entries[0].Provenance
		rs.Provenance.RouteFile = "" // its source row was already copied
	}
	return rs, from, nil
}

// classesUsed reads the classes of the holds on a road, and returns them by their keys.
func (m *merger) classesUsed(rs *RouteSurvey, fid int64) (map[int64]ClassUsed, error) {
	byFID := map[int64]ClassUsed{}
	err := gpkg.Each(m.src, func(rows *sql.Rows) error {
		var k ClassUsed
		var class int64
		err := rows.Scan(&class, &k.ID, &k.Definition)
		byFID[class] = k
		return err
	}, "SELECT fid, class, definition FROM classes WHERE fid IN (SELECT h.class_fid FROM holds h JOIN descents d ON d.fid = h.descent_fid WHERE d.route_fid = ?)", fid)
	if err != nil {
		return nil, err
	}
	var classes []int64
	if err := gpkg.Keys(m.src, &classes, "SELECT fid FROM classes ORDER BY fid"); err != nil {
		return nil, err
	}
	for _, class := range classes {
		if k, ok := byFID[class]; ok {
			rs.ClassesUsed = append(rs.ClassesUsed, k)
		}
	}
	return byFID, nil
}

func (m *merger) tangentsAndSources(rs *RouteSurvey, from *carried, fid int64) error {
	err := gpkg.Each(m.src, func(rows *sql.Rows) error {
		var t Tangent
		err := rows.Scan(&t.FromM, &t.ToM, &t.GradePct, &t.GradeErrPct)
		rs.Tangents = append(rs.Tangents, t)
		return err
	}, "SELECT from_m, to_m, grade_pct, grade_err_pct FROM tangents WHERE route_fid = ? ORDER BY fid", fid)
	if err != nil {
		return err
	}
	return gpkg.Each(m.src, func(rows *sql.Rows) error {
		var s terrain.Raster
		var kind, unit string
		if err := rows.Scan(&kind, &s.Name, &s.CRS, &s.VertDatum, &unit, &s.VertUnitFrom, &s.CellM, &s.Bytes, &s.Fingerprint, &s.Driver, &s.Cols, &s.Rows); err != nil {
			return err
		}
		if u, err := terrain.ParseVerticalUnit(unit); err == nil {
			s.VertUnit = u
		}
		from.kinds = append(from.kinds, kind)
		rs.Sources = append(rs.Sources, s)
		return nil
	}, "SELECT kind, name, crs, vertical_datum, vertical_unit, vertical_unit_from, cell_m, bytes, sha256, driver, cols, rows FROM sources WHERE route_fid = ? ORDER BY fid", fid)
}
