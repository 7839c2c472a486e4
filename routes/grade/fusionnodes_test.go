package grade

import (
	"fmt"
	"math"
	"testing"

	"gradeline/routes"
)

// Stretches of 200 m and more without a drive keep the raster's bounds; between the nodes
// what the drives change passes over linearly, and runs on at both ends.
func TestWhereDrivesAreMissing(t *testing.T) {
	p := &routes.Profile{StepM: 10, LengthM: 1205, CellM: 30}
	for range 122 {
		p.ElevationM = append(p.ElevationM, 100)
	}
	p.ElevationM[0], p.ElevationM[121] = math.NaN(), math.NaN()
	f := &fusion{p: p, nodeM: 20, every: 2, first: 1, sdPct: make([]float64, len(spansM))}
	p.Bound = errorModel(30, sigmaFromCell(30))
	for range 60 {
		f.start, f.x = append(f.start, 100), append(f.x, 100)
	}
	f.x[0], f.x[10], f.x[59] = 101, 102, 104
	d := fusedDrive{heightM: make([]float64, 60)}
	for i := range d.heightM {
		if i >= 5 && i < 15 || i >= 20 && i < 29 || i >= 50 { // 200 m, 180 m, and the end
			d.heightM[i] = math.NaN()
		}
	}
	f.drives = []fusedDrive{d}
	got := f.uncovered()
	if len(got) != 1 || got[0] != [2]float64{110, 310} {
		t.Errorf("uncovered: %v", got)
	}
	f.drives[0].heightM[49] = math.NaN() // now the end is 200 m
	if got = f.uncovered(); len(got) != 2 || got[1] != [2]float64{990, 1190} {
		t.Errorf("uncovered: %v", got)
	}
	q := f.profile()
	for i, want := range map[int]float64{1: 101, 2: 100.5, 3: 100, 20: 101, 21: 102, 22: 101, 119: 104, 118: 102, 120: 104, 50: 100} {
		within(t, fmt.Sprintf("height at station %d", i), q.ElevationM[i], want, 1e-9)
	}
	if !math.IsNaN(q.ElevationM[0]) || !math.IsNaN(q.ElevationM[121]) || len(q.Coarser) != 2 {
		t.Errorf("%v, %v, %d parts", q.ElevationM[0], q.ElevationM[121], len(q.Coarser))
	}
}

// Nodes are the whole number of stations apart that is nearest to 20 m.
func TestNodesOfAFusion(t *testing.T) {
	for stepM, every := range map[float64]int{14: 1, 13: 2, 10: 2, 8.1: 2, 7.9: 3, 50: 1} {
		f := newFusion(&routes.Profile{StepM: stepM, ElevationM: make([]float64, 30), GroundM: make([]float64, 30), State: make([]routes.StationState, 30)})
		if f.every != every || f.nodeM != float64(every)*stepM {
			t.Errorf("stations of %g m: a node each %d, %g m", stepM, f.every, f.nodeM)
		}
	}
}

// The grade line's known part alone has nodes.
func TestNodesBeginAndEndWithTheGradeLine(t *testing.T) {
	p := &routes.Profile{StepM: 10, ElevationM: make([]float64, 30), GroundM: make([]float64, 30), State: make([]routes.StationState, 30)}
	for i := range p.ElevationM {
		if i < 3 || i >= 26 {
			p.ElevationM[i] = math.NaN()
		}
	}
	if f := newFusion(p); f.first != 3 || len(f.x) != 12 || f.stationM(11) != 250 {
		t.Errorf("%d nodes from station %d on", len(f.x), f.first)
	}
	for i := range p.ElevationM {
		p.ElevationM[i] = math.NaN()
	}
	if f := newFusion(p); len(f.x) != 0 {
		t.Errorf("%d nodes on no grade line", len(f.x))
	}
}

// The difference of two drives over 300 m against that of two ordinary units by hand: one
// rises by 2 cm a node more, 30 cm over 15 nodes; ordinary units differ by a variance of
// 2·(2·.3² + 4²·300/10,000) = 1.32 m². The noise learned is the lower median of the ratios.
func TestDifferencesOfDrivesByHand(t *testing.T) {
	const n = 60
	level := func(riseM float64) fusedDrive {
		d := fusedDrive{heightM: make([]float64, n), speedMPS: make([]float64, n), noise: 1}
		for i := range d.heightM {
			d.heightM[i] = riseM * float64(i)
		}
		return d
	}
	f := &fusion{nodeM: 20, x: make([]float64, n), start: make([]float64, n), drives: []fusedDrive{level(0), level(.1), level(.15), level(.2)}}
	for j, riseM := range []float64{0, .1, .15, .2} {
		within(t, "ratio", f.differenceRatio(&f.drives[0], &f.drives[j], 300, 40), 225*riseM*riseM/1.32, 1e-9)
	}
	f.learnNoise()
	within(t, "noise of the first", f.drives[0].noise, 225*.15*.15/1.32, 1e-9) // of .1, .15 and .2
	within(t, "noise of the last", f.drives[3].noise, 225*.1*.1/1.32, 1e-9)    // of .2, .1 and .05
	// 40 places to compare tell something, 39 do not.
	for nodes, known := range map[int]bool{55: true, 54: false} {
		f.x, f.start = make([]float64, nodes), make([]float64, nodes)
		if got := f.differenceRatio(&f.drives[0], &f.drives[1], 300, 40); math.IsNaN(got) == known {
			t.Errorf("%d nodes: %g", nodes, got)
		}
	}
}

// The raster's height at a node is the mean of the stations nearer to it than to the next,
// of those on ground: of three at 10 m, of five at 5 m.
func TestTheRastersHeightAtANode(t *testing.T) {
	for stepM, want := range map[float64]float64{10: (9*9 + 100 + 11*11) / 3., 5: (8*8 + 9*9 + 100 + 11*11 + 12*12) / 5., 20: 100} {
		p := &routes.Profile{StepM: stepM, ElevationM: make([]float64, 30)}
		for i := range 30 {
			p.GroundM, p.State = append(p.GroundM, float64(i*i)), append(p.State, routes.Measured)
		}
		f := newFusion(p)
		within(t, "raster's height", f.rasterNear(10), want, 1e-9)
		p.State[10] = routes.OnBridge
		if got := f.rasterNear(10); stepM == 20 != math.IsNaN(got) || stepM == 10 && got != 101 {
			t.Errorf("without the node's own: %g m", got)
		}
	}
}

// A drive that misfits by 3 % more than a sound barometer is left out, one by 3 % less stays.
func TestADriveIsLeftOutFromItsLimitOn(t *testing.T) {
	for misfitM, isOut := range map[float64]bool{.75 * 1.03: true, .75 * .97: false} {
		f := &fusion{start: make([]float64, 3), drives: []fusedDrive{{misfitM: misfitM}}}
		if got := f.dropWorst(make([]DriveFit, 1)); got != isOut {
			t.Errorf("%.3f m: left out %t", misfitM, got)
		}
	}
}
