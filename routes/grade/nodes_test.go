package grade

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"gradeline/routes"
	"gradeline/terrain/synth"
)

var (
	nodesFrom  = flag.Uint64("nodes.from", 47001, "first seed of BenchmarkNodes")
	nodesRoads = flag.Int("nodes.roads", 30, "roads of BenchmarkNodes at each cell size")
)

// cutGround is the ground of a part of a line that is a line of its own.
func cutGround(g *routes.Ground, from, to int) *routes.Ground {
	w := len(g.OffsetM)
	c := &routes.Ground{StepM: g.StepM, LengthM: float64(to-from) * g.StepM, OffsetM: g.OffsetM, SectionM: g.SectionM[from*w : (to+1)*w], Points: g.Points[from : to+1],
		RadiusM: g.RadiusM[from : to+1], SurfaceModel: g.SurfaceModel}
	if len(g.Miss) > 0 {
		c.Miss = g.Miss[from : to+1]
	}
	if len(g.CellM) > 0 {
		c.CellM = g.CellM[from : to+1]
	}
	if len(g.Source) > 0 {
		c.Source = g.Source[from : to+1]
	}
	fromM := float64(from) * g.StepM
	for _, s := range g.Structures {
		if s.ToM > fromM && s.FromM < fromM+c.LengthM {
			s.FromM, s.ToM = math.Max(0, s.FromM-fromM), math.Min(c.LengthM, s.ToM-fromM)
			c.Structures = append(c.Structures, s)
		}
	}
	return c
}

// nodeGap is how far two grade lines differ at the node that they share, and what they say of it.
type nodeGap struct {
	apartM, boundM  float64
	offM            float64 // the one that is further from the truth
	isEitherDoubted bool
}

// BenchmarkNodes prints how far the grade lines of two roads differ at a shared node, in
// their bounds: drawn roads, half their structures without a tag, cut at random places, each part
// recovered alone; and the complete road against a part, as a side road meets a main road.
func BenchmarkNodes(b *testing.B) {
	for b.Loop() {
		for _, cellM := range []float64{10, 30, 90} {
			var mu sync.Mutex
			var wg sync.WaitGroup
			kinds := map[string][]nodeGap{}
			seeds := make(chan uint64)
			for range 2 {
				wg.Go(func() {
					for seed := range seeds {
						ends, inner := nodeGaps(b, synth.Options{Seed: seed, CellM: cellM, LengthM: 9000})
						mu.Lock()
						kinds["end to end"] = append(kinds["end to end"], ends...)
						kinds["end to middle"] = append(kinds["end to middle"], inner...)
						mu.Unlock()
					}
				})
			}
			for i := range *nodesRoads {
				seeds <- *nodesFrom + uint64(i)
			}
			close(seeds)
			wg.Wait()
			for _, kind := range []string{"end to end", "end to middle"} {
				printGaps(cellM, kind, kinds[kind])
			}
		}
	}
}

func nodeGaps(b *testing.B, o synth.Options) (ends, inner []nodeGap) {
	rc := synthCase(b, o)
	road, err := synth.NewRoad(o)
	if err != nil {
		b.Error(err)
		return nil, nil
	}
	whole := mustRecover(b, rc.ground, Options{})
	n := rc.ground.Count()
	d := rand.New(rand.NewPCG(o.Seed, 77))
	for range 3 {
		k := n/6 + d.IntN(2*n/3)
		left, right := mustRecover(b, cutGround(rc.ground, 0, k), Options{}), mustRecover(b, cutGround(rc.ground, k, n-1), Options{})
		at := float64(k) * rc.ground.StepM
		truthM := road.TruthAtM(at)
		gap := func(a *routes.Profile, aM float64, c *routes.Profile, cM float64) nodeGap {
			za, zc := a.ElevationAtM(aM), c.ElevationAtM(cM)
			return nodeGap{math.Abs(za - zc), math.Hypot(a.ElevationErrM(aM), c.ElevationErrM(cM)), math.Max(math.Abs(za-truthM), math.Abs(zc-truthM)), a.IsDoubtful(aM, aM) || c.IsDoubtful(cM, cM)}
		}
		ends = append(ends, gap(left, left.LengthM, right, 0))
		inner = append(inner, gap(left, left.LengthM, whole, at), gap(right, 0, whole, at))
	}
	return ends, inner
}

func printGaps(cellM float64, kind string, gaps []nodeGap) {
	var shares []float64
	var apart [4]int
	off, offSeen, doubted := 0, 0, 0
	for _, g := range gaps {
		x := g.apartM / math.Max(3, g.boundM)
		shares = append(shares, x)
		for i, limit := range []float64{1, 1.5, 2, 3} {
			if x > limit {
				apart[i]++
			}
		}
		if g.offM > math.Max(8, 2*g.boundM/math.Sqrt2) {
			off++
			if x > 1 {
				offSeen++
			}
			if g.isEitherDoubted {
				doubted++
			}
		}
	}
	slices.Sort(shares)
	fmt.Printf("%g m cells, %s: %d nodes; apart in bounds: median %.2f, 95 %% %.2f, most %.2f; over 1, 1.5, 2, 3 bounds: %v; off by two bounds and 8 m: %d, of them apart %d, in doubt anyway %d\n",
		cellM, kind, len(gaps), shares[len(shares)/2], shares[len(shares)*95/100], shares[len(shares)-1], apart, off, offSeen, doubted)
}
