package grade

import (
	"math"
	"slices"

	"gradeline/routes"
	"gradeline/terrain"
)

// section is a route's ground in the working direction. That direction is chosen from the heights
// alone, so a line drawn in the other direction gives exactly the same result, mirrored.
type section struct {
	n       int
	stepM   float64
	cellM   float64 // median of the cells hit
	refM    float64 // subtracted from heights
	flipped bool
	offsetM []float64
	cols    int
	mid     int       // column of offset 0
	z       []float32 // n rows of cols, NaN on a miss
	flagged []bool    // by station: in a flagged structure, widened
	sorted  []float64
	rel     []float64 // prior noise sd over that of the median cell
	blurred bool      // coarse cells with neighbours across: blur is set
	blur    []float32 // by station, metres: the height that the cell's averaging added
}

// sectionFromGround copies g into the working direction.
func (s *section) sectionFromGround(g *routes.Ground) error {
	n, cols := g.Count(), len(g.OffsetM)
	if err := checkGround(g, n, cols); err != nil {
		return err
	}
	s.n, s.stepM, s.cols = n, g.StepM, cols
	s.mid = 0
	for c, o := range g.OffsetM {
		if math.Abs(o) < math.Abs(g.OffsetM[s.mid]) {
			s.mid = c
		}
	}
	mid := s.mid
	line := func(i int) float32 { return g.SectionM[i*cols+mid] }
	s.flipped = isFlipped(n, line)
	s.refM = math.NaN()
	if cap(s.z) < n*cols {
		s.z = make([]float32, n*cols)
	}
	s.z = s.z[:n*cols]
	if s.flipped {
		for i := 0; i < n; i++ {
			row := g.SectionM[(n-1-i)*cols : (n-i)*cols]
			for c, v := range row {
				s.z[i*cols+cols-1-c] = v
			}
		}
		s.mid = cols - 1 - mid
	} else {
		copy(s.z, g.SectionM)
	}
	s.offsetM = slices.Clone(g.OffsetM)
	if s.flipped {
		slices.Reverse(s.offsetM)
		for c := range s.offsetM {
			s.offsetM[c] = -s.offsetM[c]
		}
	}
	for i := 0; i < n && math.IsNaN(s.refM); i++ {
		s.refM = float64(s.z[i*cols+s.mid])
	}
	s.cells(g)
	s.flags(g)
	s.blurs(g)
	return nil
}

func checkGround(g *routes.Ground, n, cols int) error {
	bad := func(what string) error {
		return &routes.Fault{Kind: terrain.ErrInput, What: what, Fix: "sample the route again"}
	}
	switch {
	case n < minimumSamples:
		return &routes.Fault{Kind: terrain.ErrInput, What: "the line has fewer than 3 stations", Fix: "give a longer line"}
	case cols == 0 || len(g.SectionM) != n*cols:
		return bad("ground sections do not match the stations")
	case !(g.StepM > 0) || math.IsInf(g.StepM, 0):
		return bad("the step between stations is not positive")
	case cols > 1 && !(g.OffsetM[1] > g.OffsetM[0]):
		return bad("cross-section offsets do not ascend")
	}
	return nil
}

// isFlipped compares the line's heights from both ends inward; the first
// difference decides. A miss sorts below every height.
func isFlipped(n int, line func(int) float32) bool {
	for i, j := 0, n-1; i < j; i, j = i+1, j-1 {
		a, b := line(i), line(j)
		an, bn := a != a, b != b
		switch {
		case an && bn:
		case an != bn:
			return bn
		case a != b:
			return a > b
		}
	}
	return false
}

// cells sets the median cell and each station's relative noise.
func (s *section) cells(g *routes.Ground) {
	s.rel = sized(s.rel, s.n)
	hit := make([]float32, 0, s.n)
	for _, c := range g.CellM {
		if c > 0 {
			hit = append(hit, c)
		}
	}
	s.cellM = 2 * g.StepM
	if len(hit) > 0 {
		slices.Sort(hit)
		s.cellM = float64(hit[len(hit)/2])
	}
	base := sigmaFromCell(s.cellM)
	last, rel := float32(s.cellM), 1.0
	for i := range s.rel {
		s.rel[i] = 1
		if len(g.CellM) != s.n {
			continue
		}
		j := i
		if s.flipped {
			j = s.n - 1 - i
		}
		if c := g.CellM[j]; c > 0 {
			if c != last {
				last, rel = c, sigmaFromCell(float64(c))/base
			}
			s.rel[i] = rel
		}
	}
}

// flags marks the stations of flagged structures, widened by a cell or 5 m, which is the error of
// their ends in the road data.
func (s *section) flags(g *routes.Ground) {
	if cap(s.flagged) < s.n {
		s.flagged = make([]bool, s.n)
	}
	s.flagged = s.flagged[:s.n]
	clear(s.flagged)
	wide := max(s.cellM, structureDilateM)
	for _, st := range g.Structures {
		a, b := structureStations(st, s.n, s.stepM, wide)
		for i := a; i <= b; i++ {
			j := i
			if s.flipped {
				j = s.n - 1 - i
			}
			s.flagged[j] = true
		}
	}
}

// structureStations gives the first and last station of a structure widened by
// wideM; first > last where it covers none.
func structureStations(st routes.Structure, n int, stepM, wideM float64) (first, last int) {
	first = int(math.Ceil((min(st.FromM, st.ToM) - wideM) / stepM))
	last = int(math.Floor((max(st.FromM, st.ToM) + wideM) / stepM))
	return max(first, 0), min(last, n-1)
}

// heightsAt copies the heights of column index[i] into p.y and sets p.w; rough, if
// known, makes stations without a road's cross-section count less.
func (s *section) heightsAt(p *problem, index []int32, rough []float64) {
	for i := 0; i < s.n; i++ {
		z := s.z[i*s.cols+int(index[i])]
		p.y[i], p.w[i] = 0, 0
		if z != z {
			continue
		}
		p.y[i] = float64(z) - s.refM
		if s.blurred {
			p.y[i] -= float64(s.blur[i])
		}
		if !s.flagged[i] {
			p.w[i] = 1 / (s.rel[i] * s.rel[i])
		}
	}
	if rough != nil {
		s.weighBench(p, index, rough)
	}
}

// weighBench reduces the weight of stations and stretches whose cross-sections are rougher than a
// road's.
func (s *section) weighBench(p *problem, index []int32, rough []float64) {
	var run float64
	here := 0 // stations with ground in the run; a void gives no information about a bench
	half := int(benchRunM / s.stepM)
	isGround := func(i int) bool { z := s.z[i*s.cols+int(index[i])]; return z == z }
	count := func(i, by int) {
		if i >= 0 && i < s.n && isGround(i) {
			run += float64(by) * rough[i]
			here += by
		}
	}
	s.sorted = s.sorted[:0]
	for i, v := range rough {
		if isGround(i) {
			s.sorted = append(s.sorted, v)
		}
	}
	slices.Sort(s.sorted)
	times := benchRunCoarse
	if s.cellM <= flatFirstMaxCellM {
		times = benchRunTimes
	}
	usual := benchLeastM
	if m := len(s.sorted); m > 0 {
		usual = max(usual, s.sorted[m/2])
	}
	perRough, perRun := 1/roughFromCell(s.cellM), 1/(times*usual)
	for i := 0; i < min(half, s.n); i++ {
		count(i, 1)
	}
	for i := 0; i < s.n; i++ {
		count(i+half, 1)
		count(i-half-1, -1)
		if p.w[i] > 0 {
			p.w[i] *= benchWeight(rough[i]*perRough, run/float64(here)*perRun)
		}
	}
}

// benchWeight falls with the roughness of the station and of the stretch.
func benchWeight(station, stretch float64) float64 {
	q := 1 / (1 + station*station)
	z := stretch * stretch
	z *= z
	return q * q / (1 + z*z)
}
