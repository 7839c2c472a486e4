package survey

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// cone is a round hill.
type cone struct{ grade, footM float64 }

func (g cone) Sample(_ context.Context, points []terrain.Point, out []terrain.Sample) error {
	for i, p := range points {
		xy := xyOf(orb.Point{p.LonDeg, p.LatDeg})
		r := math.Min(math.Hypot(xy[0], xy[1]), g.footM)
		out[i] = terrain.Sample{ElevationM: 2000 - g.grade*(math.Hypot(r, 80)-80), CellM: 10}
	}
	return nil
}
func (cone) Sources() []terrain.Raster { return []terrain.Raster{{Name: "cone", CellM: 10}} }
func (cone) Warnings() []string        { return nil }

// branch is a road down a cone with those that go on from its end.
type branch struct {
	feature  routes.Feature
	isClosed bool // to trucks, or by a turn rule
	on       []*branch
}

// drawBranches draws a road away from a node, and up to three that go on from its end. Classes
// alternate, so that no two roads are joined.
func drawBranches(d *passDrawing, turns *[]routes.Turn, from orb.Point, node int64, headDeg float64, depth int) *branch {
	lengthM := 250 + 600*d.rng.Float64()
	a := headDeg * math.Pi / 180
	p := xyOf(from)
	b := &branch{}
	tags := map[string]string{"highway": []string{"trunk", "tertiary"}[depth%2], "name": fmt.Sprintf("Road %d", len(d.features))}
	if depth > 0 && d.rng.IntN(6) == 0 {
		tags["hgv"], b.isClosed = "no", true
	}
	line, nodes := orb.LineString{from}, []int64{node}
	for k := 1; k <= int(lengthM/20); k++ {
		line, nodes = append(line, drawnAt(p[0]+20*float64(k)*math.Cos(a), p[1]+20*float64(k)*math.Sin(a))), append(nodes, 0)
	}
	if d.rng.IntN(2) == 0 { // drawn against the fall
		line = reversedLine(line)
		nodes = slices.Clone(nodes)
		slices.Reverse(nodes)
	}
	n := len(d.features)
	d.add(line, nodes, tags)
	b.feature = d.features[n]
	end := len(line) - 1
	if line[0] != from {
		end = 0
	}
	if depth == 3 {
		return b
	}
	for k := range 2 + d.rng.IntN(2) {
		c := drawBranches(d, turns, line[end], b.feature.NodeIDs[end], headDeg-70+70*float64(k)+20*d.rng.Float64(), depth+1)
		if d.rng.IntN(8) == 0 {
			*turns = append(*turns, routes.Turn{ID: int64(len(*turns) + 1), FromWays: []int64{int64(b.feature.Place.Feature)}, ToWays: []int64{int64(c.feature.Place.Feature)}, ViaNode: b.feature.NodeIDs[end]})
			c.isClosed = true
		}
		b.on = append(b.on, c)
	}
	return b
}

// On drawn hills with junctions, the advice at a crest is the hardest over all ways down that a truck
// may take, each surveyed as one line, and all of them are listed: also where no road is a descent
// of its own.
func TestAHillIsTheHardestOfAllWaysOn(t *testing.T) {
	seeds := uint64(24)
	if testing.Short() {
		seeds = 6
	}
	o := options(t, 2)
	crests, short, ways, chains := 0, 0, 0, 0
	for seed := uint64(1); seed <= seeds; seed++ {
		d := &passDrawing{rng: rand.New(rand.NewPCG(seed, 1804)), next: 1_000_000}
		var turns []routes.Turn
		g := cone{0.05 + 0.05*d.rng.Float64(), 500 + 1500*d.rng.Float64()}
		root := drawBranches(d, &turns, drawnAt(-200, 0), 1, 20*d.rng.Float64()-10, 0)
		results := surveyNetwork(t, d.features, turns, g, o)
		alone := Options{Classes: o.Classes, Descent: o.Descent, forwardOnly: true}
		var all []Result // the hills from the first road's crest
		var want []string
		longestM, edgeM := 0.0, 0.0 // of all hills, and of those that reach the end of the data
		var walk func(b *branch, way []stationing.Piece, at orb.Point)
		walk = func(b *branch, way []stationing.Piece, at orb.Point) {
			isBack := b.feature.Line[0] != at
			way = append(slices.Clone(way), stationing.Piece{Feature: b.feature, Reversed: isBack})
			r, _ := stationing.Through(way)
			if len(way) > 1 {
				res := One(context.Background(), g, r, alone)
				joinM, endM := r.Ways[len(way)-2].ToM, r.Ways[0].ToM
				for i := range res.Entries {
					if e := &res.Entries[i].Descent; e.StartM < endM-endSlackM && e.EndM > joinM+endSlackM {
						res.Entries = res.Entries[i : i+1]
						all, want = append(all, res), append(want, hillWords(e.LengthM, e.DropM))
						chains += len(way) / 3
						longestM = math.Max(longestM, e.LengthM)
						if len(b.on) == 0 && r.LengthM-e.EndM <= endSlackM {
							edgeM = math.Max(edgeM, e.LengthM)
						}
						break
					}
				}
			}
			for _, c := range b.on {
				if !c.isClosed {
					walk(c, way, r.Line[len(r.Line)-1])
				}
			}
		}
		walk(root, nil, drawnAt(-200, 0))
		ways += len(all)
		name := fmt.Sprintf("seed %d", seed)
		var found []string
		for i := range results {
			for k := range results[i].Entries {
				e := &results[i].Entries[k]
				if e.Descent.Route != root.feature.Tags["name"] || len(e.Descent.GoesOn) == 0 {
					continue
				}
				crests++
				if e.Descent.LengthM < 780 {
					short++
				}
				for _, on := range e.Descent.GoesOn {
					found = append(found, hillWords(on.LengthM, on.DropM))
				}
				for n := range all {
					checkHardest(t, name+", on over "+want[n], e, &all[n])
				}
				if isCut := edgeM >= longestM; isCut != e.Descent.HasFlag(routes.FlagCutByEnd) {
					t.Errorf("%s: the longest hill is cut by the end: %v, flags %q", name, isCut, e.Descent.Flags)
				}
			}
		}
		slices.Sort(found)
		slices.Sort(want)
		if !slices.Equal(found, want) {
			t.Errorf("%s: goes on in %q, all ways: %q", name, found, want)
		}
	}
	t.Logf("%d crests, %d of them on a road of less than 800 m down, %d ways on, %d over more than one further road", crests, short, ways, chains)
	if !testing.Short() && (crests < 18 || short < 15 || chains < 50) {
		t.Error("too few hills")
	}
}

func hillWords(lengthM, dropM float64) string {
	return fmt.Sprintf("%.0f0 m, %.0f m down", lengthM/10, dropM)
}
