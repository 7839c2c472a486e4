package store

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/terrain"
)

// The box of a filter against a plain walk along the line in small steps.
func TestBoxMeetsLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := []catalog.Vertex{}
		for range rapid.IntRange(2, 5).Draw(t, "n") {
			line = append(line, catalog.Vertex{LonDeg: rapid.Float64Range(-5, 5).Draw(t, "x"), LatDeg: rapid.Float64Range(-5, 5).Draw(t, "y")})
		}
		b := Box{WestDeg: rapid.Float64Range(-6, 5).Draw(t, "w"), SouthDeg: rapid.Float64Range(-6, 5).Draw(t, "s")}
		b.EastDeg, b.NorthDeg = b.WestDeg+rapid.Float64Range(0.1, 3).Draw(t, "dx"), b.SouthDeg+rapid.Float64Range(0.1, 3).Draw(t, "dy")
		const steps = 2000
		inside, near := false, false
		for i := 1; i < len(line); i++ {
			for k := 0; k <= steps; k++ {
				u := float64(k) / steps
				p := terrain.Point{LonDeg: line[i-1].LonDeg + u*(line[i].LonDeg-line[i-1].LonDeg), LatDeg: line[i-1].LatDeg + u*(line[i].LatDeg-line[i-1].LatDeg)}
				inside = inside || b.holds(p)
				wider := Box{b.WestDeg - 0.02, b.SouthDeg - 0.02, b.EastDeg + 0.02, b.NorthDeg + 0.02}
				near = near || wider.holds(p)
			}
		}
		if got := b.meets(line); inside && !got || got && !near {
			t.Fatalf("meets says %v, walked in %v, near %v", got, inside, near)
		}
	})
}

func TestBoxAcrossTheAntimeridian(t *testing.T) {
	c, _ := fresh(t)
	rs := survey("Date Line", 1)
	for i := range rs.Entries[0].Line {
		x := 179.99 + 0.005*float64(i)
		rs.Entries[0].Line[i].LonDeg = math.Remainder(x, 360)
	}
	save(t, c, rs, SaveOptions{})
	for _, tc := range []struct {
		b    Box
		want int
	}{
		{Box{179, 39, -179, 41}, 1}, {Box{179.995, 39, 180, 41}, 1}, {Box{-180, 39, -179.99, 41}, 1},
		{Box{0, 39, 10, 41}, 0}, {Box{-10, 39, 10, 41}, 0}, {Box{170, 50, -170, 60}, 0},
	} {
		if l, err := c.Descents(ctx, Filter{BBox: &tc.b}); err != nil || len(l) != tc.want {
			t.Errorf("%v: %d, %v", tc.b, len(l), err)
		}
	}
}

// A list that reads little of a hold still says the lever's gear and on which surfaces
// the truck can't use it.
func TestABriefListKeepsWhatADriverMayNotMiss(t *testing.T) {
	c, _ := fresh(t)
	rs := survey("Kestrel Road", 1)
	rs.Entries[0].Holds[0].GearName, rs.Entries[0].Holds[0].SurfacesOut = "Low 2", []string{catalog.SurfaceWet}
	save(t, c, rs, SaveOptions{})
	es, err := c.Descents(ctx, Filter{Brief: true})
	if err != nil {
		t.Fatal(err)
	}
	want, got := rs.Entries[0].Holds[0], es[0].Holds[0]
	if got.GearName != want.GearName || !slices.Equal(got.SurfacesOut, want.SurfacesOut) || got.SpeedMPS != want.SpeedMPS {
		t.Errorf("%+v, want %+v", got, want)
	}
}
