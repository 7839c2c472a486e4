package store

import (
	"database/sql/driver"
	"encoding/json"
	"math"
	"reflect"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/routes"
)

// Box is an extent in degrees. West may be greater than east: it then crosses
// the antimeridian.
type Box struct{ WestDeg, SouthDeg, EastDeg, NorthDeg float64 }

// ParseBox reads a box as catalog.ParseBox does.
func ParseBox(text string) (*Box, error) {
	westDeg, southDeg, eastDeg, northDeg, err := catalog.ParseBox(text)
	if err != nil {
		return nil, err
	}
	return &Box{westDeg, southDeg, eastDeg, northDeg}, nil
}

// Filter says which descents are wanted; its zero value is all but the retired ones.
type Filter struct {
	Route               string            // a route's id, name, number or short name
	Direction           *routes.Direction // of travel along the line
	Class               string            // only descents with a hold of this class, in the order of danger for it
	NotHeldBy           string            // only descents that this class does not hold
	Fleet               []string          // only the holds of these classes, and the order of danger for the heaviest of them; empty is every class
	State               catalog.ReviewState
	WithRetired         bool // retired ones too, where State is empty
	InQuestion          bool // only those whose review is in question
	Gone                bool // only those that the last survey no longer found
	BBox                *Box // only those whose line enters the box
	MinLengthM          float64
	MinDropM            float64
	MinMeanDowngradePct float64
	Flag                string   // only those that carry this flag
	IDs                 []string // only these, by their complete ids; nil for all, empty for none
	Limit               int      // at most so many; 0 is all
	Brief               bool     // of the details of a hold read only the gear's name and the surfaces that it excludes
	Levers              bool     // with Brief: the levers' settings too, which takes longer
	NoHolds             bool     // leave out the holds, for a map
}

// sql builds the query for the keys of the wanted descents, in the order of
// catalog.CompareDanger (with Class, of that class instead of the heaviest).
func (f *Filter) sql() (string, []driver.Value) {
	var from, where []string
	var args []driver.Value
	add := func(cond string, a ...driver.Value) {
		where = append(where, cond)
		args = append(args, a...)
	}
	from = append(from, "descents d")
	order := "d.heaviest_rank, d.heaviest_speed_mps, d.drop_m DESC, d.id"
	if f.Class != "" {
		from = append(from, "holds h")
		add("h.descent_fid = d.fid AND h.class = ?", f.Class)
		order = "h.holds, h.speed_mps, d.drop_m DESC, d.id"
	}
	join := ""
	if len(f.Fleet) > 0 && f.Class == "" {
		join, order, args = f.fleetOrder() // before all conditions
	}
	if f.BBox != nil {
		from = append([]string{"rtree_descents_geom r"}, from...)
		inBox, values := f.BBox.sql()
		add("d.fid = r.id AND ("+inBox+")", values...)
	}
	if f.Route != "" {
		add("d.route_fid IN (SELECT fid FROM routes WHERE ? IN (route, slug, name, ref))", f.Route)
	}
	if f.Direction != nil {
		add("d.direction = ?", f.Direction.String())
	}
	if f.NotHeldBy != "" {
		add("EXISTS (SELECT 1 FROM holds x WHERE x.descent_fid = d.fid AND x.class = ? AND NOT x.holds)", f.NotHeldBy)
	}
	f.addConditions(add)
	q := "SELECT d.fid FROM " + strings.Join(from, ", ")
	if f.BBox != nil {
		q = "SELECT d.fid FROM " + strings.Join(from, " CROSS JOIN ") // the box first: it selects the fewest rows
	}
	if join != "" {
		q += " " + join
	}
	if len(where) > 0 {
		q += " WHERE " + strings.Join(where, " AND ")
	}
	return q + " ORDER BY " + order, args
}

// isOfBoxAlone reports whether nothing but a box chooses and orders the descents.
func (f *Filter) isOfBoxAlone() bool {
	g := Filter{BBox: f.BBox, WithRetired: f.WithRetired, Limit: f.Limit, Brief: f.Brief, Levers: f.Levers, NoHolds: f.NoHolds}
	return f.BBox != nil && reflect.DeepEqual(g, *f)
}

// sql is the condition for entries of the R-tree r. It keeps 32-bit numbers rounded outward; the line
// itself is checked afterwards.
func (b *Box) sql() (string, []driver.Value) {
	var boxes []string
	var args []driver.Value
	for _, h := range b.halves() {
		boxes = append(boxes, "r.minx <= ? AND r.maxx >= ? AND r.miny <= ? AND r.maxy >= ?")
		args = append(args, h.MaxX, h.MinX, h.MaxY, h.MinY)
	}
	return "(" + strings.Join(boxes, ") OR (") + ")", args
}

// addConditions adds the conditions on reviews, sizes and flags.
func (f *Filter) addConditions(add func(cond string, a ...driver.Value)) {
	const state = "coalesce((SELECT state FROM reviews v WHERE v.descent = d.id), 'surveyed')"
	switch {
	case f.State != "":
		add(state+" = ?", string(f.State))
	case !f.WithRetired:
		add("NOT EXISTS (SELECT 1 FROM reviews v WHERE v.descent = d.id AND v.state = 'retired')")
	}
	if f.InQuestion {
		add("EXISTS (SELECT 1 FROM reviews v WHERE v.descent = d.id AND v.in_question <> '')")
	}
	if f.Gone {
		add("d.gone_since IS NOT NULL")
	}
	for _, m := range []struct {
		column string
		least  float64
	}{{"length_m", f.MinLengthM}, {"drop_m", f.MinDropM}, {"mean_downgrade_pct", f.MinMeanDowngradePct}} {
		if m.least > 0 {
			add("d."+m.column+" >= ?", m.least)
		}
	}
	if f.IDs != nil {
		ids, _ := json.Marshal(f.IDs) // texts alone: it cannot fail
		add("d.id IN (SELECT value FROM json_each(?))", string(ids))
	}
	if f.Flag != "" {
		add("EXISTS (SELECT 1 FROM json_each(d.flags) j WHERE j.value = ?)", f.Flag)
	}
}

// halves splits the box into one or two that do not cross the antimeridian.
func (b *Box) halves() []gpkg.Envelope {
	degrees := func(westDeg, eastDeg float64) gpkg.Envelope {
		return gpkg.Envelope{MinX: westDeg, MaxX: eastDeg, MinY: b.SouthDeg, MaxY: b.NorthDeg}
	}
	if b.WestDeg <= b.EastDeg {
		return []gpkg.Envelope{degrees(b.WestDeg, b.EastDeg)}
	}
	return []gpkg.Envelope{degrees(b.WestDeg, 180), degrees(-180, b.EastDeg)}
}

// meets reports whether a line enters the box; a step of more than half the
// globe between two vertices goes the short way round.
func (b *Box) meets(line []catalog.Vertex) bool {
	for _, h := range b.halves() {
		for i := 1; i < len(line); i++ {
			p, q := line[i-1], line[i]
			dx := q.LonDeg - p.LonDeg
			if math.Abs(dx) <= 180 {
				if cuts(&h, p.LonDeg, p.LatDeg, dx, q.LatDeg-p.LatDeg) {
					return true
				}
				continue
			}
			dx -= math.Copysign(360, dx)
			if cuts(&h, p.LonDeg, p.LatDeg, dx, q.LatDeg-p.LatDeg) || cuts(&h, q.LonDeg, q.LatDeg, -dx, p.LatDeg-q.LatDeg) {
				return true
			}
		}
	}
	return false
}

// cuts reports whether the segment from (x, y) by (dx, dy) touches the box
// (Liang and Barsky's parametric clipping).
func cuts(b *gpkg.Envelope, x, y, dx, dy float64) bool {
	t0, t1 := 0.0, 1.0
	for _, e := range [4][2]float64{{-dx, x - b.MinX}, {dx, b.MaxX - x}, {-dy, y - b.MinY}, {dy, b.MaxY - y}} {
		p, q := e[0], e[1]
		switch {
		case p == 0 && q < 0:
			return false
		case p < 0:
			t0 = math.Max(t0, q/p)
		case p > 0:
			t1 = math.Min(t1, q/p)
		}
	}
	return t0 <= t1
}
