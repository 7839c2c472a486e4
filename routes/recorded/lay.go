package recorded

import (
	"math"
	"time"

	"gradeline/routes"
)

// How a recording is matched to the road. Matching follows Newson and Krumm, "Hidden
// Markov map matching through noise and sparseness" (2009, from memory): a place
// costs the square of its offset over offsetM, a step the difference between the
// way along the road and the straight way over stepSlackM. The figures are ours.
const (
	// BesideRoadM is the largest offset from the line: a fix further off is not on this road.
	BesideRoadM = 50.0

	offsetM    = 8.0
	pastEndM   = 1.0 // nor is a fix further past an end of the line
	stepSlackM = 15.0
	mostSpots  = 8 // of one fix
)

// Place is a fix of the recording on the road.
type Place struct {
	Fix       *routes.Fix
	TimeS     float64 // from the first fix of the recording
	DistanceM float64 // along the line
	OffM      float64 // offset from it
}

// OffRoad is a run of fixes that are left out because they are too far from the road.
type OffRoad struct {
	From   time.Time `json:"from"`
	To     time.Time `json:"to"`
	Points int       `json:"points"`
	OffM   float64   `json:"off_m"` // the furthest
}

// column is a fix with all its candidate spots.
type column struct {
	fix   int
	x, y  float64
	spots []spot
}

// Lay matches the fixes of a recording to the road by the cheapest path through their candidate
// places. Fixes further than BesideRoadM from the line are returned as runs.
func (l *Line) Lay(fixes []routes.Fix) (on []Place, off []OffRoad) {
	cols, off := l.columns(fixes)
	for k := 1; k < len(cols); k++ {
		cols[k].weighSteps(&cols[k-1])
	}
	on = make([]Place, len(cols))
	if len(cols) == 0 {
		return on, off
	}
	best, last := 0, cols[len(cols)-1].spots
	for j := range last {
		if last[j].cost < last[best].cost {
			best = j
		}
	}
	for k := len(cols) - 1; k >= 0; k-- {
		s, f := cols[k].spots[best], &fixes[cols[k].fix]
		on[k] = Place{f, f.At.Sub(fixes[0].At).Seconds(), s.distanceM, s.offM}
		best = s.from
	}
	return on, off
}

// columns are the fixes that have a spot, each spot with the cost of its offset only.
func (l *Line) columns(fixes []routes.Fix) (cols []column, off []OffRoad) {
	var run *OffRoad
	var buf []spot
	for i := range fixes {
		f := &fixes[i]
		x, y := l.plane.xy(f.LonDeg, f.LatDeg)
		buf = l.spotsNear(x, y, buf)
		if len(buf) == 0 {
			if run == nil {
				off = append(off, OffRoad{From: f.At})
				run = &off[len(off)-1]
			}
			run.To, run.Points, run.OffM = f.At, run.Points+1, math.Max(run.OffM, l.nearM(x, y))
			continue
		}
		run = nil
		for j := range buf {
			buf[j].cost = buf[j].offM * buf[j].offM / (2 * offsetM * offsetM)
		}
		cols = append(cols, column{i, x, y, append([]spot(nil), buf...)})
	}
	return cols, off
}

// weighSteps adds to each spot's cost that of the cheapest way to it.
func (c *column) weighSteps(before *column) {
	straightM := math.Hypot(c.x-before.x, c.y-before.y)
	for j := range c.spots {
		b, least := &c.spots[j], math.Inf(1)
		for i := range before.spots {
			a := &before.spots[i]
			if cost := a.cost + math.Abs(math.Abs(b.distanceM-a.distanceM)-straightM)/stepSlackM; cost < least {
				least, b.from = cost, i
			}
		}
		b.cost += least
	}
}
