package store

import (
	"bytes"
	"errors"
	"math"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

// drivePass is a pass of n heights, one each 20 m.
func drivePass(number int64, route string, fromM float64, n int) catalog.DrivePass {
	p := catalog.DrivePass{Number: number, Route: route, Direction: routes.Forward, FromM: fromM, ToM: fromM + 20*float64(n-1), Label: "unit 7"}
	for i := range n {
		// Heights of no pattern, so that their bytes can be searched for.
		h := 1000 + math.Round(1e4*math.Sin(float64(i*i)*(1+float64(number)/7)))/100
		p.Fixes = append(p.Fixes, catalog.DriveFix{StationM: fromM + 20*float64(i), OffM: 1.5, LonDeg: -110 + float64(i)*1e-5, LatDeg: 40, HeightM: h, TimeS: float64(i), SpeedMPS: 20})
	}
	return p
}

func keepDrives(t testing.TB, c *Catalog, passes ...catalog.DrivePass) []catalog.DrivePass {
	t.Helper()
	kept, _, err := c.AddDrives(ctx, passes, "Ada")
	if err != nil {
		t.Fatal(err)
	}
	return kept
}

// Passes come back as they were stored, under one number a drive, and once only.
func TestDrivesAreKept(t *testing.T) {
	c, path := fresh(t)
	a, b, other := drivePass(1, "r", 900, 50), drivePass(1, "r", 4000, 60), drivePass(2, "s", 0, 70)
	other.Direction, other.Fixes[3].SpeedMPS = routes.Backward, math.NaN()
	kept := keepDrives(t, c, a, b, other)
	if kept[0].Number != kept[1].Number || kept[0].Number == kept[2].Number || kept[0].Number < leastDriveNumber || kept[0].Number > mostDriveNumber {
		t.Fatalf("numbers %d, %d, %d", kept[0].Number, kept[1].Number, kept[2].Number)
	}
	again, isNew, err := c.AddDrives(ctx, []catalog.DrivePass{a, drivePass(1, "r", 7000, 40)}, "Ada")
	if err != nil || isNew[0] || !isNew[1] || again[0].Number != kept[0].Number || again[1].Number != kept[0].Number {
		t.Errorf("the same recording again: %v, %v", isNew, err)
	}
	got, err := c.Drives(ctx, "", true)
	if err != nil || len(got) != 4 {
		t.Fatalf("%d passes, %v", len(got), err)
	}
	back := got[3]
	if back.Route != "s" || back.Direction != routes.Backward || back.Count != 70 || !math.IsNaN(back.Fixes[3].SpeedMPS) || back.Label != "unit 7" {
		t.Errorf("%+v", back)
	}
	back.Fixes[3].SpeedMPS, other.Fixes[3].SpeedMPS = 0, 0
	if !reflect.DeepEqual(back.Fixes, other.Fixes) {
		t.Error("the heights changed")
	}
	if one, err := c.Drives(ctx, "s", false); err != nil || len(one) != 1 || one[0].Fixes != nil {
		t.Errorf("of one road: %+v, %v", one, err)
	}
	if found, err := c.Doctor(ctx); err != nil || len(found) != 0 {
		t.Errorf("doctor: %+v, %v", found, err)
	}
	c.Close()
	mustBeValid(t, path, "keeping drives")
}

// Impossible passes are refused, and nothing of the change is stored.
func TestImpossibleDrivesAreRefused(t *testing.T) {
	c, _ := fresh(t)
	for name, spoil := range map[string]func(p *catalog.DrivePass){
		"no road":          func(p *catalog.DrivePass) { p.Route = "" },
		"no length":        func(p *catalog.DrivePass) { p.ToM = p.FromM },
		"one height":       func(p *catalog.DrivePass) { p.Fixes = p.Fixes[:1] },
		"NaN height":       func(p *catalog.DrivePass) { p.Fixes[1].HeightM = math.NaN() },
		"infinite station": func(p *catalog.DrivePass) { p.Fixes[1].StationM = math.Inf(1) },
		"time back":        func(p *catalog.DrivePass) { p.Fixes[5].TimeS = 0 },
		"no place":         func(p *catalog.DrivePass) { p.Fixes[1].LatDeg = 91 },
		"speed":            func(p *catalog.DrivePass) { p.Fixes[1].SpeedMPS = -3 },
	} {
		p := drivePass(2, "r", 0, 30)
		spoil(&p)
		if _, _, err := c.AddDrives(ctx, []catalog.DrivePass{drivePass(1, "r", 0, 30), p}, ""); !errors.Is(err, terrain.ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if got, err := c.Drives(ctx, "", true); err != nil || len(got) != 0 {
		t.Errorf("%d passes, %v", len(got), err)
	}
}

// A drive that is forgotten leaves no byte in the file, its journal or its log; its number alone
// stays in the history. The other drives are unchanged.
func TestForgettingIsComplete(t *testing.T) {
	for _, mode := range []string{"DELETE", "WAL"} {
		c, path := fresh(t)
		save(t, c, survey("r", 3), SaveOptions{})
		// Large and small rows, deleted rows between them and pages that were split.
		var passes []catalog.DrivePass
		for k := range 40 {
			passes = append(passes, drivePass(int64(k), "r", 100, 30+6*k*k))
		}
		kept := keepDrives(t, c, passes...)
		c.Close()
		spoil(t, path, "PRAGMA journal_mode = "+mode)
		c = open(t, path)
		secret := kept[33]
		row, err := driveRow(&secret)
		if err != nil {
			t.Fatal(err)
		}
		packed := row[6].([]byte)
		var others [][]byte // equal places make equal bytes in other drives
		for i := range kept {
			if i != 33 {
				other, err := driveRow(&kept[i])
				if err != nil {
					t.Fatal(err)
				}
				others = append(others, other[6].([]byte))
			}
		}
		var parts [][]byte
		for i := 0; i+24 <= len(packed); i += 24 { // parts short enough to lie within one page
			if p := packed[i : i+24]; !slices.ContainsFunc(others, func(o []byte) bool { return bytes.Contains(o, p) }) {
				parts = append(parts, p)
			}
		}
		holds := func() int {
			files, _ := filepath.Glob(path + "*")
			return countParts(t, files, parts)
		}
		if n := holds(); n < len(parts)*9/10 || n < 50 {
			t.Fatalf("the search finds %d of %d parts before", n, len(parts))
		}
		out, err := c.ForgetDrives(ctx, []int64{secret.Number}, "Ada")
		if err != nil || out.Passes != 1 {
			t.Fatalf("%+v, %v", out, err)
		}
		if n := holds(); n > 0 {
			t.Errorf("%s: %d of %d parts are still in the file", mode, n, len(parts))
		}
		c.Close()
		if n := holds(); n > 0 {
			t.Errorf("%s: %d parts after closing", mode, n)
		}
		c = open(t, path)
		if got, err := c.Drives(ctx, "", true); err != nil || len(got) != 39 {
			t.Errorf("%d drives are left, %v", len(got), err)
		}
		if again, err := c.ForgetDrives(ctx, []int64{secret.Number}, "Ada"); err != nil || again.Passes != 0 {
			t.Errorf("again: %+v, %v", again, err)
		}
		if _, err := c.ForgetDrives(ctx, []int64{kept[1].Number, 5}, "Ada"); !errors.Is(err, catalog.ErrNotFound) {
			t.Errorf("an unknown number: %v", err)
		}
		if got, _ := c.Drives(ctx, "", false); len(got) != 39 {
			t.Errorf("%d drives after a refused request", len(got))
		}
		c.Close()
		mustBeValid(t, path, "forgetting")
	}
}

// A merge copies drives once, under the road's own name, and never one that was forgotten here; a
// part that is handed out has none.
func TestDrivesInMergesAndParts(t *testing.T) {
	src, _ := fresh(t)
	save(t, src, survey("r", 3), SaveOptions{})
	kept := keepDrives(t, src, drivePass(1, "r", 900, 40), drivePass(2, "r", 900, 50), drivePass(3, "r", 900, 60))
	dst, path := fresh(t)
	save(t, dst, survey("r", 3), SaveOptions{})
	keepDrives(t, dst, drivePass(1, "r", 900, 40)) // the same recording under its own number
	if _, err := Merge(ctx, dst, src, MergeOptions{By: "Bo"}); err != nil {
		t.Fatal(err)
	}
	if got, err := dst.Drives(ctx, "", true); err != nil || len(got) != 3 {
		t.Fatalf("%d drives, %v", len(got), err)
	}
	if _, err := dst.ForgetDrives(ctx, []int64{kept[1].Number}, "Bo"); err != nil {
		t.Fatal(err)
	}
	r, err := Merge(ctx, dst, src, MergeOptions{By: "Bo"})
	if got, _ := dst.Drives(ctx, "", false); err != nil || len(got) != 2 || len(r.Drives) != 0 {
		t.Errorf("a merge brought a forgotten drive back: %d, %+v, %v", len(got), r.Drives, err)
	}
	part := filepath.Join(t.TempDir(), "part.gpkg")
	if _, err := src.Subset(ctx, part, Filter{}, SubsetOptions{}); err != nil {
		t.Fatal(err)
	}
	if got, err := open(t, part).Drives(ctx, "", false); err != nil || len(got) != 0 {
		t.Errorf("a part has %d drives, %v", len(got), err)
	}
	dst.Close()
	mustBeValid(t, path, "merging drives")
}

// Changed rows are refused with the drive's number, and doctor finds them; a lost table is a fault,
// never an empty list.
func TestDamagedDrives(t *testing.T) {
	for name, q := range map[string]string{
		"a station": "UPDATE drives SET from_m = from_m + 1", "a count": "UPDATE drives SET fixes = 3", "bytes": "UPDATE drives SET packed = substr(packed, 1, 20)",
		"a road": "UPDATE drives SET route = 'other'", "no sum": "UPDATE drives SET seal = 0", "no table": "DROP TABLE drives",
	} {
		c, path := fresh(t)
		save(t, c, survey("r", 1), SaveOptions{})
		keepDrives(t, c, drivePass(1, "r", 900, 40))
		c.Close()
		spoil(t, path, q)
		c = open(t, path)
		if got, err := c.Drives(ctx, "", true); !errors.Is(err, terrain.ErrRead) {
			t.Errorf("%s: %d drives, %v", name, len(got), err)
		}
		found, err := c.Doctor(ctx)
		if err != nil || len(found) == 0 || !strings.Contains(found[0].Where, "drives") {
			t.Errorf("%s: doctor %+v, %v", name, found, err)
		}
		c.Close()
	}
}

func FuzzDrive(f *testing.F) {
	b, err := packDrive(drivePass(1, "r", 0, 30).Fixes)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Add([]byte{driveMark, driveLayout, 255, 255, 255, 255, 15})
	f.Fuzz(func(t *testing.T, b []byte) {
		fixes, err := unpackDrive(b)
		if err != nil {
			return
		}
		again, err := packDrive(fixes)
		if err != nil {
			return // figures finer than a step
		}
		if _, err := unpackDrive(again); err != nil {
			t.Fatalf("%v does not come back", fixes)
		}
	})
}
