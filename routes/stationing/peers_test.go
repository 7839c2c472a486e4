package stationing

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/terrain"
)

// field is a raster in memory: cells of 30 m on a plane around an origin, read
// bilinearly.
type field struct {
	n    int
	z    []float64
	east float64 // how far it is moved, metres
	nrth float64
}

const fieldCellM = 30.0

func (f *field) at(e, n float64) float64 {
	x, y := (e-f.east)/fieldCellM+float64(f.n)/2, (n-f.nrth)/fieldCellM+float64(f.n)/2
	i, j := int(math.Floor(x)), int(math.Floor(y))
	if i < 0 || j < 0 || i+1 >= f.n || j+1 >= f.n {
		return math.NaN()
	}
	u, v := x-float64(i), y-float64(j)
	at := func(a, b int) float64 { return f.z[b*f.n+a] }
	return (1-v)*((1-u)*at(i, j)+u*at(i+1, j)) + v*((1-u)*at(i, j+1)+u*at(i+1, j+1))
}

// rollingM is the true ground: rounded hills of some 2 km.
func rollingM(e, n float64) float64 {
	return 800 + 60*math.Sin(e/330)*math.Cos(n/410) + 8*math.Sin(e/95+n/130)
}

// observed is the true ground with an error of its own: .3 of its variance white, the
// rest correlated over some 100 m, as missions of 30 m are (sigma 2.5 m).
func observed(seed uint64, sigmaM float64) *field {
	rng := rand.New(rand.NewPCG(seed, 7))
	f := &field{n: 500}
	white := make([]float64, f.n*f.n)
	for i := range white {
		white[i] = rng.NormFloat64()
	}
	f.z = make([]float64, f.n*f.n)
	for j := range f.n {
		for i := range f.n {
			sum, norm := 0.0, 0.0
			for dj := -3; dj <= 3; dj++ {
				for di := -3; di <= 3; di++ {
					if a, b := i+di, j+dj; a >= 0 && b >= 0 && a < f.n && b < f.n {
						w := math.Exp(-float64(di*di+dj*dj) / 4)
						sum += w * white[b*f.n+a]
						norm += w * w
					}
				}
			}
			e, n := (float64(i)-float64(f.n)/2)*fieldCellM, (float64(j)-float64(f.n)/2)*fieldCellM
			f.z[j*f.n+i] = rollingM(e, n) + sigmaM*(math.Sqrt(.7)*sum/math.Sqrt(norm)+math.Sqrt(.3)*rng.NormFloat64())
		}
	}
	return f
}

// changed is a field made of another cell by cell, on a grid moved by some metres.
func (f *field) changed(east, nrth float64, change func(e, n, z float64) float64) *field {
	out := &field{n: f.n, z: make([]float64, len(f.z)), east: east, nrth: nrth}
	for j := range f.n {
		for i := range f.n {
			e, n := (float64(i)-float64(f.n)/2)*fieldCellM+east, (float64(j)-float64(f.n)/2)*fieldCellM+nrth
			z := f.at(math.Max(-7400, math.Min(7400, e)), math.Max(-7400, math.Min(7400, n)))
			out.z[j*f.n+i] = change(e, n, z)
		}
	}
	return out
}

// fields is a surface of some fields over each other, each a mosaic of one source.
type fields struct {
	origin orb.Point
	list   []*field
	datums []string
}

func (s *fields) SampleMosaic(ctx context.Context, mosaic int, points []terrain.Point, out []float64) error {
	m := metricAt(s.origin[1])
	for i, p := range points {
		e, n := m.deltaM(s.origin, orb.Point{p.LonDeg, p.LatDeg})
		out[i] = s.list[mosaic].at(e, n)
	}
	return ctx.Err()
}

func (s *fields) Sample(ctx context.Context, points []terrain.Point, out []terrain.Sample) error {
	z := make([]float64, len(points))
	if err := s.SampleMosaic(ctx, 0, points, z); err != nil {
		return err
	}
	for i := range z {
		out[i] = terrain.Sample{ElevationM: z[i], CellM: fieldCellM}
		if z[i] != z[i] {
			out[i] = terrain.Sample{ElevationM: z[i], Source: -1, Miss: terrain.Outside}
		}
	}
	return ctx.Err()
}

func (s *fields) Mosaic(source int16) int { return int(source) }
func (s *fields) Peers(mosaic int) []int {
	var out []int
	for i := range s.list {
		if i != mosaic {
			out = append(out, i)
		}
	}
	return out
}

func (s *fields) MosaicDatum(mosaic int) string {
	if mosaic < len(s.datums) {
		return s.datums[mosaic]
	}
	return "unknown"
}
func (s *fields) Sources() []terrain.Raster { return make([]terrain.Raster, len(s.list)) }
func (s *fields) Warnings() []string        { return nil }

// errorOf is the error of the sampled heights over the true ground, rms, along a road
// of 13 km that winds through the fields.
func errorOf(t *testing.T, list ...*field) (rmsM float64, err error) {
	t.Helper()
	s := &fields{origin: orb.Point{11, 46}, list: list}
	line := orb.LineString{Direct(Direct(s.origin, 270, 5500), 180, 2000)}
	for k := range 260 {
		line = append(line, Direct(line[len(line)-1], 70+35*math.Sin(float64(k)/9), 50))
	}
	g, err := Sample(context.Background(), s, routeOf(t, line), Options{HalfWidthM: -1})
	if err != nil {
		return 0, err
	}
	m := metricAt(s.origin[1])
	sum, n := 0.0, 0
	for i, p := range g.Points {
		if z := heightAt(g, i); z == z {
			e, nn := m.deltaM(s.origin, p)
			d := z - rollingM(e, nn)
			sum += d * d
			n++
		}
	}
	return math.Sqrt(sum / float64(n)), nil
}

// Independent observations are averaged: the error falls as the root of their number,
// nearly. Copies, resamplings and shifted copies change not a bit, and neither do
// rasters that stand higher or hold trees.
func TestPeersAreAveragedByWhatTheyAdd(t *testing.T) {
	a, b, c := observed(1, 2.5), observed(2, 2.5), observed(3, 2.5)
	same := func(e, n, z float64) float64 { return z }
	alone, err := errorOf(t, a)
	if err != nil {
		t.Fatal(err)
	}
	two, err := errorOf(t, a, b)
	if err != nil {
		t.Fatal(err)
	}
	three, err := errorOf(t, a, b, c)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("one %.2f m, two %.2f, three %.2f", alone, two, three)
	if two > .8*alone || three > .68*alone {
		t.Errorf("one raster %.2f m, two %.2f, three %.2f", alone, two, three)
	}
	rng := rand.New(rand.NewPCG(9, 9))
	for name, other := range map[string]*field{
		"a copy":                          a.changed(0, 0, same),
		"moved by 12 m, resampled":        a.changed(12, 0, same),
		"moved by half a cell, resampled": a.changed(15, 15, same),
		"a copy displaced by half a cell": {n: a.n, z: a.z, east: 15},
		"a copy displaced by a cell":      {n: a.n, z: a.z, east: 30, nrth: 30},
		"a copy displaced by nearly two":  {n: a.n, z: a.z, east: -50, nrth: 20},
		"a copy rounded to whole metres":  a.changed(0, 0, func(e, n, z float64) float64 { return math.Round(z) }),
		"a copy 2 m higher":               a.changed(0, 0, func(e, n, z float64) float64 { return z + 2 }),
		"independent, but 12 m higher":    b.changed(0, 0, func(e, n, z float64) float64 { return z + 12 }),
		"independent, with woods": b.changed(0, 0, func(e, n, z float64) float64 {
			if math.Sin(e/160)+math.Cos(n/190) > .6 {
				return z + 7 + 7*rng.Float64()
			}
			return z
		}),
	} {
		got, err := errorOf(t, a, other)
		if err != nil || got != alone {
			t.Errorf("%s: %.3f m, alone %.3f, %v", name, got, alone, err)
		}
	}
	// Copies beside an independent one add nothing to it.
	withCopy, err := errorOf(t, a, b, a.changed(12, 0, same), b.changed(0, 15, same))
	if err != nil || withCopy != two {
		t.Errorf("with copies %.3f m, without %.3f, %v", withCopy, two, err)
	}
	// A much noisier raster counts little, and never spoils.
	poor, err := errorOf(t, a, observed(5, 7))
	if err != nil || poor > alone {
		t.Errorf("with a poor raster %.2f m, alone %.2f, %v", poor, alone, err)
	}
}

// Two datums over one road are refused; an unknown one is not.
func TestPeersOfTwoDatumsAreRefused(t *testing.T) {
	s := &fields{origin: orb.Point{11, 46}, list: []*field{observed(1, 2.5), observed(2, 2.5)}, datums: []string{"EGM96", "EGM2008"}}
	line := orb.LineString{Direct(s.origin, 270, 5000), Direct(s.origin, 90, 5000)}
	if _, err := Sample(context.Background(), s, routeOf(t, line), Options{HalfWidthM: -1}); !errors.Is(err, terrain.ErrMixedDatum) {
		t.Errorf("%v", err)
	}
	s.datums[1] = "unknown"
	if _, err := Sample(context.Background(), s, routeOf(t, line), Options{HalfWidthM: -1}); err != nil {
		t.Error(err)
	}
}

// The least-error mean of independent observations weighs by the inverse of their
// variances: 1 and 2 m make .8 and .2.
func TestPeerWeights(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	made := func(sd float64, common []float64) peer {
		p := peer{roughM: sd}
		for i := range 4000 {
			p.roughness = append(p.roughness, sd*rng.NormFloat64()+common[i])
		}
		return p
	}
	w := weights([]peer{made(1, make([]float64, 4000)), made(2, make([]float64, 4000))})
	if math.Abs(w[0]-.8) > .02 || math.Abs(w[0]+w[1]-1) > 1e-12 {
		t.Errorf("%v", w)
	}
}
