package debrief

import (
	"math"
	"time"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// How a recording is laid on the road. Matching follows Newson and Krumm, "Hidden
// Markov map matching through noise and sparseness" (2009, from memory): a place
// costs the square of its offset over offsetM, a step the difference between the
// way along the road and the straight way over stepSlackM. The figures are ours.
const (
	besideRoadM    = 50.0 // further off, a point is not on this road
	offsetM        = 8.0
	pastEndM       = 1.0 // past an end of the line by more, neither
	stepSlackM     = 15.0
	mostCandidates = 8     // places of one point
	turnM          = 100.0 // a way back longer than this ends a pass
	recorderOff    = 30 * time.Minute
	leastPassM     = 500.0
)

// laid is a point of the recording on the road.
type laid struct {
	fix       *routes.Fix
	timeS     float64 // from the first point of the recording
	distanceM float64 // from the crest, in travel
	offM      float64
}

// OffRoad is a run of points that lie too far from the road, left out.
type OffRoad struct {
	From   time.Time `json:"from"`
	To     time.Time `json:"to"`
	Points int       `json:"points"`
	OffM   float64   `json:"off_m"` // the furthest
}

type spot struct {
	distanceM, offM float64
	cost            float64
	from            int // index of the best spot of the point before
}

// plane is a local plane in metres about a point.
type plane struct {
	at            terrain.Point
	eastM, northM float64 // metres a degree
}

func planeAt(lonDeg, latDeg float64) plane {
	const d = 0.005
	return plane{terrain.Point{LonDeg: lonDeg, LatDeg: latDeg},
		stationing.DistanceM([2]float64{lonDeg - d, latDeg}, [2]float64{lonDeg + d, latDeg}) / (2 * d),
		stationing.DistanceM([2]float64{lonDeg, latDeg - d}, [2]float64{lonDeg, latDeg + d}) / (2 * d)}
}

func (p plane) xy(lonDeg, latDeg float64) (x, y float64) {
	lon := math.Remainder(lonDeg-p.at.LonDeg, 360)
	return lon * p.eastM, (latDeg - p.at.LatDeg) * p.northM
}

// road is the line of a descent and what is known of it before and after, in travel.
type road struct {
	plane     plane
	x, y      []float64
	distanceM []float64
	boxes     []box
}

func roadOf(p *routes.Profile, d *routes.Descent) (road, error) {
	var r road
	n := p.Count()
	mid := p.PointAt((d.StartM + d.EndM) / 2)
	r.plane = planeAt(mid[0], mid[1])
	for k := range n {
		i := k
		if d.Direction == routes.Backward {
			i = n - 1 - k
		}
		if math.IsNaN(p.Points[i][0] + p.Points[i][1]) {
			continue
		}
		x, y := r.plane.xy(p.Points[i][0], p.Points[i][1])
		r.x, r.y = append(r.x, x), append(r.y, y)
		r.distanceM = append(r.distanceM, d.TravelFromStationM(math.Min(p.StationM(i), p.LengthM)))
	}
	if len(r.x) < 2 {
		return r, &catalog.Fault{Kind: catalog.ErrImpossible, Feature: "descent " + d.ID, What: "no line of its road is kept", Fix: "survey the road again"}
	}
	r.boxed()
	return r, nil
}

// candidates are the places of the road nearest to a point: each local minimum
// of the distance, so that both legs of a hairpin are there. Boxes too far off to
// hold one are passed over.
func (r *road) candidates(x, y float64, buf []spot) []spot {
	out := buf[:0]
	last, falling := math.Inf(1), true
	before := spot{offM: math.Inf(1)}
	n := len(r.x)
	alongM := func(i int) (fromStartM, pastM float64) { // of segment i, in its direction
		ux, uy := r.x[i]-r.x[i-1], r.y[i]-r.y[i-1]
		long := math.Hypot(ux, uy)
		if long == 0 {
			return 0, 0
		}
		s := ((x-r.x[i-1])*ux + (y-r.y[i-1])*uy) / long
		return s, s - long
	}
	headM, _ := alongM(1)
	_, tailM := alongM(n - 1)
	push := func(c spot) {
		// Beyond an end the nearest place is the end, and there the truck would seem to stop.
		if c.offM > besideRoadM || headM < -pastEndM && c.distanceM <= r.distanceM[1] || tailM > pastEndM && c.distanceM >= r.distanceM[n-2] {
			return
		}
		if len(out) < mostCandidates {
			out = append(out, c)
			return
		}
		worst := 0
		for i := range out {
			if out[i].offM > out[worst].offM {
				worst = i
			}
		}
		if c.offM < out[worst].offM {
			out[worst] = c
		}
	}
	look := func(i int) {
		ux, uy := r.x[i]-r.x[i-1], r.y[i]-r.y[i-1]
		t, long := 0.0, math.Hypot(ux, uy)
		if long > 0 {
			t = ((x-r.x[i-1])*ux + (y-r.y[i-1])*uy) / (long * long)
		}
		lo, hi := 0.0, 1.0 // a little past an end goes on in its direction: held there, the truck would seem to stop
		if i == 1 && long > 0 {
			lo = -pastEndM / long
		}
		if i == len(r.x)-1 && long > 0 {
			hi += pastEndM / long
		}
		t = math.Max(lo, math.Min(hi, t))
		off := math.Hypot(x-r.x[i-1]-t*ux, y-r.y[i-1]-t*uy)
		c := spot{distanceM: r.distanceM[i-1] + t*(r.distanceM[i]-r.distanceM[i-1]), offM: off}
		if off < last {
			falling = true
		} else if falling && off > last {
			push(before)
			falling = false
		}
		before, last = c, off
	}
	for k := range r.boxes {
		b := &r.boxes[k]
		if b.offM(x, y) > besideRoadM+2*pastEndM {
			if falling {
				push(before)
			}
			last, falling, before = math.Inf(1), true, spot{offM: math.Inf(1)}
			continue
		}
		for i := b.first; i <= b.last; i++ {
			look(i)
		}
	}
	if falling {
		push(before)
	}
	return out
}

// lay puts the points of a recording on the road by the cheapest way through
// their candidates.
func (r *road) lay(fixes []routes.Fix) (on []laid, off []OffRoad) {
	type column struct {
		fix  int
		x, y float64
		all  []spot
	}
	var cols []column
	var run *OffRoad
	var buf []spot
	for i := range fixes {
		f := &fixes[i]
		x, y := r.plane.xy(f.LonDeg, f.LatDeg)
		buf = r.candidates(x, y, buf)
		if len(buf) == 0 {
			if run == nil {
				off = append(off, OffRoad{From: f.At})
				run = &off[len(off)-1]
			}
			run.To, run.Points, run.OffM = f.At, run.Points+1, math.Max(run.OffM, r.nearM(x, y))
			continue
		}
		run = nil
		cols = append(cols, column{i, x, y, append([]spot(nil), buf...)})
	}
	for k := range cols {
		c := &cols[k]
		for j := range c.all {
			b := &c.all[j]
			emit := b.offM * b.offM / (2 * offsetM * offsetM)
			if k == 0 {
				b.cost = emit
				continue
			}
			prev := &cols[k-1]
			straight := math.Hypot(c.x-prev.x, c.y-prev.y)
			b.cost = math.Inf(1)
			for i := range prev.all {
				a := &prev.all[i]
				if cost := a.cost + math.Abs(math.Abs(b.distanceM-a.distanceM)-straight)/stepSlackM; cost < b.cost {
					b.cost, b.from = cost, i
				}
			}
			b.cost += emit
		}
	}
	on = make([]laid, len(cols))
	best := 0
	for k := len(cols) - 1; k >= 0; k-- {
		c := &cols[k]
		if k == len(cols)-1 {
			for j := range c.all {
				if c.all[j].cost < c.all[best].cost {
					best = j
				}
			}
		}
		b := c.all[best]
		f := &fixes[c.fix]
		on[k] = laid{f, f.At.Sub(fixes[0].At).Seconds(), b.distanceM, b.offM}
		best = b.from
	}
	return on, off
}
