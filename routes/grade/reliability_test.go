package grade

import (
	"flag"
	"fmt"
	"math"
	"sync"
	"testing"

	"gradeline/routes"
	"gradeline/terrain"
	"gradeline/terrain/synth"
)

var reliabilityFrom = flag.Uint64("reliability.from", reliabilitySeeds, "first seed of BenchmarkReliability")

var reliabilityRoads = flag.Int("reliability.roads", 150, "exact roads of BenchmarkReliability at each cell size; the other kinds of line have a sixth of that each")

// reliabilitySeeds is the first seed of the roads on which the rates in NOTES.md were measured.
// They were drawn after all limits were fixed.
const reliabilitySeeds = 43001

// lineKind is the way in which a road's line was drawn.
type lineKind struct {
	name              string
	besideM, eachM    float64
	lines, unreliable int
	off, offFound     int // lines whose means are off beyond their bounds, and those of them that are unreliable
}

// isOff reports whether means over 1 km are outside their bounds in more than 15 of 100 places. It
// compares with the road itself, whose length differs from that of a line that cuts its bends.
func isOff(t testing.TB, exact *synth.Road, o synth.Options) (off, reliable bool) {
	rc := synthCase(t, o)
	p := mustRecover(t, rc.ground, Options{})
	onRoad := newNearest(exact)
	places, wrong := 0, 0
	for s := 0.0; s+1000 <= p.LengthM; s += 100 {
		a, b := onRoad.stationM(p, s), onRoad.stationM(p, s+1000)
		got := 100 * (p.ElevationAtM(s+1000) - p.ElevationAtM(s)) / 1000
		if math.IsNaN(got) || b-a < 500 {
			continue
		}
		want := 100 * (exact.TruthAtM(b) - exact.TruthAtM(a)) / (b - a)
		places++
		if math.Abs(got-want) > p.MeanErrPct(s, s+1000) {
			wrong++
		}
	}
	return places > 0 && float64(wrong) > .15*float64(places), p.Reliable
}

// nearest finds the places of another line on a road's own line.
type nearest struct {
	road    *synth.Road
	x, y, s []float64
}

func newNearest(r *synth.Road) *nearest {
	n := &nearest{road: r}
	for i, p := range r.Line {
		x, y := r.XYFromPoint(p)
		s := 0.0
		if i > 0 {
			s = n.s[i-1] + math.Hypot(x-n.x[i-1], y-n.y[i-1])
		}
		n.x, n.y, n.s = append(n.x, x), append(n.y, y), append(n.s, s)
	}
	return n
}

func (n *nearest) stationM(p *routes.Profile, atM float64) float64 {
	g := p.PointAt(atM)
	px, py := n.road.XYFromPoint(terrain.Point{LonDeg: g[0], LatDeg: g[1]})
	best, at := math.Inf(1), 0.0
	for i := 0; i+1 < len(n.x); i++ {
		// a line and its road run in parallel, so hairpins that pass close can be distinguished
		if math.Abs(n.s[i]/n.s[len(n.s)-1]-atM/p.EndM()) > .15 {
			continue
		}
		dx, dy := n.x[i+1]-n.x[i], n.y[i+1]-n.y[i]
		t := math.Max(0, math.Min(1, ((px-n.x[i])*dx+(py-n.y[i])*dy)/(dx*dx+dy*dy)))
		if d := math.Hypot(px-n.x[i]-t*dx, py-n.y[i]-t*dy); d < best {
			best, at = d, n.s[i]+t*(n.s[i+1]-n.s[i])
		}
	}
	return at
}

// BenchmarkReliability prints how many exact lines are reported as unreliable, and how many of the
// displaced and generalised lines whose means are off.
func BenchmarkReliability(b *testing.B) {
	for b.Loop() {
		for _, cellM := range []float64{90, 30, 10} {
			kinds := []*lineKind{{name: "exact"}, {name: "50 m beside", besideM: 50}, {name: "100 m beside", besideM: 100}, {name: "200 m beside", besideM: 200},
				{name: "a vertex each 100 m", eachM: 100}, {name: "a vertex each 300 m", eachM: 300}, {name: "a vertex each 600 m", eachM: 600}}
			measureReliability(b, cellM, kinds)
			off, found := 0, 0
			for _, k := range kinds {
				fmt.Printf("%g m cells, %s: %d of %d unreliable; off beyond the bound %d, of them unreliable %d\n", cellM, k.name, k.unreliable, k.lines, k.off, k.offFound)
				if k.name != "exact" {
					off, found = off+k.off, found+k.offFound
				}
			}
			fmt.Printf("%g m cells: false alarms %.1f %%; found of those off %d of %d, %.1f %%\n", cellM, 100*float64(kinds[0].unreliable)/float64(kinds[0].lines), found, off, 100*float64(found)/float64(off))
		}
	}
}

func measureReliability(b *testing.B, cellM float64, kinds []*lineKind) {
	type job struct {
		kind *lineKind
		seed uint64
	}
	jobs := make(chan job)
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range 2 {
		wg.Go(func() {
			for j := range jobs {
				o := synth.Options{Seed: j.seed, CellM: cellM, LengthM: 8000}
				exact, err := synth.NewRoad(o)
				if err != nil {
					b.Error(err)
					continue
				}
				o.VertexEveryM = j.kind.eachM
				o.LateralConstM = j.kind.besideM
				if j.seed%2 == 1 {
					o.LateralConstM = -o.LateralConstM
				}
				off, reliable := isOff(b, exact, o)
				mu.Lock()
				j.kind.lines++
				if !reliable {
					j.kind.unreliable++
				}
				if off {
					j.kind.off++
					if !reliable {
						j.kind.offFound++
					}
				}
				mu.Unlock()
			}
		})
	}
	for _, k := range kinds {
		n := *reliabilityRoads
		if k.name != "exact" {
			n = (n + 5) / 6
		}
		for i := range n {
			jobs <- job{k, *reliabilityFrom + uint64(i)}
		}
	}
	close(jobs)
	wg.Wait()
}
