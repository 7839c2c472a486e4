package grade

import (
	"context"
	"math"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
	"gradeline/terrain/synth"
)

// synthCase samples a road of package synth along and across its line.
func synthCase(t testing.TB, o synth.Options) *roadCase {
	t.Helper()
	road, err := synth.NewRoad(o)
	if err != nil {
		t.Fatal(err)
	}
	tiles, err := road.Tiles(o.CellM, 512)
	if err != nil {
		t.Fatal(err)
	}
	surfaces := make([]terrain.Surface, len(tiles))
	for i, g := range tiles {
		surfaces[i] = road.Surface(g)
	}
	last := 0
	one, got := make([]terrain.Point, 1), make([]terrain.Sample, 1)
	sample := func(p terrain.Point) terrain.Sample {
		one[0] = p
		best := terrain.Sample{ElevationM: math.NaN(), Source: -1, Miss: terrain.Outside}
		for k := -1; k < len(surfaces); k++ {
			i := k
			if k < 0 {
				i = last
			}
			if err := surfaces[i].Sample(context.Background(), one, got); err != nil {
				t.Fatal(err)
			}
			if got[0].Miss == terrain.Hit {
				last = i
				return got[0]
			}
			if got[0].Miss == terrain.Void {
				best = got[0]
			}
		}
		return best
	}
	step := stepFromCell(o.CellM)
	n := max(3, int(math.Round(road.LengthM/step))+1)
	step = road.LengthM / float64(n-1)
	type xy struct{ x, y float64 }
	at := make([]xy, 0, len(road.Line))
	for _, p := range road.Line {
		x, y := road.XYFromPoint(p)
		at = append(at, xy{x, y})
	}
	pts := make([]xy, n)
	seg, done := 0, 0.0
	for i := range pts {
		s := float64(i) * step
		for {
			l := math.Hypot(at[seg+1].x-at[seg].x, at[seg+1].y-at[seg].y)
			if s <= done+l || seg+2 == len(at) {
				f := (s - done) / l
				pts[i] = xy{at[seg].x + f*(at[seg+1].x-at[seg].x), at[seg].y + f*(at[seg+1].y-at[seg].y)}
				break
			}
			done += l
			seg++
		}
	}
	g := &routes.Ground{StepM: step, LengthM: road.LengthM}
	every := 2.0
	if o.CellM <= 3 {
		every = 1
	}
	for c := -16.0; c <= 16; c += every {
		g.OffsetM = append(g.OffsetM, c)
	}
	rc := &roadCase{ground: g}
	for _, st := range road.Structures {
		if !st.Flagged {
			continue
		}
		k := routes.Bridge
		if st.Kind == "tunnel" {
			k = routes.Tunnel
		}
		g.Structures = append(g.Structures, routes.Structure{Kind: k, FromM: st.FlagFromM, ToM: st.FlagToM, Flagged: true})
	}
	rc.struc = g.Structures
	cols := len(g.OffsetM)
	out := make([]terrain.Sample, cols)
	k := max(1, int(math.Round(5/step)))
	for i, p := range pts {
		a, b := pts[max(0, i-k)], pts[min(n-1, i+k)]
		dx, dy := b.x-a.x, b.y-a.y
		h := math.Hypot(dx, dy)
		for c, o := range g.OffsetM {
			out[c] = sample(road.PointFromXY(p.x+o*dy/h, p.y-o*dx/h))
		}
		for c := range out {
			v := float32(out[c].ElevationM)
			if out[c].Miss != terrain.Hit {
				v = float32(math.NaN())
			}
			g.SectionM = append(g.SectionM, v)
		}
		mid := out[cols/2]
		g.Miss = append(g.Miss, mid.Miss)
		g.CellM = append(g.CellM, mid.CellM)
		g.Source = append(g.Source, mid.Source)
		q := road.PointFromXY(p.x, p.y)
		g.Points = append(g.Points, orb.Point{q.LonDeg, q.LatDeg})
		g.RadiusM = append(g.RadiusM, math.Inf(1))
		s := float64(i) * step
		rc.truth = append(rc.truth, road.TruthAtM(math.Min(s, road.TruthStationM[len(road.TruthStationM)-1])))
		j := min(int(s/5+0.5), len(road.TruthOffsetM)-1)
		rc.roadOff = append(rc.roadOff, road.TruthOffsetM[j])
	}
	return rc
}
