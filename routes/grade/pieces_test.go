package grade

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// Two lines differ over stretches: one that is better on its own is taken over, with a
// passage of half of 150 m on both sides; what differs by under a quarter of the noise is no
// difference; stretches less than 150 m apart are taken over together or not at all.
func TestSpliceTakesWhatIsBetter(t *testing.T) {
	const n, stepM = 400, 10.0
	run := func(byM float64, gap int) (x []float64) {
		p := &problem{n: n, stepM: stepM, sigmaM: 1, tauM: 100, cellM: 10, maxRise: 0.15, asym: 1, y: make([]float64, n), w: make([]float64, n), rel: make([]float64, n)}
		x = make([]float64, n)
		other := make([]float64, n)
		for i := range n {
			p.w[i], p.rel[i] = 1, 1
			if i >= 100 && i < 140 {
				p.y[i], other[i] = byM, byM
			}
			if i >= 140+gap && i < 150+gap { // worse there
				other[i] = byM
			}
		}
		splice(p, x, other, make([]float64, n), 1e-6)
		return x
	}
	for byM, isTaken := range map[float64]bool{.24: false, .26: true, -.26: true} {
		x := run(byM, 100)
		if (x[120] == byM) != isTaken || x[245] != 0 {
			t.Errorf("%g m: %g m and %g m", byM, x[120], x[245])
		}
	}
	// The passage: 150 m are 15 stations, half of them 7, by 1 - 3u² + 2u³ over eighths.
	p := &problem{n: n, stepM: stepM, sigmaM: 1, tauM: 100, cellM: 10, maxRise: 0.15, asym: 1, y: make([]float64, n), w: make([]float64, n), rel: make([]float64, n)}
	x := make([]float64, n)
	for i := range n {
		p.w[i], p.rel[i], p.y[i] = 1, 1, .2
		if i >= 100 && i < 140 {
			p.y[i] = 1
		}
	}
	splice(p, x, append([]float64(nil), p.y...), make([]float64, n), 1e-6)
	for d := 1; d <= 9; d++ {
		u := math.Min(1, float64(d)/8)
		within(t, fmt.Sprintf("%d stations before", d), x[100-d], .2*(1-3*u*u+2*u*u*u), 1e-9)
		within(t, fmt.Sprintf("%d stations after", d), x[139+d], .2*(1-3*u*u+2*u*u*u), 1e-9)
	}
	for gap, isTogether := range map[int]bool{14: true, 15: false, 16: false} {
		x := run(1, gap)
		if x[120] != 1 || (x[145+gap] == 1) != isTogether {
			t.Errorf("%d stations apart: %g m and %g m", gap, x[120], x[145+gap])
		}
	}
}

// The weight of a station by its cross-section and by the 75 m to each side of it, worked out
// afresh: to the fourth power of a quarter's fall at the limit of the cell, and to the eighth of the
// stretch's mean over the route's median, .04 m at least, times 1.2, or 8 above 3 m cells.
func TestBenchWeightsWorkedOutAfresh(t *testing.T) {
	for _, c := range []struct{ cellM, atM, times, usualM float64 }{{2, .2, 1.2, .05}, {3, .2, 1.2, .02}, {3.1, 1, 8, .05}, {10, 1, 8, .3}} {
		const n, stepM = 200, 3.0
		s := &section{n: n, stepM: stepM, cellM: c.cellM, cols: 1, z: make([]float32, n), rel: make([]float64, n), flagged: make([]bool, n), offsetM: []float64{0}}
		p := &problem{n: n, y: make([]float64, n), w: make([]float64, n)}
		rough := make([]float64, n)
		for i := range n {
			s.rel[i] = 1
			rough[i] = c.usualM
			if i%9 < 4 { // fewer than half are smoother
				rough[i] /= 2
			}
			if i >= 80 && i < 100 {
				rough[i] = c.usualM * 2.5 * c.times
			}
			if i == 60 || i >= 150 && i < 190 {
				s.z[i] = nan32
			}
		}
		s.heightsAt(p, make([]int32, n), rough)
		median := c.usualM
		for i := range n {
			sum, m := 0.0, 0
			for k := max(0, i-25); k <= min(n-1, i+25); k++ {
				if s.z[k] == s.z[k] {
					sum, m = sum+rough[k], m+1
				}
			}
			want := 0.0
			if s.z[i] == s.z[i] {
				station, stretch := rough[i]/c.atM, sum/float64(m)/(c.times*math.Max(.04, median))
				want = 1 / math.Pow(1+station*station, 2) / (1 + math.Pow(stretch, 8))
			}
			if math.Abs(p.w[i]-want) > 1e-9 {
				t.Fatalf("%g m cells, station %d: weight %.5f, want %.5f", c.cellM, i, p.w[i], want)
			}
		}
	}
}

// The cell is the median of those hit, twice the step where none is known; a station's noise
// is that of its own cell over the median's. Structures are widened by a cell, 5 m at least.
func TestCellsAndStructuresOfASection(t *testing.T) {
	g := lineGround(make([]float64, 101), 10, 0)
	for i := range g.SectionM {
		g.SectionM[i] = float32(i)
	}
	s := new(section)
	if err := s.sectionFromGround(g); err != nil || s.cellM != 20 {
		t.Errorf("%v, cells of %g m where none is known", err, s.cellM)
	}
	for i := range g.CellM {
		g.CellM[i] = 30
		if i < 45 {
			g.CellM[i] = 1
		}
	}
	if err := s.sectionFromGround(g); err != nil || s.cellM != 30 {
		t.Errorf("%v, cells of %g m where 56 of 101 have 30", err, s.cellM)
	}
	for i := range g.CellM {
		g.CellM[i] = []float32{1, 1, 30}[i%3]
	}
	g.Structures = []routes.Structure{{Kind: routes.Bridge, FromM: 294, ToM: 306}, {Kind: routes.Tunnel, FromM: 716, ToM: 705}}
	if err := s.sectionFromGround(g); err != nil || s.cellM != 1 {
		t.Fatalf("%v, cells of %g m", err, s.cellM)
	}
	for i := range s.rel {
		want := 1.0
		if i%3 == 2 {
			want = 2.229844 / .15
		}
		within(t, "relative noise", s.rel[i], want, 1e-4)
		if isIn := i >= 29 && i <= 31 || i >= 70 && i <= 72; s.flagged[i] != isIn {
			t.Errorf("station %d flagged: %t", i, s.flagged[i])
		}
	}
	for _, c := range []struct {
		fromM, toM, wideM float64
		first, last       int
	}{{294, 306, 5, 29, 31}, {296, 304, 5, 30, 30}, {296, 304, 6, 29, 31}, {305, 295, 5, 29, 31}, {-50, 4, 5, 0, 0}, {996, 2000, 5, 100, 100}, {303, 304, 1, 31, 30}} {
		first, last := structureStations(routes.Structure{FromM: c.fromM, ToM: c.toM}, 101, 10, c.wideM)
		if first != c.first || last != c.last {
			t.Errorf("%+v: stations %d to %d", c, first, last)
		}
	}
}

// Beyond 300 m from measured ground there is no grade line at the line's ends.
func TestTheGradeLineEndsThreeHundredMetresFromGround(t *testing.T) {
	q := &routes.Profile{StepM: 10, LengthM: 1990}
	for i := range 200 {
		state := routes.InVoid
		if i >= 50 && i < 150 && i != 90 {
			state = routes.Measured
		}
		q.State, q.ElevationM = append(q.State, state), append(q.ElevationM, 7)
	}
	openEnds(q)
	for i, z := range q.ElevationM {
		if isKnown := i >= 20 && i <= 179; math.IsNaN(z) == isKnown {
			t.Errorf("station %d: %g", i, z)
		}
	}
	count(q)
	if q.MissingM != 1010 { // 50, 50 and one station
		t.Errorf("%g m missing", q.MissingM)
	}
}

// The mean over a window: a slope stays as it is, one height of a metre becomes the part that
// it has of the window; voids are bridged, evenly.
func TestMovingWindowByHand(t *testing.T) {
	z := make([]float64, 61)
	for i := range z {
		z[i] = 100 - .5*float64(i)
	}
	z[30] += 1
	g := lineGround(z, 10, 10)
	q := MovingWindow(g, 100) // five stations to each side
	for i := range z {
		want := 100 - .5*float64(i)
		if i >= 25 && i <= 35 {
			want += 1. / 11
		}
		if !(math.Abs(q.ElevationM[i]-want) <= 1e-4) {
			t.Errorf("station %d: %.5f m, want %.5f", i, q.ElevationM[i], want)
		}
	}
	g.SectionM[10], g.SectionM[11], g.SectionM[0], g.SectionM[60] = nan32, nan32, nan32, nan32
	g.Miss[10] = terrain.Outside
	q = RawDifference(g)
	for i, want := range map[int]float64{0: 99.5, 9: 95.5, 10: 95, 11: 94.5, 12: 94, 60: 70.5} {
		if !(math.Abs(q.ElevationM[i]-want) <= 1e-4) {
			t.Errorf("station %d: %.5f m, want %.5f", i, q.ElevationM[i], want)
		}
	}
	if q.State[10] != routes.OutsideTerrain || q.State[11] != routes.InVoid || q.State[9] != routes.Measured || q.MissingM != 40 {
		t.Errorf("%v, %g m missing", q.State[9:12], q.MissingM)
	}
}

// Heights come back along the line, with the offset at which each was found, to the right
// positive: the other way round both, where the line was worked on from its end.
func TestHeightsComeBackAlongTheLine(t *testing.T) {
	for _, isFlipped := range []bool{false, true} {
		r := &recoverer{index: []int32{0, 1, 2, 2}, x: []float64{1, 2, 3, 4}, alt: []float64{1.5, 2, 2.5, 4}}
		r.sec = section{n: 4, cols: 3, stepM: 10, refM: 100, flipped: isFlipped, offsetM: []float64{-4, 0, 4}, z: []float32{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}}
		q := &routes.Profile{GroundM: make([]float64, 4), ElevationM: make([]float64, 4)}
		r.copyHeights(q)
		for i := range 4 {
			j, side := i, 1.0
			if isFlipped {
				j, side = 3-i, -1
			}
			if q.GroundM[j] != []float64{1, 5, 9, 12}[i] || q.ElevationM[j] != 101+float64(i) || q.EaseM[j] != []float64{.5, 0, -.5, 0}[i] || q.LateralM[j] != side*[]float64{-4, 0, 4, 4}[i] {
				t.Errorf("flipped %t, station %d: %g m, %g m, %g m, %g m", isFlipped, j, q.GroundM[j], q.ElevationM[j], q.EaseM[j], q.LateralM[j])
			}
		}
	}
}

// Finer cells for under 300 m within a coarser stretch do not end it, from there on they do.
func TestFinerCellsWithinACoarserPart(t *testing.T) {
	for finer, want := range map[int][][2]float64{29: {{1000, 2080}}, 30: {{1000, 1390}, {1700, 2090}}, 40: {{1000, 1390}, {1800, 2190}}} {
		g := &routes.Ground{StepM: 10, CellM: make([]float32, 500)}
		for i := range g.CellM {
			g.CellM[i] = 10
			if i >= 100 && i < 140 || i >= 140+finer && i < 180+finer {
				g.CellM[i] = 30
			}
		}
		r := &recoverer{}
		r.sec.n, r.sec.cellM, r.p.sigmaM = 500, 10, sigmaFromCell(10)
		got := r.coarser(g)
		if len(got) != len(want) {
			t.Errorf("%d finer stations: %d parts", finer, len(got))
			continue
		}
		for i, w := range want {
			if got[i].FromM != w[0] || got[i].ToM != w[1] {
				t.Errorf("%d finer stations: %g to %g m, want %v", finer, got[i].FromM, got[i].ToM, w)
			}
		}
	}
}

// What averaging over coarse cells adds: an eighth of the curvature across times the cell's
// square, from the neighbours at their distance. Only above 15 m cells, and with the same
// number of neighbours to both sides.
func TestWhatCoarseCellsAddToAHeight(t *testing.T) {
	for _, c := range []struct {
		name    string
		cellM   float64
		offsetM []float64
		z       []float32
		want    float64 // NaN: nothing is taken off
	}{
		{"a valley of 30 m cells", 30, []float64{-30, 0, 30}, []float32{110, 100, 104}, 14. / 8}, {"neighbours twice as far", 30, []float64{-60, 0, 60}, []float32{110, 100, 104}, 14. / 32},
		{"neighbours nearer than a cell", 30, []float64{-20, 0, 20}, []float32{110, 100, 104}, 14. / 8}, {"a ridge", 90, []float64{-90, 0, 90}, []float32{90, 100, 96}, -14. / 8},
		{"five columns", 30, []float64{-60, -30, 0, 30, 60}, []float32{110, 1, 100, 1, 104}, 14. / 32},
		{"15 m cells", 15, []float64{-15, 0, 15}, []float32{110, 100, 104}, math.NaN()}, {"15.1 m cells", 15.1, []float64{-15.1, 0, 15.1}, []float32{110, 100, 104}, 14. / 8},
		{"one column", 30, []float64{0}, []float32{100}, math.NaN()}, {"neighbours to one side", 30, []float64{0, 30, 60}, []float32{100, 104, 110}, math.NaN()},
	} {
		g := &routes.Ground{StepM: 10, LengthM: 50, OffsetM: c.offsetM}
		for i := range 6 {
			g.SectionM = append(g.SectionM, c.z...)
			g.CellM, g.Miss = append(g.CellM, float32(c.cellM)), append(g.Miss, terrain.Hit)
			g.Points = append(g.Points, orb.Point{float64(i) * 1e-4, 45})
			g.RadiusM = append(g.RadiusM, math.Inf(1))
		}
		s := new(section)
		if err := s.sectionFromGround(g); err != nil || s.blurred == math.IsNaN(c.want) {
			t.Errorf("%s: %v, taken off %t", c.name, err, s.blurred)
			continue
		}
		for i := range s.n {
			if s.blurred && math.Abs(float64(s.blur[i])-c.want) > 1e-5 {
				t.Errorf("%s: %.5f m, want %.5f", c.name, s.blur[i], c.want)
			}
		}
	}
}

// A structure that the heights suggest is marked over its stations, where they rest on ground,
// and listed along the line, whichever way it was worked on: ground above the line is a tunnel.
func TestFoundStructuresAreMarked(t *testing.T) {
	for _, isFlipped := range []bool{false, true} {
		r := &recoverer{runs: []run{{first: 2, last: 4, above: true}, {first: 7, last: 7}}}
		r.sec.n, r.sec.flipped = 10, isFlipped
		q := &routes.Profile{StepM: 10, State: make([]routes.StationState, 10)}
		for i := range q.State {
			q.State[i] = routes.Measured
		}
		at := func(i int) int {
			if isFlipped {
				return 9 - i
			}
			return i
		}
		q.State[at(3)] = routes.InVoid
		r.markFound(q)
		for i := range 10 {
			want := routes.Measured
			switch i {
			case 2, 4, 7:
				want = routes.FoundStructure
			case 3:
				want = routes.InVoid
			}
			if q.State[at(i)] != want {
				t.Errorf("flipped %t, station %d: %v, want %v", isFlipped, at(i), q.State[at(i)], want)
			}
		}
		from, to := float64(10*min(at(2), at(4))), float64(10*max(at(2), at(4)))
		if s := q.Structures; len(s) != 2 || s[0].Kind != routes.Tunnel || s[1].Kind != routes.Bridge || s[0].FromM != from || s[0].ToM != to || s[1].FromM != float64(10*at(7)) || s[1].FromM != s[1].ToM {
			t.Errorf("flipped %t: %+v", isFlipped, s)
		}
	}
}

// What is said of the heights and of a road's steepest grade is taken over; nothing said, the
// usual error of the cell size and 15 %.
func TestWhatIsSaidOfTheHeightsIsTakenOver(t *testing.T) {
	g := lineGround(make([]float64, 50), 10, 10)
	for _, c := range []struct {
		o                    Options
		isSurface            bool
		rise, sigmaM, asymOf float64
	}{{Options{}, false, .15, 1, 1}, {Options{MaxGradePct: 9, AccuracyM: .4}, false, .09, .4, 1}, {Options{SurfaceModel: true}, false, .15, 1, .6}, {Options{}, true, .15, 1, .6}} {
		r := new(recoverer)
		if err := r.sec.sectionFromGround(g); err != nil {
			t.Fatal(err)
		}
		g.SurfaceModel = c.isSurface
		r.begin(g, c.o)
		within(t, "steepest grade", r.p.maxRise, c.rise, 1e-12)
		within(t, "error", r.p.sigmaM, c.sigmaM, 1e-12)
		within(t, "share of heights above", r.p.asym, c.asymOf, 1e-12)
		within(t, "correlation length", r.p.tauM, 60*2.344229, 1e-5)
	}
}

// The words for a line that cuts its bends, by hand: 20 turns of 12°, 300 m apart, of 6,300 m;
// half a stretch to each side of a turn counts, so 6,000 m.
func TestWordsOfAGeneralisedLine(t *testing.T) {
	got := generalised(cornered(20, 300, 12, 0))
	for _, figure := range []string{" 300 m apart", " 95 % of it", " 6 m or more"} {
		if !strings.Contains(got, figure) {
			t.Errorf("%q, want %q", got, figure)
		}
	}
}
