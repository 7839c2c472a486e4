package store

import (
	"cmp"
	"context"
	"crypto/rand"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"maps"
	"math/big"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/routes"
	"gradeline/terrain"
)

const driveColumns = "drive, route, direction, from_m, to_m, fixes, label, packed, seal"

// The least and the greatest number of a drive.
const (
	leastDriveNumber = 10_000_000
	mostDriveNumber  = 99_999_999
)

// AddDrives stores the passes of drives in one change. Passes of one drive have the same Number on
// entry; they get a number of the catalogue. A pass that is already kept is not stored again, and
// its drive keeps the number that it has. It returns the passes with their numbers, and which of
// them are new.
func (c *Catalog) AddDrives(ctx context.Context, passes []catalog.DrivePass, by string) (kept []catalog.DrivePass, isNew []bool, err error) {
	kept, isNew = slices.Clone(passes), make([]bool, len(passes))
	rows := make([][]driver.Value, len(passes))
	for i := range kept {
		if rows[i], err = driveRow(&kept[i]); err != nil {
			return nil, nil, err
		}
	}
	err = c.file.Change(ctx, func() error {
		numbers, had := map[int64]int64{}, make([]bool, len(kept))
		for i := range kept {
			n, found, err := findDrivePass(c.file, rows[i])
			if err != nil {
				return err
			}
			if had[i] = found; found {
				numbers[kept[i].Number] = n
			}
		}
		added := map[int64]int{}
		for i := range kept {
			p := &kept[i]
			n, ok := numbers[p.Number]
			if !ok {
				if n, err = c.newDriveNumber(); err != nil {
					return err
				}
				numbers[p.Number] = n
			}
			p.Number, p.Count = n, len(p.Fixes)
			if isNew[i] = !had[i]; had[i] {
				continue
			}
			if err := c.writeDrivePass(p, rows[i]); err != nil {
				return err
			}
			added[n]++
		}
		return c.logDrives("drive kept", by, added)
	})
	if err != nil {
		return nil, nil, err
	}
	return kept, isNew, nil
}

// logDrives adds to the history how many passes of each drive were stored; inside a change.
func (c *Catalog) logDrives(what, by string, added map[int64]int) error {
	if len(added) == 0 {
		return nil
	}
	for _, n := range slices.Sorted(maps.Keys(added)) {
		if err := c.file.LogHistory(what, by, "", "", fmt.Sprintf("drive %d: %d passes", n, added[n])); err != nil {
			return err
		}
	}
	return c.file.Touch("drives", "history")
}

// writeDrivePass adds one row; inside a change.
func (c *Catalog) writeDrivePass(p *catalog.DrivePass, row []driver.Value) error {
	row = append([]driver.Value{p.Number}, row...)
	d := c.file.Direct()
	return d.Run("INSERT INTO drives("+driveColumns+") VALUES ("+gpkg.Placeholders(9)+")", d.Args().Add(append(row, gpkg.Seal(row, ""))...))
}

// driveRow are the columns of a pass from route to packed.
func driveRow(p *catalog.DrivePass) ([]driver.Value, error) {
	b, err := packDrive(p.Fixes)
	if err != nil {
		return nil, err
	}
	if p.Route == "" || !(p.FromM >= 0 && p.ToM > p.FromM && p.ToM <= maxRouteM) {
		return nil, &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("a drive on route %q from %g to %g m", p.Route, p.FromM, p.ToM), Fix: "import the recording again"}
	}
	return []driver.Value{p.Route, p.Direction.String(), p.FromM, p.ToM, int64(len(p.Fixes)), p.Label, b}, nil
}

// findDrivePass finds the number of the drive that has this very pass.
func findDrivePass(q gpkg.Querier, row []driver.Value) (number int64, found bool, err error) {
	found, err = gpkg.First(q, []any{&number}, "SELECT drive FROM drives WHERE route = ? AND direction = ? AND fixes = ? AND packed = ?", row[0], row[1], row[4], row[6])
	return number, found, err
}

// newDriveNumber draws a number that no drive has, nor one that was forgotten.
func (c *Catalog) newDriveNumber() (int64, error) {
	for range 1000 {
		n, err := rand.Int(rand.Reader, big.NewInt(mostDriveNumber-leastDriveNumber+1))
		if err != nil {
			return 0, err
		}
		number := n.Int64() + leastDriveNumber
		var one int
		found, err := gpkg.First(c.file, []any{&one}, "SELECT 1 FROM drives WHERE drive = ?", number)
		if err == nil && !found {
			found, err = isForgotten(c.file, number)
		}
		if err != nil || !found {
			return number, err
		}
	}
	return 0, &Fault{Kind: ErrWrite, File: c.file.Path(), What: "no number is free for a drive", Fix: "forget old drives"}
}

// Drives returns the kept passes of a route, or of all for "", in the order of routes, stations and
// numbers. withFixes adds their heights.
func (c *Catalog) Drives(ctx context.Context, route string, withFixes bool) ([]catalog.DrivePass, error) {
	out := []catalog.DrivePass{}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		isThere, err := c.hasDrives(q)
		if err != nil || !isThere {
			return err
		}
		if err := gpkg.CheckIndexes(q, ""); err != nil {
			return c.inFile(err)
		}
		return c.inFile(readDrives(q, "WHERE ?1 IN ('', route) ORDER BY route, from_m, drive, fid", func(p *catalog.DrivePass) error {
			if !withFixes {
				p.Fixes = nil
			}
			out = append(out, *p)
			return nil
		}, route))
	})
	return out, err
}

// hasDrives reports whether a file has the table: an older one has not, a damaged one is a fault.
func (c *Catalog) hasDrives(q gpkg.Querier) (bool, error) {
	if !q.HasDrives() {
		return false, nil
	}
	isThere, err := q.Direct().Any("SELECT 1 FROM main.sqlite_master WHERE type = 'table' AND name = 'drives'", q.Direct().Args())
	if err == nil && !isThere {
		err = &Fault{Kind: terrain.ErrRead, File: c.file.Path(), Feature: "table drives", What: "is missing: the recorded drives are lost", Fix: "make an empty one with doctor --repair, and import the recordings again"}
	}
	return isThere, err
}

// readDrives reads the passes that the end of a query chooses.
func readDrives(q gpkg.Querier, which string, do func(*catalog.DrivePass) error, args ...driver.Value) error {
	d := q.Direct()
	return d.Each("SELECT "+driveColumns+" FROM drives "+which, d.Args().Add(args...), func(row []driver.Value) error {
		p, err := drivePassFrom(row)
		if err != nil {
			var f *Fault
			if errors.As(err, &f) && f.Feature == "" {
				f.Feature = fmt.Sprintf("drive %v on route %q", row[0], gpkg.BytesOf(row[1]))
			}
			return err
		}
		return do(&p)
	})
}

// drivePassFrom is a row of driveColumns.
func drivePassFrom(row []driver.Value) (p catalog.DrivePass, err error) {
	damaged := &Fault{Kind: terrain.ErrRead, What: "a kept drive is damaged or was changed by another program", Fix: "forget it, and import the recording again"}
	if gpkg.CheckOwnSeal(row[8], row[:8], "") != nil {
		return p, damaged
	}
	var ok [4]bool
	var count int64
	p.Number, ok[0] = row[0].(int64)
	p.FromM, ok[1] = row[3].(float64)
	p.ToM, ok[2] = row[4].(float64)
	count, ok[3] = row[5].(int64)
	p.Route, p.Label = string(gpkg.BytesOf(row[1])), string(gpkg.BytesOf(row[6]))
	if string(gpkg.BytesOf(row[2])) == routes.Backward.String() {
		p.Direction = routes.Backward
	}
	p.Fixes, err = unpackDrive(gpkg.BytesOf(row[7]))
	if err != nil || ok != [4]bool{true, true, true, true} || count != int64(len(p.Fixes)) || !(p.FromM >= 0 && p.ToM > p.FromM && p.ToM <= maxRouteM) {
		return p, damaged
	}
	p.Count = len(p.Fixes)
	return p, nil
}

// Forgotten says what was forgotten, and where copies may be left.
type Forgotten struct {
	Passes  int      `json:"passes"`  // rows that were deleted; 0 where the drives had been forgotten before
	Copies  []string `json:"copies"`  // older copies of the catalogue in its folder, which this program made
	Numbers []int64  `json:"numbers"` // of the drives
}

// forgetEvent is the history's word for a drive that was forgotten.
const forgetEvent = "drive forgotten"

// ForgetDrives deletes drives and rewrites the file, so that it holds no byte of them. Only their
// numbers stay, in the history, so that a merge does not bring them back. A drive that was
// forgotten before is no fault: the file is rewritten again. ErrNotFound for any other number;
// nothing is deleted then.
func (c *Catalog) ForgetDrives(ctx context.Context, numbers []int64, by string) (Forgotten, error) {
	out := Forgotten{Numbers: numbers, Copies: append([]string{}, c.file.KeptCopies()...)}
	err := c.file.Erase(ctx, func() error {
		out.Passes = 0
		for _, n := range numbers {
			res, err := c.file.Exec("DELETE FROM drives WHERE drive = ?", n)
			if err != nil {
				return err
			}
			deleted, err := res.RowsAffected()
			if err != nil {
				return err
			}
			if deleted > 0 {
				out.Passes += int(deleted)
				if err := c.file.LogHistory(forgetEvent, by, "", "", fmt.Sprint(n)); err != nil {
					return err
				}
				continue
			}
			wasThere, err := isForgotten(c.file, n)
			if err == nil && !wasThere {
				err = &Fault{Kind: catalog.ErrNotFound, File: c.file.Path(), What: fmt.Sprintf("no drive %d", n), Fix: "see the numbers with drives list"}
			}
			if err != nil {
				return err
			}
		}
		return c.file.Touch("drives", "history")
	})
	return out, err
}

func isForgotten(q gpkg.Querier, number int64) (bool, error) {
	var one int
	return gpkg.First(q, []any{&one}, "SELECT 1 FROM history WHERE what = ? AND words = ?", forgetEvent, fmt.Sprint(number))
}

// drives copies the drives of the source that the target neither has nor has forgotten.
func (m *merger) drives(src *Catalog) error {
	isThere, err := src.hasDrives(m.src)
	if err != nil || !isThere {
		return err
	}
	numbers, added := map[int64]int64{}, map[int64]int{}
	err = readDrives(m.src, "ORDER BY drive, fid", func(p *catalog.DrivePass) error {
		theirs := p.Number
		if wasForgotten, err := isForgotten(m.dst.file, theirs); err != nil || wasForgotten {
			return err
		}
		p.Route = cmp.Or(m.ourID[p.Route], p.Route)
		row, err := driveRow(p)
		if err != nil {
			return err
		}
		if n, found, err := findDrivePass(m.dst.file, row); err != nil || found {
			numbers[theirs] = n
			return err
		}
		n, known := numbers[theirs]
		if !known {
			if n, err = m.numberFor(theirs); err != nil {
				return err
			}
			numbers[theirs] = n
		}
		p.Number = n
		added[n]++
		return m.dst.writeDrivePass(p, row)
	})
	if err != nil {
		return src.inFile(err)
	}
	m.report.Drives = slices.Sorted(maps.Keys(added))
	return m.dst.logDrives("drive merged", m.choices.By, added)
}

// numberFor keeps their number of a drive where it is free here.
func (m *merger) numberFor(theirs int64) (int64, error) {
	var one int
	isUsed, err := gpkg.First(m.dst.file, []any{&one}, "SELECT 1 FROM drives WHERE drive = ?", theirs)
	if err != nil || !isUsed && theirs >= leastDriveNumber && theirs <= mostDriveNumber {
		return theirs, err
	}
	return m.dst.newDriveNumber()
}

// examineDrives reads every kept drive: a damaged row does not match its check sum.
func examineDrives(x *gpkg.Examination) error {
	if !x.HasDrives() {
		return nil
	}
	isThere, err := x.Direct().Any("SELECT 1 FROM main.sqlite_master WHERE type = 'table' AND name = 'drives'", x.Direct().Args())
	if err != nil || !isThere { // reported with the tables
		return err
	}
	type row struct{ fid, drive int64 }
	var rows []row
	err = gpkg.Each(x, func(r *sql.Rows) error {
		var one row
		err := r.Scan(&one.fid, &one.drive)
		rows = append(rows, one)
		return err
	}, "SELECT fid, drive FROM drives ORDER BY fid")
	if err != nil {
		return err
	}
	for _, r := range rows {
		err := readDrives(x, "WHERE fid = ?", func(*catalog.DrivePass) error { return nil }, r.fid)
		var f *Fault
		if errors.As(err, &f) {
			x.Add(gpkg.Defect{Check: gpkg.CheckFigures, Where: fmt.Sprintf("drives, row %d", r.fid), What: f.What, Fix: fmt.Sprintf("drives forget %d, and import the recording again", r.drive)})
			continue
		}
		if err != nil {
			return err
		}
	}
	return nil
}
