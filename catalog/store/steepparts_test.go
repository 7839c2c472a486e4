package store

import (
	"errors"
	"fmt"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

// pitch is a steep part of a plain road, outside any descent, at km k.
func pitch(route string, k int, meanPct float64, dir routes.Direction) catalog.SteepPart {
	start, length := float64(k)*1000, 500.0
	p := catalog.SteepPart{Route: route, Name: route + ", eastbound", Provenance: provenance(),
		SteepPart: routes.SteepPart{Direction: dir, StartM: start, EndM: start + length, LengthM: length, MeanDowngradePct: meanPct, MeanDowngradeErrPct: 0.4, Flags: []string{}}}
	if dir == routes.Backward {
		p.StartM, p.EndM = p.EndM, p.StartM
	}
	for i := range 3 {
		s := p.StartM + (p.EndM-p.StartM)*float64(i)/2
		p.Line = append(p.Line, catalog.Vertex{LonDeg: -110 + s/80000, LatDeg: 40 + float64(i%2)*1e-3, ElevationM: 1000 - float64(i)*meanPct*2.5, StationM: s})
	}
	return p
}

// withPitches is a survey of a road without a descent and with steep parts.
func withPitches(route string, parts ...catalog.SteepPart) RouteSurvey {
	rs := survey(route, 0)
	possibleM := 320.0
	rs.SteepParts, rs.PossibleSteepM = parts, &possibleM
	return rs
}

func partsOf(t *testing.T, c *Catalog, f Filter) SteepParts {
	t.Helper()
	s, err := c.SteepParts(ctx, f)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Steep parts come back as they were stored, steepest first, by route, direction, place and size; a
// newer survey of the road replaces them, and the file stays a valid GeoPackage.
func TestSteepPartsAreStoredAndReplaced(t *testing.T) {
	c, path := fresh(t)
	a, b := pitch("Kestrel Road", 3, 6.2, routes.Forward), pitch("Kestrel Road", 9, 8, routes.Backward)
	a.Flags = []string{routes.FlagBorderline}
	save(t, c, withPitches("Kestrel Road", a, b), SaveOptions{})
	far := pitch("Heron Pass", 5, 7, routes.Forward)
	for i := range far.Line {
		far.Line[i].LonDeg += 50
	}
	save(t, c, withPitches("Heron Pass", far), SaveOptions{})
	if got, want := partsOf(t, c, Filter{}), (SteepParts{[]catalog.SteepPart{b, far, a}, 640, map[string]float64{"Heron Pass": 320, "Kestrel Road": 320}, []string{}}); !reflect.DeepEqual(got, want) {
		t.Errorf("read back\n%+v\nwant\n%+v", got, want)
	}
	backward := routes.Backward
	for name, k := range map[string]struct {
		f    Filter
		want int
	}{
		"a road":            {Filter{Route: "kestrel-road"}, 2},
		"a direction":       {Filter{Direction: &backward}, 1},
		"a box":             {Filter{BBox: &Box{WestDeg: -61, SouthDeg: 39, EastDeg: -58, NorthDeg: 41}}, 1},
		"7 % at least":      {Filter{MinMeanDowngradePct: 7}, 2},
		"a drop of 35 m":    {Filter{MinDropM: 35}, 2},
		"longer than 600 m": {Filter{MinLengthM: 600}, 0},
		"a flag":            {Filter{Flag: routes.FlagBorderline}, 1},
		"at most one":       {Filter{Limit: 1}, 1},
		"a class's failure": {Filter{NotHeldBy: "heavy"}, 0},
		"a review's state":  {Filter{State: catalog.Approved}, 0},
	} {
		if got := partsOf(t, c, k.f); len(got.Parts) != k.want {
			t.Errorf("%s: %d parts, want %d", name, len(got.Parts), k.want)
		}
	}
	mustBeValid(t, path, "a survey with steep parts")
	save(t, c, withPitches("Kestrel Road", pitch("Kestrel Road", 4, 5.5, routes.Forward)), SaveOptions{})
	if got := partsOf(t, c, Filter{Route: "Kestrel Road"}); len(got.Parts) != 1 || got.Parts[0].StartM != 4000 {
		t.Errorf("after a newer survey: %+v", got)
	}
	mustBeValid(t, path, "replacing steep parts")
	if found, err := c.Doctor(ctx); err != nil || len(found) != 0 {
		t.Errorf("doctor: %+v, %v", found, err)
	}
}

// A part and a merge carry steep parts along. On a road that both catalogues have, ours stay and the
// difference is told, unless theirs are wanted or ours were never looked for.
func TestSteepPartsAreMergedAndTakenOut(t *testing.T) {
	theirs, _ := fresh(t)
	save(t, theirs, withPitches("Kestrel Road", pitch("Kestrel Road", 3, 6.2, routes.Forward)), SaveOptions{})
	save(t, theirs, withPitches("Heron Pass", pitch("Heron Pass", 5, 7, routes.Forward)), SaveOptions{})
	want := partsOf(t, theirs, Filter{})
	into, path := fresh(t)
	if _, err := Merge(ctx, into, theirs, MergeOptions{}); err != nil {
		t.Fatal(err)
	}
	if got := partsOf(t, into, Filter{}); !reflect.DeepEqual(got, want) {
		t.Errorf("merged\n%+v\nwant\n%+v", got, want)
	}
	mustBeValid(t, path, "a merge of steep parts")
	part := filepath.Join(t.TempDir(), "part.gpkg")
	if _, err := theirs.Subset(ctx, part, Filter{Route: "Heron Pass"}, SubsetOptions{}); err != nil {
		t.Fatal(err)
	}
	if got, want := partsOf(t, open(t, part), Filter{}), partsOf(t, theirs, Filter{Route: "Heron Pass"}); !reflect.DeepEqual(got, want) {
		t.Errorf("taken out\n%+v\nwant\n%+v", got, want)
	}
	mustBeValid(t, part, "taking out steep parts")

	for name, k := range map[string]struct {
		ours      RouteSurvey
		o         MergeOptions
		startM    float64
		conflicts int
	}{
		"ours stay":             {withPitches("Kestrel Road", pitch("Kestrel Road", 8, 6.2, routes.Forward)), MergeOptions{}, 8000, 1},
		"theirs are wanted":     {withPitches("Kestrel Road", pitch("Kestrel Road", 8, 6.2, routes.Forward)), MergeOptions{TakeTheirs: true}, 3000, 1},
		"the same":              {withPitches("Kestrel Road", pitch("Kestrel Road", 3, 6.2, routes.Forward)), MergeOptions{}, 3000, 0},
		"ours not looked for":   {survey("Kestrel Road", 0), MergeOptions{}, 3000, 0},
		"ours looked, has none": {withPitches("Kestrel Road"), MergeOptions{}, -1, 1},
	} {
		c, _ := fresh(t)
		save(t, c, k.ours, SaveOptions{})
		report, err := Merge(ctx, c, theirs, k.o)
		if err != nil {
			t.Fatal(err)
		}
		got := partsOf(t, c, Filter{Route: "Kestrel Road"})
		if startM := append(got.Parts, catalog.SteepPart{SteepPart: routes.SteepPart{StartM: -1}})[0].StartM; startM != k.startM || len(report.Conflicts) != k.conflicts || len(got.Unknown) != 0 {
			t.Errorf("%s: starts at %v, conflicts %+v, unknown %v", name, startM, report.Conflicts, got.Unknown)
		}
	}
}

// A damaged part is a fault that names it, not a part less, and doctor finds it.
func TestADamagedSteepPartIsAFault(t *testing.T) {
	c, path := fresh(t)
	save(t, c, withPitches("Kestrel Road", pitch("Kestrel Road", 3, 6.2, routes.Forward)), SaveOptions{})
	c.Close()
	for what, stmt := range map[string]string{
		"a figure":  "UPDATE steep_parts SET mean_downgrade_pct = 2",
		"a flag":    "UPDATE steep_parts SET flags = '[\"unreliable\"]'",
		"the road":  "UPDATE steep_parts SET route = 'Heron Pass'",
		"the place": "UPDATE steep_parts SET start_m = 0",
	} {
		p := copyFile(t, path)
		for k := 1; k <= 4; k++ { // they call functions that a plain program lacks
			spoil(t, p, fmt.Sprintf("DROP TRIGGER rtree_steep_parts_geom_update%d", k))
		}
		spoil(t, p, stmt)
		c := open(t, p)
		_, err := c.SteepParts(ctx, Filter{})
		var f *Fault
		if !errors.As(err, &f) || !errors.Is(err, terrain.ErrRead) || !strings.Contains(f.Feature, "steep part of route") || f.File != p {
			t.Errorf("%s: %v", what, err)
		}
		if found, err := c.Doctor(ctx); err != nil || !slices.ContainsFunc(found, func(d Defect) bool { return d.Check == "figures" && d.Where == "steep_parts, row 1" }) {
			t.Errorf("%s: doctor: %+v, %v", what, found, err)
		}
	}
	for what, k := range map[string]struct {
		stmt string
		f    Filter
	}{
		"its index lost rows":          {"PRAGMA writable_schema = ON; DELETE FROM rtree_steep_parts_geom", Filter{BBox: &Box{WestDeg: -120, SouthDeg: 39, EastDeg: -100, NorthDeg: 41}}},
		"a length below zero":          {"UPDATE routes SET possible_steep_m = -5", Filter{}},
		"its table is not in the file": {"DROP TABLE rtree_steep_parts_geom; DROP TABLE steep_parts", Filter{}},
	} {
		p := copyFile(t, path)
		spoil(t, p, k.stmt)
		c, err := Open(ctx, p, Options{})
		if err == nil {
			_, err = c.SteepParts(ctx, k.f)
			c.Close()
		}
		if err == nil {
			t.Errorf("%s: no fault", what)
		}
	}
}

// A catalogue from before steep parts were kept says of which roads they are not known.
func TestSteepPartsOfAnOlderCatalogueAreUnknown(t *testing.T) {
	path := version3(t)
	old, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	before := partsOf(t, old, Filter{})
	old.Close()
	now := partsOf(t, open(t, path), Filter{})
	for name, s := range map[string]SteepParts{"as it is": before, "brought up to date": now} {
		if len(s.Parts) != 0 || len(s.Unknown) != 1 || s.PossibleM != 0 {
			t.Errorf("%s: %+v", name, s)
		}
	}
}

func TestSteepPartsThatCannotBeKeptAreRefused(t *testing.T) {
	c, _ := fresh(t)
	nan := pitch("Kestrel Road", 3, 6.2, routes.Forward)
	zero := 0.0
	nan.MeanDowngradePct /= zero
	short := pitch("Kestrel Road", 3, 6.2, routes.Forward)
	short.Line = short.Line[:1]
	for what, p := range map[string]catalog.SteepPart{"no number": nan, "no line": short} {
		if _, err := c.SaveRoute(ctx, withPitches("Kestrel Road", p), SaveOptions{}); !errors.Is(err, catalog.ErrImpossible) {
			t.Errorf("%s: %v", what, err)
		}
	}
}
