package synth

import (
	"context"
	"math"
	"testing"

	"gradeline/terrain"
)

func road(t *testing.T, o Options) *Road {
	t.Helper()
	r, err := NewRoad(o)
	if err != nil {
		t.Fatalf("seed %d: %v", o.Seed, err)
	}
	return r
}

func grid(t *testing.T, r *Road, cellM float64) *terrain.Grid {
	t.Helper()
	g, err := r.Grid(cellM)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func sameBits(a, b []float32) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if math.Float32bits(a[i]) != math.Float32bits(b[i]) {
			return false
		}
	}
	return true
}

func TestSeedGivesTheSameRoadTwice(t *testing.T) {
	o := Options{Seed: Tuning[0], LengthM: 4000}
	a, b := road(t, o), road(t, o)
	ga, gb := grid(t, a, 10), grid(t, b, 10)
	if !sameBits(ga.ElevationM, gb.ElevationM) || len(a.Line) != len(b.Line) || a.Line[1] != b.Line[1] || a.LengthM != b.LengthM {
		t.Error("two makings of one seed differ")
	}
	o.Seed++
	if sameBits(ga.ElevationM, grid(t, road(t, o), 10).ElevationM) {
		t.Error("another seed gives the same raster")
	}
}

// A knob changes only what it names.
func TestKnobsAreIndependent(t *testing.T) {
	a := road(t, Options{Seed: Tuning[1], LengthM: 5000})
	b := road(t, Options{Seed: Tuning[1], LengthM: 5000, UnflaggedShare: -1, NoiseScale: 2, LateralConstM: 3})
	if len(a.Structures) == 0 || len(a.Structures) != len(b.Structures) {
		t.Fatalf("structures %d and %d", len(a.Structures), len(b.Structures))
	}
	for i, s := range b.Structures {
		if !s.Flagged || s.Kind != a.Structures[i].Kind || s.DepartureM != a.Structures[i].DepartureM {
			t.Errorf("structure %d: %+v against %+v", i, s, a.Structures[i])
		}
	}
	if a.align.z[100] != b.align.z[100] || a.align.x[100] != b.align.x[100] {
		t.Error("noise or flags moved the true road")
	}
}

func TestSeedSetsAreDisjoint(t *testing.T) {
	seen := map[uint64]bool{}
	for _, set := range [][]uint64{Tuning, Testing, HoldOut, Bounds} {
		for _, s := range set {
			if seen[s] {
				t.Errorf("seed %d is in two sets", s)
			}
			seen[s] = true
		}
	}
	if len(seen) != 24+126+160+200 {
		t.Errorf("%d seeds", len(seen))
	}
}

func TestBadOptionsAreFaults(t *testing.T) {
	for _, o := range []Options{{LengthM: 100}, {LengthM: math.NaN()}, {DesignSpeedKMH: 200}, {NoiseScale: math.Inf(1)}, {BenchHalfWidthM: -1}} {
		if _, err := NewRoad(o); err == nil {
			t.Errorf("%+v accepted", o)
		}
	}
	r := road(t, Options{Seed: 1, LengthM: 2000})
	if _, err := r.Grid(0); err == nil {
		t.Error("a grid without a cell size")
	}
	if _, err := r.Tiles(1, 3); err == nil {
		t.Error("tiles of three cells")
	}
}

// At 1 m, without noise, the road is flat across its bench and at its true height.
func TestBenchIsFlatAcross(t *testing.T) {
	r := road(t, Options{Seed: Tuning[2], LengthM: 3000, NoiseScale: -1, VoidsPerKM: -1, StructuresPerKM: -1, BenchHalfWidthM: 6})
	s := r.Surface(grid(t, r, 1))
	a := r.align
	var pts []terrain.Point
	var want []float64
	for i := 20; i < len(a.x)-20; i += 3 {
		rx, ry := a.rightOf(i)
		for o := -4.0; o <= 4; o += 2 {
			pts = append(pts, r.PointFromXY(a.x[i]+o*rx, a.y[i]+o*ry))
			want = append(want, a.z[i])
		}
	}
	out := make([]terrain.Sample, len(pts))
	if err := s.Sample(context.Background(), pts, out); err != nil {
		t.Fatal(err)
	}
	for i := range out {
		// rightOf is a mean of two chords: the foot is off by less than 0.3 m in a
		// curve, times 9 %
		if out[i].Miss != terrain.Hit || math.Abs(out[i].ElevationM-want[i]) > 0.05 {
			t.Fatalf("point %d: %v %.3f m, want %.3f m", i, out[i].Miss, out[i].ElevationM, want[i])
		}
	}
}

// The noise has the asked standard deviation and, along a line, the asked length.
func TestNoiseIsAsAsked(t *testing.T) {
	for _, cellM := range []float64{10, 30, 90} {
		o := Options{Seed: Tuning[3], LengthM: 4e3 + 180*cellM, VoidsPerKM: -1}
		noisy := road(t, o)
		o.NoiseScale = -1
		clean := grid(t, road(t, o), cellM)
		g := grid(t, noisy, cellM)
		sum, sum2, n := 0.0, 0.0, 0.0
		for i := range g.ElevationM {
			if d := float64(g.ElevationM[i] - clean.ElevationM[i]); d == d {
				sum, sum2, n = sum+d, sum2+d*d, n+1
			}
		}
		got := math.Sqrt(sum2/n - pow2(sum/n))
		if want := NoiseSigmaM(cellM); math.Abs(got/want-1) > 0.12 { // one draw of a correlated field
			t.Errorf("cell %g m: noise %.3f m, want %.3f m over %.0f cells", cellM, got, want, n)
		}
	}
	for c, want := range map[float64]float64{1: 0.15, 10: 1, 30: 2.5, 90: 4} {
		if math.Abs(NoiseSigmaM(c)-want) > 1e-12 {
			t.Errorf("sigma at %g m is %g", c, NoiseSigmaM(c))
		}
	}
}

// The random field has unit variance and the slope that its comment states.
func TestFieldHasUnitVariance(t *testing.T) {
	d := newDice(7, 7)
	f := newField(d, newNormals(d), 10)
	var s2, g2, n float64
	for x := 0.0; x < 2500; x += 3.7 {
		for y := 0.0; y < 2500; y += 11.3 {
			v, w := f.valueAt(x, y), f.valueAt(x+0.01, y)
			s2, g2, n = s2+v*v, g2+pow2((w-v)/0.01), n+1
		}
	}
	if v := s2 / n; math.Abs(v-1) > 0.02 {
		t.Errorf("variance %.4f", v)
	}
	if v := g2 / n * 100 / fieldSlope2; math.Abs(v-1) > 0.02 {
		t.Errorf("slope variance %.4f of the stated one", v)
	}
}

// Tiles hold exactly the cells of the whole grid.
func TestTilesAgreeWithGrid(t *testing.T) {
	r := road(t, Options{Seed: Tuning[4], LengthM: 2500})
	g := grid(t, r, 10)
	tiles, err := r.Tiles(10, 48)
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, tl := range tiles {
		c0 := int(math.Round((tl.WestX - g.WestX) / 10))
		r0 := int(math.Round((g.NorthY - tl.NorthY) / 10))
		for j := 0; j < tl.Rows; j++ {
			for i := 0; i < tl.Cols; i++ {
				a, b := tl.ElevationM[j*tl.Cols+i], g.ElevationM[(r0+j)*g.Cols+c0+i]
				if math.Float32bits(a) != math.Float32bits(b) {
					t.Fatalf("cell %d,%d: tile %v, grid %v", c0+i, r0+j, a, b)
				}
				if a == a {
					seen++
				}
			}
		}
	}
	if len(tiles) < 4 || seen == 0 {
		t.Errorf("%d tiles with %d heights", len(tiles), seen)
	}
}

// The in-memory surface gives a cell's own height at its centre, the mean of four
// where they meet, void beside a void and outside beyond the outermost centres.
func TestSurfaceReadsAtCentres(t *testing.T) {
	r := road(t, Options{Seed: Tuning[0], LengthM: 1000})
	nan := float32(math.NaN())
	g := &terrain.Grid{Cols: 3, Rows: 3, WestX: 100, NorthY: 500, StepX: 10, StepY: 20, ElevationM: []float32{1, 2, 3, 4, 5, 6, 7, 8, nan}}
	for _, c := range []struct {
		x, y, want float64
		miss       terrain.Miss
	}{
		{115, 490, 2, terrain.Hit},
		{115, 470, 5, terrain.Hit},
		{110, 480, 3, terrain.Hit},
		{121, 455, 0, terrain.Void},
		{104, 470, 0, terrain.Outside},
		{115, 499, 0, terrain.Outside},
	} {
		out := make([]terrain.Sample, 1)
		if err := r.Surface(g).Sample(context.Background(), []terrain.Point{r.PointFromXY(c.x, c.y)}, out); err != nil {
			t.Fatal(err)
		}
		if out[0].Miss != c.miss || c.miss == terrain.Hit && !(math.Abs(out[0].ElevationM-c.want) < 1e-4) {
			t.Errorf("(%g, %g): %v %g, want %v %g", c.x, c.y, out[0].Miss, out[0].ElevationM, c.miss, c.want)
		}
	}
}
