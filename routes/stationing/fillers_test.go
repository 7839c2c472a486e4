package stationing

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// levels is a surface along a meridian: f is the height by metres north of the start.
// Patches of one height are of the kind given.
type levels struct {
	origin orb.Point
	f      func(xM float64) float64
	kind   terrain.PatchKind
	stepM  float64
	isFlat bool
	looks  int
	cellM  float32 // 0: 10 m
}

func (s *levels) cell() float32 {
	if s.cellM == 0 {
		return 10
	}
	return s.cellM
}

func (s *levels) at(p terrain.Point) float64 {
	_, n := metricAt(s.origin[1]).deltaM(s.origin, orb.Point{p.LonDeg, p.LatDeg})
	return s.f(n)
}

func (s *levels) Sample(ctx context.Context, points []terrain.Point, out []terrain.Sample) error {
	return s.SampleWithout(ctx, points, out, nil)
}

func (s *levels) SampleWithout(ctx context.Context, points []terrain.Point, out []terrain.Sample, fillers []terrain.Filler) error {
	for i, p := range points {
		out[i] = terrain.Sample{ElevationM: s.at(p), CellM: s.cell()}
		for _, f := range fillers {
			if float32(out[i].ElevationM) == f.NoData {
				out[i] = terrain.Sample{ElevationM: math.NaN(), CellM: s.cell(), Miss: terrain.Void}
			}
		}
	}
	return ctx.Err()
}

func (s *levels) Patch(ctx context.Context, p terrain.Point, source int16) (terrain.Patch, error) {
	s.looks++
	z := s.at(p)
	return terrain.Patch{Kind: s.kind, ElevationM: z, Filler: terrain.Filler{NoData: float32(z)}}, nil
}

func (s *levels) HeightStepM(int16) float64 { return s.stepM }
func (s *levels) IsFlatGround() bool        { return s.isFlat }
func (s *levels) Sources() []terrain.Raster { return []terrain.Raster{{Name: "levels.tif"}} }
func (s *levels) Warnings() []string        { return nil }

// sampledLevels samples 6 km of road over a surface of 10 m cells.
func sampledLevels(t *testing.T, s *levels, flagged ...routes.Structure) *routes.Ground {
	t.Helper()
	s.origin = orb.Point{10, 47}
	r := routeOf(t, orb.LineString{s.origin, Direct(s.origin, 0, 6000)})
	r.Structures = flagged
	g, err := Sample(context.Background(), s, r, Options{StepM: 5})
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// slope is a hill of 5 % down from a height, with a level stretch at z from a to b.
func slope(fromM, z, a, b float64) func(xM float64) float64 {
	return func(xM float64) float64 {
		if xM >= a && xM <= b {
			return z
		}
		return fromM - .05*xM
	}
}

func missing(g *routes.Ground) (n int) {
	for _, m := range g.Miss {
		if m == terrain.NoGround {
			n++
		}
	}
	return n
}

// What a level stretch under a road is taken for. Each bound has a case on either
// side of it, within 5 %.
func TestLevelStretches(t *testing.T) {
	// A shore 3 m above still water on both sides, from a to b.
	water := func(a, b, before, after float64) func(xM float64) float64 {
		return func(xM float64) float64 {
			switch {
			case xM >= a && xM <= b:
				return 200
			case xM < a:
				return 200 + before + .001*(a-xM)
			}
			return 200 + after + .001*(xM-b)
		}
	}
	const kept, lost, bridged = "kept", "lost", "bridged"
	for _, c := range []struct {
		name    string
		s       levels
		flagged []routes.Structure
		want    string
	}{
		{"a hill over zeros", levels{f: slope(1400, 0, 2000, 3000), kind: terrain.PatchFiller}, nil, lost},
		{"a hill over a basin far below", levels{f: slope(1400, 1200, 2000, 3000), kind: terrain.PatchBasin}, nil, lost},
		{"the same, said to be real", levels{f: slope(1400, 0, 2000, 3000), kind: terrain.PatchFiller, isFlat: true}, nil, kept},
		{"the same on a plain", levels{f: slope(1400, 1275, 2000, 3000), kind: terrain.PatchPlain}, nil, kept},
		{"97 m", levels{f: slope(1400, 0, 2000, 2097), kind: terrain.PatchFiller}, nil, kept},
		{"103 m", levels{f: slope(1400, 0, 1999, 2102), kind: terrain.PatchFiller}, nil, lost},
		{"235 m of 60 m cells", levels{f: slope(1400, 0, 2000, 2237), kind: terrain.PatchFiller, cellM: 60}, nil, kept},
		{"245 m of 60 m cells", levels{f: slope(1400, 0, 1999, 2247), kind: terrain.PatchFiller, cellM: 60}, nil, lost},
		{"to the line's end", levels{f: water(2000, 9000, 3, 3), kind: terrain.PatchBasin}, nil, lost},
		{"water", levels{f: water(2000, 2400, 3, 4), kind: terrain.PatchBasin}, nil, bridged},
		{"water drawn with straight shores", levels{f: water(2000, 2400, 3, 4), kind: terrain.PatchFiller}, nil, bridged},
		{"straight, 780 m", levels{f: water(2000, 2780, 3, 4), kind: terrain.PatchFiller}, nil, bridged},
		{"straight, 820 m", levels{f: water(2000, 2820, 3, 4), kind: terrain.PatchFiller}, nil, lost},
		{"wide water by low shores", levels{f: water(2000, 4000, 3, 4.8), kind: terrain.PatchBasin}, nil, kept},
		{"wide water by higher shores", levels{f: water(2000, 4000, 3, 5.2), kind: terrain.PatchBasin}, nil, bridged},
		{"banks of 58 m", levels{f: water(2000, 2600, 58, 57), kind: terrain.PatchBasin}, nil, bridged},
		{"banks of 62 m", levels{f: water(2000, 2600, 58, 62), kind: terrain.PatchBasin}, nil, lost},
		{"banks 41 m apart over 480 m", levels{f: water(2000, 2480, 3, 43.5), kind: terrain.PatchBasin}, nil, bridged},
		{"banks 43 m apart over 480 m", levels{f: water(2000, 2480, 3, 46), kind: terrain.PatchBasin}, nil, lost},
		{"a bank .96 m below", levels{f: water(2000, 2400, -.98, 3), kind: terrain.PatchBasin}, nil, bridged},
		{"a bank 1.07 m below", levels{f: water(2000, 2400, -1.07, 3), kind: terrain.PatchBasin}, nil, lost},
		{"under a flagged bridge", levels{f: slope(1400, 0, 2000, 3000), kind: terrain.PatchFiller}, []routes.Structure{{Kind: routes.Bridge, FromM: 1990, ToM: 3010, Flagged: true}}, kept},
		{"half under a flagged bridge", levels{f: slope(1400, 0, 2000, 3000), kind: terrain.PatchFiller}, []routes.Structure{{Kind: routes.Bridge, FromM: 1990, ToM: 2500, Flagged: true}}, lost},
		{"whole metres, 190 m", levels{f: slope(1400, 0, 2000, 2190), kind: terrain.PatchFiller, stepM: 1}, nil, kept},
		{"whole metres, 210 m", levels{f: slope(1400, 0, 2000, 2210), kind: terrain.PatchFiller, stepM: 1}, nil, lost},
		{"whole metres, 470 m of 60 m cells", levels{f: slope(1400, 0, 2000, 2472), kind: terrain.PatchFiller, stepM: 1, cellM: 60}, nil, kept},
		{"whole metres, 490 m of 60 m cells", levels{f: slope(1400, 0, 1999, 2492), kind: terrain.PatchFiller, stepM: 1, cellM: 60}, nil, lost},
		{"whole metres, one step at both sides", levels{f: water(2000, 2780, 1.4, -1.4), kind: terrain.PatchFiller, stepM: 1}, nil, kept},
		{"whole metres, 1.6 steps at one side", levels{f: water(2000, 2780, 1.4, -1.6), kind: terrain.PatchFiller, stepM: 1}, nil, lost},
		{"whole metres, one step, longer", levels{f: water(2000, 2820, 1, 1), kind: terrain.PatchFiller, stepM: 1}, nil, lost},
	} {
		s := c.s
		g := sampledLevels(t, &s, c.flagged...)
		got := kept
		if missing(g) > 0 {
			got = lost
		}
		if n := len(g.Structures); n > len(c.flagged) {
			got = bridged
			for _, st := range g.Structures {
				if !st.Flagged && (st.FromM > 2000 || st.ToM < 2380 || st.Kind != routes.Bridge) {
					t.Errorf("%s: %+v", c.name, st)
				}
			}
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s (%d stations missing, %+v)", c.name, got, c.want, missing(g), g.Structures)
		}
		for i, m := range g.Miss {
			if z := heightAt(g, i); (m == terrain.Hit) == math.IsNaN(z) {
				t.Fatalf("%s: station %d: %v, %g m", c.name, i, m, z)
			}
		}
	}
}

// A road on ground of one height throughout has no ground.
func TestNothingButOneHeight(t *testing.T) {
	s := &levels{origin: orb.Point{10, 47}, f: func(float64) float64 { return 0 }, kind: terrain.PatchFiller}
	_, err := Sample(context.Background(), s, routeOf(t, orb.LineString{s.origin, Direct(s.origin, 0, 6000)}), Options{HalfWidthM: -1})
	if !errors.Is(err, terrain.ErrVoid) || !strings.Contains(err.Error(), "one height") || !strings.Contains(err.Error(), "--flat-is-ground") {
		t.Errorf("%v", err)
	}
}

// Honest ground is not looked at twice, so nothing is slower.
func TestHonestGroundIsNotLookedAt(t *testing.T) {
	s := &levels{f: func(xM float64) float64 { return 4 + .02*math.Sin(xM/3) + .001*math.Sin(xM*7919) }, kind: terrain.PatchFiller}
	if g := sampledLevels(t, s); missing(g) > 0 || s.looks > 0 {
		t.Errorf("%d missing, %d looks", missing(g), s.looks)
	}
}

// Crossings keep clear of the flagged structures that they meet.
func TestCrossingsBesideFlagged(t *testing.T) {
	flagged := []routes.Structure{{Kind: routes.Bridge, FromM: 500, ToM: 600, Flagged: true}}
	for _, c := range []struct{ from, to, wantFrom, wantTo float64 }{
		{550, 700, 600, 700}, {400, 550, 400, 500}, {700, 800, 700, 800}, {510, 590, 0, 0},
	} {
		got := withCrossings(flagged, []routes.Structure{{FromM: c.from, ToM: c.to}})
		found := 0
		for _, s := range got {
			if !s.Flagged {
				found++
				if s.FromM != c.wantFrom || s.ToM != c.wantTo {
					t.Errorf("%+v: %+v", c, s)
				}
			}
		}
		if want := map[bool]int{true: 1}[c.wantTo > 0]; found != want {
			t.Errorf("%+v: %+v", c, got)
		}
	}
}
