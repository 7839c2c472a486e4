package raster

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"gradeline/terrain"
)

const (
	// Two surfaces of the same ground may differ in the median for two reasons. stepM allows
	// for the difference of vertical datums in one country and the errors of good rasters.
	// stepPerCell allows for a shift of half a coarser cell on a hillside of 30 %. Heights
	// above the ellipsoid differ from heights above the geoid by some 10 to 60 m in most
	// countries (from memory), feet read as metres by far more.
	stepM, stepPerCell = 3.0, 0.15

	mostPairs      = 50      // compared; the largest overlaps
	mostFoundPairs = 5000    // examined
	mostTries      = 1 << 20 // pairs of tiles examined for one pair of mosaics
	spotSide       = 5       // points each way in one spot
	spotSpots      = 4       // spots wanted …
	mostSpots      = 12      // … and the most that are tried, since some are in voids
	leastCompared  = 20      // points for a verdict
	mostCompared   = 400     // places examined for one pair
)

// pair is two mosaics whose boxes overlap.
type pair struct {
	a, b  int // layers, the finer first
	box   [4]float64
	areaD float64
}

// box4 is west, south, east, north in degrees, west within ±180.
func box4(b [4]float64) [4]float64 {
	turn := 360 * math.Floor((b[0]+180)/360)
	b[0] -= turn
	b[2] -= turn
	return b
}

func meet(a, b [4]float64) ([4]float64, bool) {
	o := [4]float64{math.Max(a[0], b[0]), math.Max(a[1], b[1]), math.Min(a[2], b[2]), math.Min(a[3], b[3])}
	return o, o[0] < o[2] && o[1] < o[3]
}

// findPairs lists local mosaics that overlap, the largest overlaps first.
func (s *Surface) findPairs() {
	type side struct {
		n   int
		box [4]float64
	}
	var sides []side
	for n, l := range s.layers {
		if !l.remote {
			sides = append(sides, side{n, box4(l.bounds)})
		}
	}
	slices.SortStableFunc(sides, func(x, y side) int { return cmp.Compare(x.box[0], y.box[0]) })
	for i := range sides {
		for k := i + 1; k < len(sides) && sides[k].box[0] < sides[i].box[2] && len(s.pairs) < mostFoundPairs; k++ {
			la, lb := s.layers[sides[i].n], s.layers[sides[k].n]
			if la.datum != lb.datum && la.datum != "unknown" && lb.datum != "unknown" {
				continue // reported as an error where they meet
			}
			if o, ok := meet(sides[i].box, sides[k].box); ok {
				s.pairs = append(s.pairs, &pair{a: min(sides[i].n, sides[k].n), b: max(sides[i].n, sides[k].n), box: o, areaD: (o[2] - o[0]) * (o[3] - o[1])})
			}
		}
	}
	slices.SortStableFunc(s.pairs, func(x, y *pair) int {
		return cmp.Or(cmp.Compare(y.areaD, x.areaD), cmp.Compare(x.a, y.a), cmp.Compare(x.b, y.b))
	})
	if len(s.pairs) > mostPairs {
		s.warn.add("", fmt.Sprintf("the rasters form %d mosaics that overlap in more than %d pairs; only the largest overlaps are checked for a step in height", len(s.layers), mostPairs))
		s.pairs = s.pairs[:mostPairs]
	}
}

// only returns the heights of one mosaic alone, NaN where it has none.
func (s *Surface) only(l *layer, points []terrain.Point) []float64 {
	out := make([]float64, len(points))
	sc := s.scratch.Get().(*scratch)
	defer s.scratch.Put(sc)
	sc.idx = sc.idx[:0]
	for i := range points {
		sc.idx = append(sc.idx, int32(i))
		out[i] = math.NaN()
	}
	sc.resize(len(points))
	l.project(points, sc)
	// A comparison that was begun is finished even if the call is cancelled.
	if s.readLayer(context.Background(), l, sc) != nil {
		return out
	}
	for k := range sc.idx {
		if sc.st[k] == stHit {
			out[k] = sc.u[k]
		}
	}
	return out
}

// spot is a small square in the overlap of two tiles.
type spot struct {
	a, b *tile
	box  [4]float64 // the overlap, degrees
	x, y float64    // where in it, 0 to 1
}

// spots returns places in the overlaps of tiles of a and b, spread over both.
func (s *Surface) spots(a, b *layer) []spot {
	ab, bb := box4(a.bounds), box4(b.bounds)
	in := func(l *layer, o [4]float64) (out []*tile) {
		for _, t := range l.tiles {
			if _, ok := meet(box4(t.Bounds), o); ok {
				out = append(out, t)
			}
		}
		return out
	}
	tas, tbs := in(a, bb), in(b, ab)
	var found []spot
	tries := 0
	// Tiles of a in an order that spreads from the start: every 64th, 32nd …
	for step := 64; step >= 1; step /= 2 {
		for i := 0; i < len(tas); i += step {
			if step < 64 && i%(2*step) == 0 {
				continue // already done
			}
			if len(found) >= spotSpots || tries > mostTries {
				step = 0
				break
			}
			for _, tb := range tbs {
				tries++
				if o, ok := meet(box4(tas[i].Bounds), box4(tb.Bounds)); ok {
					found = append(found, spot{a: tas[i], b: tb, box: o})
					break
				}
			}
		}
		if step == 0 {
			break
		}
	}
	var out []spot
	for _, at := range [][2]float64{{.5, .5}, {.25, .3}, {.75, .7}, {.3, .75}, {.7, .25}, {.1, .1}, {.9, .9}, {.1, .9}, {.9, .1}, {.5, .15}, {.5, .85}, {.15, .5}} {
		for _, f := range found {
			f.x, f.y = at[0], at[1]
			out = append(out, f)
		}
	}
	return out
}

// points lays the points of a spot a coarser cell apart, closer in a narrow overlap.
func (sp *spot) points(cellM float64) []terrain.Point {
	const mPerDeg = 111195.0 // of latitude; precise enough for a spacing
	w, h := sp.box[2]-sp.box[0], sp.box[3]-sp.box[1]
	lon, lat := sp.box[0]+sp.x*w, sp.box[1]+sp.y*h
	dLat := math.Min(cellM/mPerDeg, h/(4*spotSide))
	dLon := math.Min(cellM/mPerDeg/math.Max(.05, math.Cos(lat*math.Pi/180)), w/(4*spotSide))
	var out []terrain.Point
	for i := range spotSide {
		for k := range spotSide {
			x := lon + float64(i-spotSide/2)*dLon
			out = append(out, terrain.Point{LonDeg: x - 360*math.Floor((x+180)/360), LatDeg: lat + float64(k-spotSide/2)*dLat})
		}
	}
	return out
}
