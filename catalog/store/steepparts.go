package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"reflect"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/routes"
	"gradeline/terrain"
)

// SteepParts are the steep parts of roads outside any descent that a filter chooses.
type SteepParts struct {
	Parts []catalog.SteepPart // steepest first
	// PossibleM is the length of other road that may be as steep within its bound.
	PossibleM float64
	// PossibleByRoadM is PossibleM by road.
	PossibleByRoadM map[string]float64
	// Unknown are the roads that were surveyed before steep parts were kept.
	Unknown []string
}

var (
	partRecord  = gpkg.NewRecord(reflect.TypeFor[routes.SteepPart](), "steep_parts")
	partColumns = strings.Join(partRecord.Names, ", ") + ", route, geom, route_fid, provenance_fid, name, seal"
	insertPart  = "INSERT INTO steep_parts(" + partColumns + ", fid) VALUES (" + gpkg.Placeholders(len(partRecord.Names)+7) + ")"
	partQuery   = "SELECT " + partColumns + " FROM steep_parts"
)

// sealedPart is the number of partColumns that the check sum covers: all but the name, which people
// may edit, and the sum.
func sealedPart() int { return len(partRecord.Names) + 4 }

// checkSteepParts refuses parts that the catalogue could not give back as they were.
func checkSteepParts(rs *RouteSurvey) error {
	for i := range rs.SteepParts {
		if err := gpkg.CheckSound(reflect.ValueOf(&rs.SteepParts[i]), "steep part"); err != nil {
			return err
		}
		if err := gpkg.CheckLine(rs.SteepParts[i].Line); err != nil {
			return err
		}
	}
	if rs.PossibleSteepM == nil {
		return nil
	}
	return gpkg.CheckSound(reflect.ValueOf(*rs.PossibleSteepM), "possible_steep_m")
}

// writeSteepParts writes the steep parts of a route's survey; those of the survey before are out.
func (s *Survey) writeSteepParts(p *plan) error {
	for i := range p.Survey.SteepParts {
		part := &p.Survey.SteepParts[i]
		line := part.Line
		if p.from == nil { // a copied line is thinned out already
			line = drawn(line)
		}
		if err := s.writeSteepPart(part, steepPlace{p.Survey.Route.ID, p.routeFID}, line); err != nil {
			return err
		}
	}
	return nil
}

// steepPlace is the road of a steep part in the file.
type steepPlace struct {
	route string
	fid   int64
}

// writeSteepPart adds a steep part with the line that is kept of it.
func (s *Survey) writeSteepPart(part *catalog.SteepPart, on steepPlace, line []catalog.Vertex) error {
	origin, err := s.origin(&part.Provenance)
	if err != nil {
		return err
	}
	fid, err := s.next("steep_parts", &s.lastPart)
	if err != nil {
		return err
	}
	geom, box := gpkg.AppendLine(nil, line)
	kept := part.SteepPart
	if kept.Flags == nil {
		kept.Flags = []string{}
	}
	args, err := partRecord.BindColumns(reflect.ValueOf(&kept).Elem(), s.c.file.Direct().Args())
	if err != nil {
		return err
	}
	args = args.Add(on.route, geom, on.fid, origin)
	values := make([]driver.Value, 0, len(args))
	for _, v := range args {
		values = append(values, v.Value)
	}
	args = args.Add(part.Name, gpkg.Seal(values, ""), fid)
	s.steepExtent.Add(box.MinX, box.MinY)
	s.steepExtent.Add(box.MaxX, box.MaxY)
	s.bytes += len(geom) + 256
	return s.c.file.InsertIndexed("steep_parts", insertPart, args, fid, box)
}

// steepPartsOf reads the steep parts of one route; possibleM is nil where its survey did not look
// for them.
func steepPartsOf(q gpkg.Querier, routeFID int64) (parts []catalog.SteepPart, possibleM *float64, err error) {
	if !q.HasSteepParts() {
		return nil, nil, nil
	}
	if err := gpkg.CheckRows(q, "routes"); err != nil {
		return nil, nil, err
	}
	var possible sql.NullFloat64
	if _, err := gpkg.First(q, []any{&possible}, "SELECT possible_steep_m FROM routes WHERE fid = ?", routeFID); err != nil {
		return nil, nil, err
	}
	if err := checkPossibleM(possible); err != nil {
		return nil, nil, err
	}
	if possible.Valid {
		possibleM = &possible.Float64
	}
	parts, err = readParts(q, "WHERE route_fid = ? ORDER BY fid", routeFID)
	return parts, possibleM, err
}

// checkPossibleM refuses an edited length: a negative one would hide that of other roads.
func checkPossibleM(m sql.NullFloat64) error {
	if m.Valid && !(m.Float64 >= 0) {
		return &Fault{Kind: terrain.ErrRead, Feature: "table routes", What: fmt.Sprintf("possible_steep_m of %g m is no length", m.Float64), Fix: "survey the road again, or restore the last copy"}
	}
	return nil
}

// readParts reads the steep parts that the end of a query chooses.
func readParts(q gpkg.Querier, which string, args ...driver.Value) ([]catalog.SteepPart, error) {
	var out []catalog.SteepPart
	var origins []int64
	d := q.Direct()
	err := d.Each(partQuery+" "+which, d.Args().Add(args...), func(row []driver.Value) error {
		p, err := partFrom(row)
		if err != nil {
			return err
		}
		origin, _ := row[sealedPart()-1].(int64)
		out, origins = append(out, p), append(origins, origin)
		return nil
	})
	l := loader{q: q}
	for i := range out {
		if err == nil {
			out[i].Provenance, err = l.provenanceOf(origins[i])
		}
	}
	return out, err
}

// partFrom is a row of partColumns.
func partFrom(row []driver.Value) (p catalog.SteepPart, err error) {
	n := len(partRecord.Names)
	if err = partRecord.Fill(reflect.ValueOf(&p.SteepPart).Elem(), row[:n]); err != nil {
		return p, err
	}
	p.Route, p.Name = string(gpkg.BytesOf(row[n])), string(gpkg.BytesOf(row[n+4]))
	if err = gpkg.CheckOwnSeal(row[n+5], row[:sealedPart()], ""); err == nil {
		p.Line, err = gpkg.ParseLine(gpkg.BytesOf(row[n+1]))
	}
	var f *Fault
	if errors.As(err, &f) && f.Feature == "" {
		f.Feature = fmt.Sprintf("steep part of route %q at %.0f m", p.Route, p.StartM)
	}
	return p, err
}

// isForDescents reports whether a filter asks for what only a descent can have.
func (f *Filter) isForDescents() bool {
	return f.NotHeldBy != "" || f.State != "" || f.InQuestion || f.Gone || f.IDs != nil
}

// SteepParts returns the steep parts outside any descent that a filter chooses: by route,
// direction, place, size and flag. A filter on what only a descent can have chooses none.
func (c *Catalog) SteepParts(ctx context.Context, f Filter) (SteepParts, error) {
	out := SteepParts{Parts: []catalog.SteepPart{}, PossibleByRoadM: map[string]float64{}, Unknown: []string{}}
	if f.isForDescents() {
		return out, nil
	}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		layer := ""
		if q.HasSteepParts() && f.BBox != nil {
			layer = "steep_parts"
		}
		err := gpkg.CheckIndexes(q, layer)
		if err == nil {
			err = gpkg.CheckRows(q, "routes")
		}
		if err != nil {
			return c.inFile(err)
		}
		if err := out.readRoutes(q, &f); err != nil || !q.HasSteepParts() {
			return c.inFile(err)
		}
		which, args := f.partsSQL()
		parts, err := readParts(q, which, args...)
		for i := range parts {
			if f.BBox == nil || f.BBox.meets(parts[i].Line) {
				out.Parts = append(out.Parts, parts[i])
			}
		}
		return c.inFile(err)
	})
	if f.Limit > 0 && len(out.Parts) > f.Limit {
		out.Parts = out.Parts[:f.Limit]
	}
	return out, err
}

// readRoutes sums up the roads of the filter. A road is not tied to a place: one box chooses all.
func (s *SteepParts) readRoutes(q gpkg.Querier, f *Filter) error {
	column := "possible_steep_m"
	if !q.HasSteepParts() {
		column = "NULL"
	}
	return gpkg.Each(q, func(rows *sql.Rows) error {
		var route string
		var possible sql.NullFloat64
		if err := rows.Scan(&route, &possible); err != nil {
			return err
		}
		if err := checkPossibleM(possible); err != nil {
			return err
		}
		if !possible.Valid {
			s.Unknown = append(s.Unknown, route)
			return nil
		}
		s.PossibleM += possible.Float64
		s.PossibleByRoadM[route] = possible.Float64
		return nil
	}, "SELECT route, "+column+" FROM routes WHERE ?1 = '' OR ?1 IN (route, slug, name, ref) ORDER BY route", f.Route)
}

// partsSQL is the end of the query for the steep parts of a filter, the steepest first.
func (f *Filter) partsSQL() (string, []driver.Value) {
	where, args := []string{"1"}, []driver.Value{}
	add := func(cond string, v ...driver.Value) {
		where, args = append(where, cond), append(args, v...)
	}
	if f.Route != "" {
		add("route_fid IN (SELECT fid FROM routes WHERE ? IN (route, slug, name, ref))", f.Route)
	}
	if f.Direction != nil {
		add("direction = ?", f.Direction.String())
	}
	if f.BBox != nil {
		var boxes []string
		for _, b := range f.BBox.halves() {
			boxes = append(boxes, "minx <= ? AND maxx >= ? AND miny <= ? AND maxy >= ?")
			args = append(args, b.MaxX, b.MinX, b.MaxY, b.MinY)
		}
		where = append(where, "fid IN (SELECT id FROM rtree_steep_parts_geom WHERE ("+strings.Join(boxes, ") OR (")+"))")
	}
	atLeast := func(column string, least float64) {
		if least > 0 {
			add(column+" >= ?", least)
		}
	}
	atLeast("length_m", f.MinLengthM)
	atLeast("length_m * mean_downgrade_pct / 100", f.MinDropM)
	atLeast("mean_downgrade_pct", f.MinMeanDowngradePct)
	if f.Flag != "" {
		add("EXISTS (SELECT 1 FROM json_each(flags) j WHERE j.value = ?)", f.Flag)
	}
	return "WHERE " + strings.Join(where, " AND ") + " ORDER BY mean_downgrade_pct DESC, route, direction, start_m", args
}

// examineSteepParts reads every steep part: a damaged row does not match its check sum.
func examineSteepParts(x *gpkg.Examination) error {
	if !x.HasSteepParts() {
		return nil
	}
	var fids []int64
	if err := gpkg.Keys(x, &fids, "SELECT fid FROM steep_parts ORDER BY fid"); err != nil {
		return err
	}
	for _, fid := range fids {
		_, err := readParts(x, "WHERE fid = ?", fid)
		var f *Fault
		if errors.As(err, &f) {
			x.Add(gpkg.Defect{Check: gpkg.CheckFigures, Where: fmt.Sprintf("steep_parts, row %d", fid), What: f.What, Fix: f.Fix})
			continue
		}
		if err != nil {
			return err
		}
	}
	return nil
}
