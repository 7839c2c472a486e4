package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"sort"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
)

// Doctor looks for damage, orphans, stale indexes, extents and figures, and
// broken references. It writes nothing.
func (c *Catalog) Doctor(ctx context.Context) ([]Defect, error) {
	return c.file.Examine(ctx, examineHeaviest, examineReviews, examineFigures, examineSteepParts, examineDrives, examineNetwork)
}

// Repair repairs what can be proved from the rest of the file, in one change, and returns all
// findings. It never changes what people recorded.
func (c *Catalog) Repair(ctx context.Context, by string) ([]Defect, error) {
	return c.file.Repair(ctx, by, examineHeaviest, examineReviews, examineFigures, examineSteepParts, examineDrives, examineNetwork)
}

// examineHeaviest checks the figures that decide the order of lists against the holds.
func examineHeaviest(x *gpkg.Examination) error {
	type row struct {
		id, class string
		rank      int
		speedMPS  float64
		holds     []catalog.Hold
	}
	all := map[int64]*row{}
	err := gpkg.Each(x, func(rows *sql.Rows) error {
		var fid int64
		r := &row{}
		err := rows.Scan(&fid, &r.id, &r.class, &r.rank, &r.speedMPS)
		all[fid] = r
		return err
	}, "SELECT fid, id, heaviest_class, heaviest_rank, heaviest_speed_mps FROM descents")
	if err != nil {
		return err
	}
	err = gpkg.Each(x, func(rows *sql.Rows) error {
		var fid int64
		var h catalog.Hold
		if err := rows.Scan(&fid, &h.Class, &h.MassKg, &h.Holds, &h.SpeedMPS); err != nil {
			return err
		}
		if r := all[fid]; r != nil {
			r.holds = append(r.holds, h)
		}
		return nil
	}, "SELECT descent_fid, class, mass_kg, holds, speed_mps FROM holds ORDER BY descent_fid, position")
	if err != nil {
		return err
	}
	fids := make([]int64, 0, len(all))
	for fid := range all {
		fids = append(fids, fid)
	}
	sort.Slice(fids, func(i, j int) bool { return fids[i] < fids[j] })
	for _, fid := range fids {
		r := all[fid]
		class, rank, speedMPS := heaviest(r.holds)
		if class == r.class && rank == r.rank && speedMPS == r.speedMPS {
			continue
		}
		x.Add(Defect{Check: "order of danger", Where: "descents, " + r.id, What: "does not follow from its holds", Fix: "repair works it out again", Repair: func(f *gpkg.File) error {
			_, err := f.Exec("UPDATE descents SET heaviest_class = ?, heaviest_rank = ?, heaviest_speed_mps = ? WHERE fid = ?", class, rank, speedMPS, fid)
			return err
		}})
	}
	return nil
}

// examineReviews checks values that may have been typed by hand.
func examineReviews(x *gpkg.Examination) error {
	return gpkg.Each(x, func(rows *sql.Rows) error {
		var id, at, by, state string
		if err := rows.Scan(&id, &at, &by, &state); err != nil {
			return err
		}
		t, _ := gpkg.ParseMoment(at)
		switch {
		case at != "" && (t.IsZero() || gpkg.Stamp(t) != at):
			x.Add(Defect{Check: "reviews", Where: id, What: fmt.Sprintf("date %q is not written as 2026-03-04T05:06:07.000Z", at), Fix: "write it so, or record the review again"})
		case state == string(catalog.Approved) && by == "":
			x.Add(Defect{Check: "reviews", Where: id, What: "approved by nobody", Fix: "record the review again with a name"})
		}
		return nil
	}, "SELECT descent, coalesce(reviewed_at, ''), reviewed_by, state FROM reviews ORDER BY descent")
}

// examineFigures reads every descent with its dependent rows. Data that is damaged, or was changed
// by another program, does not match its check sum.
func examineFigures(x *gpkg.Examination) error {
	var fids []int64
	if err := gpkg.Keys(x, &fids, "SELECT fid FROM descents ORDER BY fid"); err != nil {
		return err
	}
	l := loader{q: x}
	for _, fid := range fids {
		e, _, err := l.entry(fid)
		var samples []byte
		if err == nil {
			_, err = gpkg.First(x, []any{&samples}, "SELECT samples FROM profiles WHERE descent_fid = ?", fid)
		}
		if err == nil && len(samples) > 0 {
			_, err = unpackProfile(samples)
		}
		var f *Fault
		if errors.As(err, &f) {
			x.Add(gpkg.Defect{Check: gpkg.CheckFigures, Where: "descents, " + e.Descent.ID, What: f.What, Fix: f.Fix})
			continue
		}
		if err != nil {
			return err
		}
	}
	return nil
}
