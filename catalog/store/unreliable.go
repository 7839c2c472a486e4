package store

import (
	"context"
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"

	"gradeline/catalog/gpkg"
	"gradeline/routes"
)

// MarkUnreliable records that a stretch of a saved route can't be relied on, in the batch's
// transaction: the route is unreliable, its descents and steep parts that reach the stretch carry
// the flag, and reviews of them are in question. It returns the ids of the descents. A second call
// with the same words changes nothing.
func (s *Survey) MarkUnreliable(ctx context.Context, route string, stretch routes.Doubt) ([]string, error) {
	if s.o.DryRun {
		return nil, nil
	}
	if err := s.begin(ctx); err != nil {
		return nil, err
	}
	ids, err := s.markUnreliable(route, stretch)
	if err != nil {
		return nil, s.c.file.Fault(s.fail(err), fmt.Sprintf("marking route %q", route))
	}
	return ids, nil
}

func (s *Survey) markUnreliable(route string, x routes.Doubt) ([]string, error) {
	if err := gpkg.CheckRows(s.c.file, "routes"); err != nil {
		return nil, err
	}
	var routeFID int64
	var known string
	found, err := gpkg.First(s.c.file, []any{&routeFID, &known}, "SELECT fid, unreliable FROM routes WHERE route = ?", route)
	if err != nil || !found {
		return nil, err
	}
	words := fmt.Sprintf("%.0f to %.0f m: %s", x.FromM, x.ToM, x.Why)
	if known != "" && known != words {
		words = known + "; " + words
	}
	if _, err := s.c.file.Exec("UPDATE routes SET reliable = 0, unreliable = ? WHERE fid = ? AND instr(unreliable, ?) = 0", words, routeFID, x.Why); err != nil {
		return nil, err
	}
	if err := s.c.file.SealRows("routes", "WHERE fid = ?", routeFID); err != nil {
		return nil, err
	}
	const reaches = " WHERE route_fid = ? AND min(start_m, end_m) <= ? AND max(start_m, end_m) >= ?"
	ids, err := s.flagDescents(reaches+" AND gone_since IS NULL", x, routeFID, x.ToM, x.FromM)
	if err != nil {
		return nil, err
	}
	return ids, s.flagParts(reaches, routeFID, x.ToM, x.FromM)
}

// MarkRoadUnreliable records in the road network that a stretch of a road can't be relied on, so that
// a way over it is not known. It is the same stretch for a route and its road; their ids may differ.
func (s *Survey) MarkRoadUnreliable(ctx context.Context, road string, stretch routes.Doubt) error {
	if s.o.DryRun {
		return nil
	}
	if err := s.begin(ctx); err != nil {
		return err
	}
	if err := s.markRoad(road, stretch); err != nil {
		return s.c.file.Fault(s.fail(err), fmt.Sprintf("marking road %q", road))
	}
	return nil
}

func (s *Survey) markRoad(road string, x routes.Doubt) error {
	d := s.c.file.Direct()
	var r *NetworkRoad
	err := d.Each(roadColumns+"WHERE road = ?", d.Args().Add(road), func(v []driver.Value) error {
		k, err := networkRoad(v)
		r = &k
		return err
	})
	if err != nil {
		return damagedNetwork("road "+road, err)
	}
	if r == nil || slices.Contains(r.Grade.Doubtful, x) {
		return nil
	}
	r.Grade.Doubtful = append(r.Grade.Doubtful, x)
	row, err := networkRow(r)
	if err != nil {
		return err
	}
	return d.Run("UPDATE network_roads SET more = ?, seal = ? WHERE road = ?", d.Args().Add(row[6], row[7], road))
}

// flagDescents flags the descents that the end of a query chooses.
func (s *Survey) flagDescents(which string, x routes.Doubt, args ...any) ([]string, error) {
	var fids []int64
	if err := gpkg.Keys(s.c.file, &fids, "SELECT fid FROM descents"+which, args...); err != nil {
		return nil, err
	}
	var ids []string
	for _, fid := range fids {
		id, isNew, err := s.flagDescent(fid)
		if err != nil {
			return nil, err
		}
		ids = append(ids, id)
		if !isNew {
			continue
		}
		if err := s.c.question(id, s.o.By, x.Why); err != nil {
			return nil, err
		}
		if err := s.c.file.LogHistory("unreliable", s.o.By, id, "", x.Why); err != nil {
			return nil, err
		}
	}
	return ids, nil
}

// flagDescent flags one descent, under a new check sum; isNew is false where it has the flag.
func (s *Survey) flagDescent(fid int64) (id string, isNew bool, err error) {
	d := s.c.file.Direct()
	var row []driver.Value
	if err := d.Each(descentQuery, d.Args().Add(fid), func(r []driver.Value) error { row = slices.Clone(r); return nil }); err != nil {
		return "", false, err
	}
	n := len(descentRecord.Names) + 1
	var kept routes.Descent
	if err := descentRecord.Fill(reflect.ValueOf(&kept).Elem(), row[:n]); err != nil {
		return "", false, err
	}
	values := func() []driver.Value {
		more := []driver.Value{row[n], row[n+3], row[n+1]}
		if row[n+5] != nil { // not of a version that kept every vertex in the geometry
			more = append(more, row[n+5])
		}
		return sealed(row[:n-1], more...)
	}
	details := string(gpkg.BytesOf(row[n-1]))
	if err := gpkg.CheckSeal(row[n+4], values(), details); err != nil || kept.HasFlag(routes.FlagUnreliable) {
		return kept.ID, false, err
	}
	text, err := json.Marshal(append(kept.Flags, routes.FlagUnreliable))
	if err != nil {
		return kept.ID, false, err
	}
	flags := string(text)
	row[slices.Index(descentRecord.Names, "flags")] = flags
	return kept.ID, true, d.Run("UPDATE descents SET flags = ?, seal = ? WHERE fid = ?", d.Args().Add(flags, gpkg.Seal(values(), details), fid))
}

// flagParts flags the steep parts that the end of a query chooses, by writing them again.
func (s *Survey) flagParts(which string, routeFID int64, args ...driver.Value) error {
	parts, err := readParts(s.c.file, which+" ORDER BY fid", append([]driver.Value{routeFID}, args...)...)
	if err != nil {
		return err
	}
	d := s.c.file.Direct()
	for i := range parts {
		p := &parts[i]
		if p.HasFlag(routes.FlagUnreliable) {
			continue
		}
		if err := d.Run("DELETE FROM steep_parts WHERE route_fid = ? AND direction = ? AND start_m = ?", d.Args().Add(routeFID, p.Direction.String(), p.StartM)); err != nil {
			return err
		}
		p.Flags = append(p.Flags, routes.FlagUnreliable)
		if err := s.writeSteepPart(p, steepPlace{p.Route, routeFID}, p.Line); err != nil {
			return err
		}
	}
	return nil
}
