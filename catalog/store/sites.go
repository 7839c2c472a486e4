package store

import (
	"context"
	"database/sql"
	"fmt"
	"reflect"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/routes"
	"gradeline/terrain"
)

// SiteFilter says which sites are wanted; its zero value is all.
type SiteFilter struct {
	Kind      catalog.SiteKind
	Route     string
	Direction *routes.Direction // sites that serve this travel, or both
	FromM     float64           // with Route and ToM > 0: stations between the two
	ToM       float64
	BBox      *Box
}

// AddSites puts sites in, or replaces those of the same id, in one change, and
// returns them with their ids. A site without an id gets one from its kind and
// route or name.
func (c *Catalog) AddSites(ctx context.Context, sites []catalog.Site, by string) ([]catalog.Site, error) {
	out := append([]catalog.Site{}, sites...)
	for i := range out {
		if err := checkSite(&out[i]); err != nil {
			return nil, err
		}
	}
	err := c.file.Change(ctx, func() error {
		extent := gpkg.EmptyEnvelope()
		for i := range out {
			if err := c.writeSite(&out[i], by); err != nil {
				return err
			}
			extent.Add(out[i].Point.LonDeg, out[i].Point.LatDeg)
		}
		if len(out) == 0 {
			return nil
		}
		if err := c.file.WidenExtent("sites", extent); err != nil {
			return err
		}
		return c.file.Touch("sites", "history")
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

func checkSite(s *catalog.Site) error {
	where := fmt.Sprintf("site %q", s.ID+s.Name)
	known := false
	for _, k := range catalog.SiteKinds() {
		known = known || k == s.Kind
	}
	switch {
	case !known:
		return &Fault{Kind: terrain.ErrInput, Feature: where, What: fmt.Sprintf("%q is not a kind of site", s.Kind), Fix: "use brake-check, escape-ramp, chain-up, pullout or sign"}
	case !s.Point.Valid():
		return &Fault{Kind: terrain.ErrInput, Feature: where, Point: &s.Point, What: "outside ±180 and ±90 degrees", Fix: "check whether longitude and latitude are swapped"}
	case s.Side != "" && s.Side != "left" && s.Side != "right":
		return &Fault{Kind: terrain.ErrInput, Feature: where, What: fmt.Sprintf("%q is not a side", s.Side), Fix: "use left or right, as seen in travel"}
	case s.Direction != "" && s.Direction != "forward" && s.Direction != "backward":
		return &Fault{Kind: terrain.ErrInput, Feature: where, What: fmt.Sprintf("%q is not a direction", s.Direction), Fix: "use forward or backward, or leave it empty for both"}
	case s.ID != "" && resurvey.Slug(s.ID) == "":
		return &Fault{Kind: terrain.ErrInput, Feature: where, What: "an id without a letter or digit", Fix: "leave it empty to get one"}
	}
	return gpkg.CheckSound(reflect.ValueOf(*s), where)
}

// writeSite inserts or updates; never INSERT OR REPLACE, which would pass the
// R-tree's triggers by.
func (c *Catalog) writeSite(s *catalog.Site, by string) error {
	var fid int64
	known := false
	if s.ID != "" {
		var err error
		if known, err = gpkg.First(c.file, []any{&fid}, "SELECT fid FROM sites WHERE id = ?", s.ID); err != nil {
			return err
		}
	} else {
		base := string(s.Kind)
		for _, x := range []string{s.Route, s.Name} {
			if slug := resurvey.Slug(x); slug != "" {
				base += "-" + slug
				break
			}
		}
		if s.StationM != nil {
			base += fmt.Sprintf("-%.1f", *s.StationM/1000)
		}
		id, err := resurvey.FirstFree(base, "-", func(id string) (bool, error) {
			var x int
			return gpkg.First(c.file, []any{&x}, "SELECT 1 FROM sites WHERE id = ?", id)
		})
		if err != nil {
			return err
		}
		s.ID = id
	}
	var err error
	if err := c.file.MarkOwnChange(true); err != nil {
		return err
	}
	var station any
	if s.StationM != nil {
		station = *s.StationM
	}
	args := []any{gpkg.PointBlob(s.Point), s.ID, string(s.Kind), s.Name, s.Route, station, s.Side, s.Direction, s.Code, s.Legend, s.Note, s.Source}
	const columns = "geom, id, kind, name, route, station_m, side, direction, code, legend, note, source"
	what := "site added"
	if known {
		what = "site changed"
		_, err = c.file.Exec("UPDATE sites SET ("+columns+") = ("+gpkg.Placeholders(12)+") WHERE fid = ?", append(args, fid)...)
	} else {
		_, err = c.file.Exec("INSERT INTO sites("+columns+") VALUES ("+gpkg.Placeholders(12)+")", args...)
	}
	if err == nil {
		err = c.file.SealRows("sites", "WHERE id = ?", s.ID)
	}
	if err == nil {
		err = c.file.MarkOwnChange(false)
	}
	if err != nil {
		return err
	}
	return c.file.LogHistory(what, by, "", s.Route, s.ID)
}

// RemoveSite takes one site out.
func (c *Catalog) RemoveSite(ctx context.Context, id, by, why string) error {
	if by == "" {
		return &Fault{Kind: terrain.ErrInput, What: "a removal without a name", Fix: "name the person who removes the site"}
	}
	return c.file.Change(ctx, func() error {
		if err := c.file.MarkOwnChange(true); err != nil {
			return err
		}
		res, err := c.file.Exec("DELETE FROM sites WHERE id = ?", id)
		if err == nil {
			err = c.file.MarkOwnChange(false)
		}
		if err != nil {
			return err
		}
		if n, err := res.RowsAffected(); err != nil || n == 0 {
			if err == nil {
				err = &Fault{Kind: catalog.ErrNotFound, File: c.file.Path(), What: fmt.Sprintf("no site %q", id), Fix: "check its id in the sites layer"}
			}
			return err
		}
		if err := c.file.Touch("sites", "history"); err != nil {
			return err
		}
		return c.file.LogHistory("site removed", by, "", "", strings.TrimSuffix(id+": "+why, ": "))
	})
}

const siteQuery = "SELECT geom, id, kind, name, route, station_m, side, direction, code, legend, note, source FROM sites"

func scanSite(rows *sql.Rows) (s catalog.Site, err error) {
	var geom []byte
	if err := rows.Scan(&geom, &s.ID, &s.Kind, &s.Name, &s.Route, &s.StationM, &s.Side, &s.Direction, &s.Code, &s.Legend, &s.Note, &s.Source); err != nil {
		return s, err
	}
	if s.Point, err = gpkg.ParsePoint(geom); err != nil {
		return s, fmt.Errorf("site %s: %w", s.ID, err)
	}
	return s, nil
}

// Sites lists sites by route, station and id; those not placed come first.
func (c *Catalog) Sites(ctx context.Context, f SiteFilter) ([]catalog.Site, error) {
	var where []string
	var args []any
	add := func(cond string, a ...any) { where, args = append(where, cond), append(args, a...) }
	if f.Kind != "" {
		add("kind = ?", string(f.Kind))
	}
	if f.Route != "" {
		add("route = ?", f.Route)
	}
	if f.Direction != nil {
		add("direction IN ('', ?)", f.Direction.String())
	}
	if f.ToM > 0 {
		add("station_m BETWEEN ? AND ?", f.FromM, f.ToM)
	}
	query := siteQuery
	if len(where) > 0 {
		query += " WHERE " + strings.Join(where, " AND ")
	}
	out := []catalog.Site{}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		if err := gpkg.CheckRows(q, "sites"); err != nil { // a damaged road or station would hide one
			return c.inFile(err)
		}
		return gpkg.Each(q, func(rows *sql.Rows) error {
			s, err := scanSite(rows)
			if err != nil {
				return err
			}
			if f.BBox == nil || f.BBox.holds(s.Point) {
				out = append(out, s)
			}
			return nil
		}, query+" ORDER BY route, station_m, id", args...)
	})
	return out, err
}

func (b *Box) holds(p terrain.Point) bool {
	for _, h := range b.halves() {
		if p.LonDeg >= h.MinX && p.LonDeg <= h.MaxX && p.LatDeg >= h.MinY && p.LatDeg <= h.MaxY {
			return true
		}
	}
	return false
}
