package store

import (
	"context"
	"database/sql/driver"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
)

// The fleet of a catalogue is a line of its history, which records who chose it and when. The
// newest line is valid.
const (
	fleetChosen = "fleet"
	everyClass  = "every class"
)

// Fleet gives the ids of the weight classes that the office runs, as SetFleet stored
// them; nil where every class counts.
func (c *Catalog) Fleet(ctx context.Context) ([]string, error) {
	var words string
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		var fid int64
		found, err := gpkg.First(q, []any{&fid, &words}, "SELECT fid, words FROM history WHERE what = ? AND descent = '' ORDER BY fid DESC LIMIT 1", fleetChosen)
		if err == nil && found {
			err = c.inFile(gpkg.CheckRow(q, "history", fid))
		}
		return err
	})
	if err != nil || words == "" || words == everyClass {
		return nil, err
	}
	return strings.Split(words, ","), nil
}

// SetFleet stores which weight classes the office runs, by id; none for every class.
// What is stored already is not stored again.
func (c *Catalog) SetFleet(ctx context.Context, by string, ids []string) error {
	had, err := c.Fleet(ctx)
	if err != nil || slices.Equal(had, ids) {
		return err
	}
	for _, id := range ids {
		if id == "" || strings.Contains(id, ",") {
			return &Fault{Kind: catalog.ErrClass, File: c.Path(), What: "a fleet with a class that has no id", Fix: "name each class by its id"}
		}
	}
	words := strings.Join(ids, ",")
	if words == "" {
		words = everyClass
	}
	return c.file.Change(ctx, func() error { return c.file.LogHistory(fleetChosen, by, "", "", words) })
}

// fleetOrder is the order of danger by the heaviest class of the fleet, as
// catalog.CompareDanger has it: the hold of each descent is joined as h.
func (f *Filter) fleetOrder() (join, order string, args []driver.Value) {
	marks := gpkg.Placeholders(len(f.Fleet))
	for _, id := range f.Fleet {
		args = append(args, id)
	}
	return "LEFT JOIN holds h ON h.fid = (SELECT x.fid FROM holds x WHERE x.descent_fid = d.fid AND x.class IN (" + marks + ") ORDER BY x.mass_kg DESC, x.holds, x.speed_mps LIMIT 1)",
		"CASE WHEN h.fid IS NULL THEN 1 WHEN h.holds THEN 2 ELSE 0 END, coalesce(h.speed_mps, 0), d.drop_m DESC, d.id", args
}

// onlyFleet keeps of the holds those of the fleet, and those of the classes that the
// filter itself names.
func (f *Filter) onlyFleet(holds []catalog.Hold) []catalog.Hold {
	if len(f.Fleet) == 0 {
		return holds
	}
	return catalog.HoldsOf(holds, append(slices.Clone(f.Fleet), f.Class, f.NotHeldBy))
}
