package store

import "gradeline/catalog/gpkg"

import "gradeline/terrain"

const routeColumns = "route, slug, name, ref, length_m, stations, missing_m, reliable, unreliable, line_sha256, surveyed_at, surveyed_by, possible_steep_m"

var (
	insertRoute  = "INSERT INTO routes(" + routeColumns + ", fid) VALUES (" + gpkg.Placeholders(14) + ")"
	updateRoute  = "UPDATE routes SET (" + routeColumns + ") = (" + gpkg.Placeholders(13) + ") WHERE fid = ?"
	insertSource = "INSERT INTO sources(route_fid, kind, name, crs, vertical_datum, vertical_unit, vertical_unit_from, cell_m, bytes, sha256, driver, cols, rows) VALUES (" + gpkg.Placeholders(13) + ")"
)

// writeRoute writes the route's row, its sources and tangents.
func (s *Survey) writeRoute(p *plan, at string) error {
	r := &p.Survey.Route
	var possibleM any
	if m := p.Survey.PossibleSteepM; m != nil {
		possibleM = *m
	}
	row := func(fid int64) gpkg.Args {
		return s.c.file.Direct().Args().Add(r.ID, p.known.Slug, r.Name, r.Ref, r.LengthM, int64(r.Stations), r.MissingM, r.Reliable, r.Unreliable, r.LineSHA256, at, s.o.By, possibleM, fid)
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
		for _, q := range []string{"DELETE FROM sources WHERE route_fid = ?", "DELETE FROM tangents WHERE route_fid = ?"} {
			if _, err := s.c.file.Exec(q, p.routeFID); err != nil {
				return err
			}
		}
	}
	for i, src := range p.Survey.Sources {
		kind := "raster"
		if p.from != nil {
			kind = p.from.kinds[i]
		}
		if err := s.writeSource(p.routeFID, kind, src); err != nil {
			return err
		}
	}
	if f := p.Survey.Provenance.RouteFile; f != "" {
		if err := s.writeSource(p.routeFID, "route file", terrain.Raster{Name: f, Fingerprint: r.LineSHA256}); err != nil {
			return err
		}
	}
	for _, t := range p.Survey.Tangents {
		if err := s.c.file.Direct().Run("INSERT INTO tangents(route_fid, from_m, to_m, grade_pct, grade_err_pct) VALUES (?, ?, ?, ?, ?)", s.c.file.Direct().Args().Add(p.routeFID, t.FromM, t.ToM, t.GradePct, t.GradeErrPct)); err != nil {
			return err
		}
	}
	return s.writeSteepParts(p)
}

func (s *Survey) writeSource(route int64, kind string, src terrain.Raster) error {
	return s.c.file.Direct().Run(insertSource, s.c.file.Direct().Args().Add(route, kind, src.Name, src.CRS, src.VertDatum, src.VertUnit.String(), src.VertUnitFrom, src.CellM, int64(src.Bytes), src.Fingerprint, src.Driver, int64(src.Cols), int64(src.Rows)))
}
