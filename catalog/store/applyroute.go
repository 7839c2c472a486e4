package store

import (
	"database/sql/driver"

	"gradeline/catalog/gpkg"
	"gradeline/terrain"
)

const (
	routeColumns   = "route, slug, name, ref, length_m, stations, missing_m, reliable, unreliable, line_sha256, surveyed_at, surveyed_by, possible_steep_m, parts_seal, seal"
	tangentColumns = 4 // that describe a tangent
	sourceColumns  = 12
)

var (
	insertRoute   = "INSERT INTO routes(" + routeColumns + ", fid) VALUES (" + gpkg.Placeholders(16) + ")"
	updateRoute   = "UPDATE routes SET (" + routeColumns + ") = (" + gpkg.Placeholders(15) + ") WHERE fid = ?"
	insertTangent = "INSERT INTO tangents(from_m, to_m, grade_pct, grade_err_pct, route_fid) VALUES (" + gpkg.Placeholders(tangentColumns+1) + ")"
	insertSource  = "INSERT INTO sources(kind, name, crs, vertical_datum, vertical_unit, vertical_unit_from, cell_m, bytes, sha256, driver, cols, rows, route_fid) VALUES (" + gpkg.Placeholders(sourceColumns+1) + ")"
)

// writeRoute writes the route's row, its sources, tangents and steep parts.
func (s *Survey) writeRoute(p *plan, at string) error {
	r := &p.Survey.Route
	var possibleM any
	if m := p.Survey.PossibleSteepM; m != nil {
		possibleM = *m
	}
	tangents, sources := tangentsOf(p), sourcesOf(p)
	columns := []driver.Value{r.ID, p.known.Slug, r.LengthM, int64(r.Stations), r.MissingM, r.Reliable, r.Unreliable, r.LineSHA256, at, s.o.By, possibleM}
	parts, seal := gpkg.RouteSums(columns, tangents, sources)
	row := func(fid int64) gpkg.Args {
		return s.c.file.Direct().Args().Add(r.ID, p.known.Slug, r.Name, r.Ref, r.LengthM, int64(r.Stations), r.MissingM, r.Reliable, r.Unreliable, r.LineSHA256, at, s.o.By, possibleM, parts, seal, fid)
	}
	if p.routeFID == 0 {
		var err error
		if p.routeFID, err = s.next("routes", &s.lastRoute); err != nil {
			return err
		}
		if err = s.c.file.Direct().Run(insertRoute, row(p.routeFID)); err != nil {
			return err
		}
	} else {
		if err := s.c.file.Direct().Run(updateRoute, row(p.routeFID)); err != nil {
			return err
		}
		for _, q := range []string{"DELETE FROM sources WHERE route_fid = ?", "DELETE FROM tangents WHERE route_fid = ?", "DELETE FROM steep_parts WHERE route_fid = ?"} {
			if err := s.c.file.Direct().Run(q, s.c.file.Direct().Args().Add(p.routeFID)); err != nil {
				return err
			}
		}
	}
	if err := s.insertParts(insertSource, sources, sourceColumns, p.routeFID); err != nil {
		return err
	}
	if err := s.insertParts(insertTangent, tangents, tangentColumns, p.routeFID); err != nil {
		return err
	}
	return s.writeSteepParts(p)
}

// insertParts writes rows of a road that have n columns each.
func (s *Survey) insertParts(insert string, values []driver.Value, n int, routeFID int64) error {
	for ; len(values) >= n; values = values[n:] {
		if err := s.c.file.Direct().Run(insert, s.c.file.Direct().Args().Add(values[:n]...).Add(routeFID)); err != nil {
			return err
		}
	}
	return nil
}

// tangentsOf are the columns of a survey's tangents, row after row.
func tangentsOf(p *plan) []driver.Value {
	out := make([]driver.Value, 0, tangentColumns*len(p.Survey.Tangents))
	for _, t := range p.Survey.Tangents {
		out = append(out, t.FromM, t.ToM, t.GradePct, t.GradeErrPct)
	}
	return out
}

// sourcesOf are the columns of what a survey's road was made from, row after row.
func sourcesOf(p *plan) []driver.Value {
	out := make([]driver.Value, 0, sourceColumns*(len(p.Survey.Sources)+1))
	for i, src := range p.Survey.Sources {
		kind := "raster"
		if p.from != nil {
			kind = p.from.kinds[i]
		}
		out = appendSource(out, kind, &src)
	}
	if f := p.Survey.Provenance.RouteFile; f != "" {
		out = appendSource(out, "route file", &terrain.Raster{Name: f, Fingerprint: p.Survey.Route.LineSHA256})
	}
	return out
}

func appendSource(out []driver.Value, kind string, src *terrain.Raster) []driver.Value {
	return append(out, kind, src.Name, src.CRS, src.VertDatum, src.VertUnit.String(), src.VertUnitFrom, src.CellM, int64(src.Bytes), src.Fingerprint, src.Driver, int64(src.Cols), int64(src.Rows))
}
