package grade

import (
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// within asks for a figure to a share of it.
func within(t *testing.T, what string, got, want, share float64) {
	t.Helper()
	if !(math.Abs(got-want) <= share*math.Abs(want)) {
		t.Errorf("%s is %.6g, want %.6g", what, got, want)
	}
}

// The priors of the ground's error: .15 m · c^.8 up to 10 m cells and (c/10)^.73 m above,
// over 60 m · c^.37; powers worked out by hand. What they were read off (constants.go) lies
// within a third for the deviations.
func TestPriorsOfTheGroundsError(t *testing.T) {
	for _, k := range []struct{ cellM, sigmaM, tauM, readM float64 }{
		{0.1, 0.15 * 0.329877, 60 * 0.598739, 0}, {1, 0.15, 60, 0.13}, {5, 0.15 * 3.62390, 60 * 1.813989, 0}, {10, 1, 60 * 2.344229, 1.0}, {30, 2.229844, 60 * 3.519845, 2.65}, {90, 4.972754, 60 * 5.285060, 4.8},
	} {
		within(t, "deviation", sigmaFromCell(k.cellM), k.sigmaM, 1e-4)
		within(t, "correlation length", tauFromCell(k.cellM), k.tauM, 1e-4)
		if k.readM > 0 {
			within(t, "deviation against what was read off", sigmaFromCell(k.cellM), k.readM, 0.2)
		}
	}
	// The smoothing goes with the .9th power of what a correlation length holds of variance.
	within(t, "smoothing", lambdaFromNoise(1, 100), 100*63.0957, 1e-4)
	within(t, "smoothing", lambdaFromNoise(2, 50), 100*117.741, 1e-4)
	for cellM, want := range map[float64]float64{1: 0.2, 3: 0.2, 3.1: 1, 30: 1} {
		within(t, "roughness", roughFromCell(cellM), want, 1e-9)
	}
	for cellM, want := range map[float64]float64{0.1: 200, 1: 300, 10: 300 * 1.778279, 30: 300 * 2.340347, 60: 800, 90: 800} {
		within(t, "length of comparison", easeM(cellM), want, 1e-5)
	}
}

// The bounds at the cell sizes that they were measured at, as an engineer reads them: 95 %
// half-widths over 100 m to 4 km in per cent, of heights and of ends in metres. Computed on
// 200 drawn roads (bound.go).
func TestBoundsAtTheCellsOfTheirTable(t *testing.T) {
	for _, k := range []struct {
		cellM      float64
		spanPct    []float64
		elevationM float64
		endM       float64
		endShare   float64
		shortShare []float64
		steepest   []float64
	}{
		{1, []float64{.184, .105, .040, .021, .011, .005}, .25, 29, .5, []float64{1.6, 1.9, 1.8}, []float64{1.6, 1.9, 1.8}},
		{10, []float64{.704, .550, .243, .119, .059, .030}, 1.235, 118, .58, []float64{1.15, 1.9, 1.25}, []float64{2.3, 2.6, 1.6}},
		{30, []float64{.981, .850, .508, .268, .127, .065}, 2.910, 215, .75, []float64{1.65, 1.75, 1.2}, []float64{2.3, 1.9, 1.45}},
		{90, []float64{1.561, 1.422, .996, .601, .313, .156}, 6.722, 350, .7, []float64{2.05, 1.55, 1.1}, []float64{2.3, 1.8, 1.1}},
	} {
		for _, times := range []float64{0.5, 1, 1.7} { // of the usual noise: never under that of 1
			m := errorModel(k.cellM, times*sigmaFromCell(k.cellM))
			scale := max(1, times)
			for i, spanM := range []float64{100, 200, 500, 1000, 2000, 4000} {
				within(t, "span", m.SpanM[i], spanM, 0)
				within(t, "bound of a mean", m.SpanPct[i], k.spanPct[i]*scale, 1e-6)
			}
			for i, shortM := range []float64{100, 500, 1000} {
				within(t, "short", m.ShortM[i], shortM, 0)
				within(t, "bound of a short part", m.ShortShare[i], k.shortShare[i], 1e-6)
				within(t, "bound of a steepest window", m.SteepestShare[i], k.steepest[i], 1e-6)
			}
			within(t, "bound of a height", m.ElevationM, k.elevationM*scale, 1e-6)
			within(t, "bound of an end", m.EndM, k.endM*scale, 1e-6)
			within(t, "share of an end", m.EndShare, k.endShare, 1e-6)
			within(t, "floor", m.FloorPct, k.spanPct[5]*scale/4, 1e-6)
			within(t, "eased share", m.EaseShare, 1.5, 1e-6)
		}
	}
	// Half way in the logarithm the geometric mean; beyond 90 m on, for half a step of three.
	within(t, "between 10 and 30 m", errorModel(math.Sqrt(300), sigmaFromCell(math.Sqrt(300))).SpanPct[3], math.Sqrt(.119*.268), 1e-6)
	within(t, "at 156 m", errorModel(90*math.Sqrt(3), sigmaFromCell(90*math.Sqrt(3))).SpanPct[3], .601*math.Sqrt(.601/.268), 1e-6)
	within(t, "at 400 m as at 156", errorModel(400, sigmaFromCell(400)).SpanPct[3], .601*math.Sqrt(.601/.268), 1e-6)
	within(t, "below 1 m as at 1", errorModel(0.4, sigmaFromCell(0.4)).SpanPct[0], .184, 1e-6)
}

// A line that stands on no road, just beyond each limit and just within: three quarters of
// the ground far from the grade line, or 35 % in more than 1.2 stretches to the km; a
// quarter of it steeper than 12 %; residuals of three times the usual.
func TestLimitsOfALineOnNoRoad(t *testing.T) {
	for _, k := range []struct {
		name  string
		off   float64 // share of the stations
		runs  int     // over 10 km
		steep float64
		pct   float64
		ratio float64
		says  string
	}{
		{"nothing", 0, 0, 0, 0, 1, ""},
		{"74 % off", .74, 1, 0, 0, 1, ""},
		{"76 % off", .76, 1, 0, 0, 1, "far from any road"},
		{"36 % off in 12 stretches", .36, 12, 0, 0, 1, ""},
		{"36 % off in 13 stretches", .36, 13, 0, 0, 1, "far from any road"},
		{"34.5 % off in 13 stretches", .345, 13, 0, 0, 1, ""},
		{"24.5 % steep", 0, 0, .245, 12.3, 1, ""},
		{"25.5 % steep", 0, 0, .255, 12.3, 1, "steeper than 12 %"},
		{"25.5 % nearly steep", 0, 0, .255, 11.8, 1, ""},
		{"30 % steep", 0, 0, .3, 12.3, 1, "30 % of the line"},
		{"80 % off", .8, 1, 0, 0, 1, "80 % of the ground"},
		{"three times", 0, 0, 0, 0, 2.95, ""},
		{"more than three times", 0, 0, 0, 0, 3.05, "3.0 times rougher"},
	} {
		const n = 1000
		r := &recoverer{p: problem{n: n, stepM: 10, sigmaM: 1, cellM: 2, y: make([]float64, n), w: make([]float64, n), rel: make([]float64, n)}, x: make([]float64, n), runs: make([]run, k.runs), buf: make([]float64, 0, n)}
		for i := range n {
			r.p.w[i], r.p.rel[i] = 1, 1
			if i > 0 {
				r.x[i] = r.x[i-1]
				if float64(i) <= k.steep*n {
					r.x[i] += k.pct / 100 * 10
				}
			}
			r.p.y[i] = r.x[i]
			if float64(i) < k.off*n {
				r.p.y[i] += 3.5 * 1.01 // the fit's own limit of what counts: 3.5 deviations
			}
		}
		got := r.unreliable(k.ratio)
		if k.says == "" && got != "" || !strings.Contains(got, k.says) {
			t.Errorf("%s: %q", k.name, got)
		}
	}
}

// cornered is a line of even tangents that turns by as much left as right at each, and by
// 5° at some more.
func cornered(tangents int, tangentM, turnDeg float64, gentle int) *routes.Ground {
	const stepM = 10.0
	g := &routes.Ground{StepM: stepM}
	x, y, heading := 0.0, 0.0, 0.0
	add := func() { g.Points = append(g.Points, orb.Point{10 + x/78846.8, 45 + y/111131.8}) }
	add()
	walk := func(lengthM float64) {
		for range int(math.Round(lengthM / stepM)) {
			x, y = x+stepM*math.Cos(heading), y+stepM*math.Sin(heading)
			add()
		}
	}
	for i := range tangents + gentle {
		walk(tangentM)
		if i >= tangents {
			turnDeg = 5
		}
		heading += float64(1-2*(i%2)) * turnDeg * math.Pi / 180
	}
	walk(tangentM)
	g.LengthM = stepM * float64(len(g.Points)-1)
	return g
}

// A road that turns by α between tangents of L swings out by L·tan(α/4)/2: 6 m of it tell
// that the line cuts its bends, over 30 % of its length, from five vertices on, of which
// corners of 60° and turns of 2° are none. For L 300 m, tan(α/4) = .04 gives α = 9.163°.
func TestLimitsOfAGeneralisedLine(t *testing.T) {
	for _, k := range []struct {
		name     string
		tangents int
		lengthM  float64
		turnDeg  float64
		gentle   int
		found    bool
	}{
		{"5.9 m", 20, 300, 9.163 * 0.983, 0, false}, {"6.1 m", 20, 300, 9.163 * 1.017, 0, true},
		{"four vertices", 4, 300, 12, 0, false}, {"five vertices", 5, 300, 12, 0, true},
		{"31 % of it", 31, 300, 12, 68, true}, {"29 % of it", 29, 300, 12, 70, false},
		{"corners of 59°", 20, 300, 59, 0, true}, {"corners of 61°", 20, 300, 61, 0, false},
		{"turns of 2.05° a long way apart", 12, 2000, 2.05, 0, true}, {"turns of 1.95°", 12, 2000, 1.95, 0, false},
	} {
		if got := generalised(cornered(k.tangents, k.lengthM, k.turnDeg, k.gentle)); (got != "") != k.found {
			t.Errorf("%s: %q", k.name, got)
		}
	}
}

// Untagged structures that heights alone cannot settle, just within and beyond each limit.
func TestLimitsOfDoubt(t *testing.T) {
	bridge := func(from, to float64) routes.Structure {
		return routes.Structure{Kind: routes.Bridge, FromM: from, ToM: to}
	}
	tunnel := func(from, to float64) routes.Structure {
		return routes.Structure{Kind: routes.Tunnel, FromM: from, ToM: to}
	}
	for _, k := range []struct {
		name  string
		list  []routes.Structure
		cellM float64
		want  []routes.Doubt // without why
	}{
		{"a bridge of 800 m", []routes.Structure{bridge(2000, 2800)}, 10, nil},
		{"a bridge of 810 m", []routes.Structure{bridge(2000, 2810)}, 10, []routes.Doubt{{FromM: 1500, ToM: 3310}}},
		{"a tunnel of 3 km", []routes.Structure{tunnel(2000, 5000)}, 10, nil},
		{"a tunnel and a bridge of 410 m, 490 m apart", []routes.Structure{tunnel(2000, 2410), bridge(2900, 3310)}, 10, []routes.Doubt{{FromM: 1500, ToM: 3810}}},
		{"510 m apart", []routes.Structure{tunnel(2000, 2410), bridge(2920, 3330)}, 10, nil},
		{"the tunnel 390 m", []routes.Structure{tunnel(2000, 2390), bridge(2880, 3290)}, 10, nil},
		{"the bridge 390 m", []routes.Structure{tunnel(2000, 2410), bridge(2900, 3290)}, 10, nil},
		{"two tunnels", []routes.Structure{tunnel(2000, 2410), tunnel(2900, 3310)}, 10, nil},
		{"29 m from the start", []routes.Structure{bridge(29, 200)}, 10, []routes.Doubt{{FromM: 0, ToM: 700}}},
		{"31 m from the start", []routes.Structure{bridge(31, 90)}, 10, nil},
		{"31 m from the start on 90 m cells", []routes.Structure{bridge(31, 200)}, 90, []routes.Doubt{{FromM: 0, ToM: 700}}},
		{"29 m from the end", []routes.Structure{bridge(9800, 9971)}, 10, []routes.Doubt{{FromM: 9300, ToM: 10000}}},
		{"31 m from the end", []routes.Structure{bridge(9911, 9969)}, 10, nil},
		{"flagged", []routes.Structure{{Kind: routes.Bridge, FromM: 2000, ToM: 3000, Flagged: true}}, 10, nil},
	} {
		got := doubts(k.list, 10000, k.cellM)
		if len(got) != len(k.want) {
			t.Errorf("%s: %+v", k.name, got)
			continue
		}
		for i, w := range k.want {
			if math.Abs(got[i].FromM-w.FromM) > 1e-9 || math.Abs(got[i].ToM-w.ToM) > 1e-9 || got[i].Why == "" {
				t.Errorf("%s: %+v, want %+v", k.name, got[i], w)
			}
		}
	}
	if missingWords(2000, 10000) != "" || !strings.Contains(missingWords(2050, 10000), "20 %") {
		t.Errorf("%q, %q", missingWords(2000, 10000), missingWords(2050, 10000))
	}
	// A gap of 800 m between measured ground can hide a descent; one at the line's end is
	// told by the line's end itself.
	for _, k := range []struct {
		first, count int
		want         int
	}{{100, 81, 1}, {100, 80, 0}, {0, 81, 0}, {219, 81, 0}} {
		state := make([]routes.StationState, 300)
		for i := range k.count {
			state[k.first+i] = routes.InVoid
		}
		got, missingM := missingDoubts(&routes.Ground{StepM: 10, LengthM: 2990}, state)
		if len(got) != k.want || k.want == 1 && (got[0].FromM != 500 || got[0].ToM != 2300 || missingM != 810) {
			t.Errorf("%+v: %+v, %g m", k, got, missingM)
		}
	}
}

// Where the ground departs from the line: a stretch beyond 1.5 deviations and .9 m that
// somewhere passes 4 deviations and 2.5 m.
func TestLimitsOfAStructureFound(t *testing.T) {
	for _, k := range []struct {
		sigmaM, edgeM, coreM float64
		stations             int
	}{
		{1, 1.55, 4.1, 12}, {1, 1.55, 3.9, 0}, {1, 1.45, 4.1, 2}, {0.3, 0.93, 2.55, 12}, {0.3, 0.93, 2.45, 0}, {0.3, 0.87, 2.55, 2}, {0.1, 0.93, 2.55, 12},
		{2, 3.1, 8.2, 12}, {2, 2.9, 8.2, 2}, {2, 3.1, 7.8, 0},
	} {
		const n = 100
		p := &problem{n: n, sigmaM: k.sigmaM, y: make([]float64, n), w: make([]float64, n), rel: make([]float64, n)}
		for i := range n {
			p.w[i], p.rel[i] = 1, 1
			switch {
			case i == 45 || i == 46:
				p.y[i] = k.coreM
			case i >= 40 && i < 52:
				p.y[i] = k.edgeM
			}
		}
		for _, sign := range []float64{1, -1} {
			for i := range p.y {
				p.y[i] = sign * math.Abs(p.y[i])
			}
			got := 0
			for _, r := range found(p, make([]float64, n), nil) {
				got += r.last - r.first + 1
				if r.above != (sign > 0) {
					t.Errorf("%+v: above %t", k, r.above)
				}
			}
			if got != k.stations {
				t.Errorf("%+v: %d stations", k, got)
			}
		}
	}
}

// The share of the ground's deviation that local quadratics leave, as chosen on drawn roads
// at four cell sizes; the least that the data may lower the prior to.
func TestSharesOfLocalRoughness(t *testing.T) {
	for cellM, want := range map[float64]float64{1: .335, 3: .335, 5: .355, 10: .355, math.Sqrt(300): (.355 + .32) / 2, 30: .32, math.Sqrt(2700): (.32 + .366) / 2, 90: .366, 200: .366} {
		within(t, "share", localShare(cellM), want, 1e-9)
	}
	for cellM, want := range map[float64]float64{1: .15, 3: .15, math.Sqrt(30): .325, 10: .5, 90: .5} {
		within(t, "least", localLow(cellM), want, 1e-9)
	}
}

// A stretch on cells half as coarse again as the median, over 300 m, has bounds of its own.
func TestLimitsOfACoarserPart(t *testing.T) {
	for _, k := range []struct {
		coarseM  float64
		stations int // of 10 m
		parts    int
	}{{15.1, 31, 1}, {14.9, 31, 0}, {15.1, 30, 0}, {30, 100, 1}} {
		g := &routes.Ground{StepM: 10, CellM: make([]float32, 500)}
		for i := range g.CellM {
			g.CellM[i] = 10
			if i >= 100 && i < 100+k.stations {
				g.CellM[i] = float32(k.coarseM)
			}
		}
		r := &recoverer{}
		r.sec.n, r.sec.cellM, r.p.sigmaM = 500, 10, sigmaFromCell(10)
		got := r.coarser(g)
		if len(got) != k.parts {
			t.Errorf("%+v: %d parts", k, len(got))
			continue
		}
		if k.parts == 1 {
			within(t, "from", got[0].FromM, 1000, 1e-9)
			within(t, "to", got[0].ToM, float64(1000+10*(k.stations-1)), 1e-9)
			within(t, "its bound", got[0].Bound.SpanPct[3], errorModel(float64(float32(k.coarseM)), sigmaFromCell(float64(float32(k.coarseM)))).SpanPct[3], 1e-9)
		}
	}
}
