package survey

import (
	"fmt"
	"math"
	"slices"

	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/routes/stationing"
)

const (
	// blendM is the distance from a junction over which the heights of two roads are blended.
	blendM = 150.0
	// bridgedM is the longest run of short links between roads over which heights are interpolated
	// evenly. Such links are under 200 m each.
	bridgedM = 400.0
	stitchM  = 10.0 // spacing of stations, or that of a road if finer
)

// leg is a stretch of a way on one road.
type leg struct {
	road        int
	atM, toM    float64 // stations of the way
	fromM, endM float64 // of the road, in travel
	profile     *routes.Profile
	stepInM     float64 // added at its beginning, falling to zero after blendM
	stepOutM    float64
}

// roadM is the road's station at a station of the way.
func (l *leg) roadM(m float64) float64 {
	if l.toM == l.atM {
		return l.fromM
	}
	return l.fromM + (m-l.atM)/(l.toM-l.atM)*(l.endM-l.fromM)
}

// wayM is the way's station at a station of the road.
func (l *leg) wayM(roadM float64) float64 {
	if l.endM == l.fromM {
		return l.atM
	}
	return l.atM + (roadM-l.fromM)/(l.endM-l.fromM)*(l.toM-l.atM)
}

// heightM is the road's height, blended with its neighbours.
func (l *leg) heightM(m float64) float64 {
	z := l.profile.ElevationAtM(math.Max(0, math.Min(l.roadM(m), l.profile.LengthM)))
	z += l.stepInM * math.Max(0, 1-(m-l.atM)/blendM)
	return z + l.stepOutM*math.Max(0, 1-(l.toM-m)/blendM)
}

// legsOf are the legs of a way; consecutive edges of one road are one leg.
func (k *KeptNetwork) legsOf(g *network.Graph, w network.Way, lengthM float64) []leg {
	var out []leg
	at := 0.0
	for _, e := range w.Edges {
		road := k.at[g.Base(e)].road
		fromM, toM := k.stations(g, e)
		next := at + g.Edge(e).LengthM*lengthM/w.LengthM
		if n := len(out) - 1; n >= 0 && out[n].road == road && math.Abs(out[n].endM-fromM) < 1 && (out[n].fromM < out[n].endM) == (fromM < toM) {
			out[n].toM, out[n].endM = next, toM
		} else {
			out = append(out, leg{road: road, atM: at, toM: next, fromM: fromM, endM: toM, profile: k.roads[road].profile})
		}
		at = next
	}
	return out
}

// stitch makes one profile of the grade lines of a way's roads. Where two roads meet, the
// difference in height is spread over blendM of both; a difference beyond the bounds of both is a
// doubt. Links without a grade line get an even grade between their neighbours.
func (k *KeptNetwork) stitch(g *network.Graph, w network.Way, r *routes.Route) *routes.Profile {
	legs := k.legsOf(g, w, r.LengthM)
	stepM := stitchM
	for i := range legs {
		if legs[i].profile != nil {
			stepM = math.Min(stepM, legs[i].profile.StepM)
		}
	}
	n := max(1, int(math.Ceil(r.LengthM/math.Max(stepM, 2)-1e-9)))
	p := &routes.Profile{StepM: r.LengthM / float64(n), LengthM: r.LengthM, Reliable: true, RadiusM: nil}
	p.RadiusM = stationing.RadiiM(r, n+1, p.StepM)
	k.meet(p, legs)
	k.fill(p, legs, r, n+1)
	k.qualify(p, legs)
	return p
}

// meet blends the heights of legs where they meet.
func (k *KeptNetwork) meet(p *routes.Profile, legs []leg) {
	last := -1
	for i := range legs {
		l := &legs[i]
		if l.profile == nil {
			continue
		}
		if last >= 0 {
			b := &legs[last]
			gapM := l.atM - b.toM
			apart := l.heightAtEnd(true) - b.heightAtEnd(false)
			if gapM < 1 && !math.IsNaN(apart) {
				b.stepOutM, l.stepInM = apart/2, -apart/2
				errM := math.Hypot(b.profile.ElevationErrM(b.endM), l.profile.ElevationErrM(l.fromM))
				if math.Abs(apart) > math.Max(nodeLeastM, errM) {
					p.Doubtful = append(p.Doubtful, routes.Doubt{FromM: math.Max(0, l.atM-blendM), ToM: math.Min(p.LengthM, l.atM+blendM),
						Why: fmt.Sprintf("%s and %s meet there, but their grade lines differ by %.1f m", k.roads[b.road].id, k.roads[l.road].id, math.Abs(apart))})
				}
			}
		}
		last = i
	}
}

func (l *leg) heightAtEnd(isBegin bool) float64 {
	if isBegin {
		return l.profile.ElevationAtM(math.Max(0, math.Min(l.fromM, l.profile.LengthM)))
	}
	return l.profile.ElevationAtM(math.Max(0, math.Min(l.endM, l.profile.LengthM)))
}

// fill sets the stations of the profile.
func (k *KeptNetwork) fill(p *routes.Profile, legs []leg, r *routes.Route, count int) {
	p.GroundM, p.ElevationM, p.EaseM = make([]float64, count), make([]float64, count), make([]float64, count)
	p.State = make([]routes.StationState, count)
	vertex, at, easeM := 0, 0, 0.0
	for i := range count {
		m := math.Min(p.StationM(i), r.LengthM)
		for vertex+2 < len(r.VertexM) && r.VertexM[vertex+1] < m {
			vertex++
		}
		p.Points = append(p.Points, pointBetween(r, vertex, m))
		for at+1 < len(legs) && legs[at].toM < m {
			at++
		}
		l := &legs[at]
		if l.profile == nil {
			p.GroundM[i] = math.NaN()
			p.ElevationM[i], p.State[i] = evenHeight(legs, at, m)
			p.EaseM[i] = easeM
			continue
		}
		roadM := math.Max(0, math.Min(l.roadM(m), l.profile.LengthM))
		near := max(0, min(int(math.Round(l.profile.IndexFromStationM(roadM))), l.profile.Count()-1))
		p.ElevationM[i], p.State[i], p.GroundM[i] = l.heightM(m), l.profile.State[near], l.profile.GroundM[near]
		// The smoothing error counts by its differences along one road.
		if i > 0 && p.StationM(i-1) >= l.atM {
			before := math.Max(0, math.Min(l.roadM(p.StationM(i-1)), l.profile.LengthM))
			easeM += l.profile.EaseAtM(roadM) - l.profile.EaseAtM(before)
		}
		p.EaseM[i] = easeM
	}
}

// evenHeight is the height at a station on links without a grade line.
func evenHeight(legs []leg, at int, m float64) (float64, routes.StationState) {
	a, b := at, at
	for a >= 0 && legs[a].profile == nil {
		a--
	}
	for b < len(legs) && legs[b].profile == nil {
		b++
	}
	if a < 0 || b == len(legs) {
		// A short link at an end of the way has the height of the road that it meets.
		switch {
		case a >= 0 && m-legs[a].toM <= bridgedM:
			return legs[a].heightM(legs[a].toM), routes.FoundStructure
		case b < len(legs) && legs[b].atM-m <= bridgedM:
			return legs[b].heightM(legs[b].atM), routes.FoundStructure
		}
		return math.NaN(), routes.InVoid
	}
	fromM, toM := legs[a].toM, legs[b].atM
	if toM-fromM > bridgedM || toM <= fromM {
		return math.NaN(), routes.InVoid
	}
	z0, z1 := legs[a].heightM(fromM), legs[b].heightM(toM)
	return z0 + (m-fromM)/(toM-fromM)*(z1-z0), routes.FoundStructure
}

func pointBetween(r *routes.Route, vertex int, m float64) [2]float64 {
	a, b := r.Line[vertex], r.Line[vertex+1]
	t := 0.0
	if d := r.VertexM[vertex+1] - r.VertexM[vertex]; d > 0 {
		t = math.Max(0, math.Min(1, (m-r.VertexM[vertex])/d))
	}
	return [2]float64{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])}
}

// qualify copies bounds, doubts and structures from the roads.
func (k *KeptNetwork) qualify(p *routes.Profile, legs []leg) {
	isFirst := true
	for i := range legs {
		l := &legs[i]
		q := l.profile
		if q == nil {
			continue
		}
		p.Noise.SigmaM, p.Noise.TauM, p.CellM = math.Max(p.Noise.SigmaM, q.Noise.SigmaM), math.Max(p.Noise.TauM, q.Noise.TauM), math.Max(p.CellM, q.CellM)
		if isFirst || q.Bound.ElevationM < p.Bound.ElevationM {
			p.Bound, isFirst = q.Bound, false
		}
		p.Coarser = append(p.Coarser, routes.Part{FromM: l.atM, ToM: l.toM, Bound: q.Bound})
		if !q.Reliable {
			p.Doubtful = append(p.Doubtful, routes.Doubt{FromM: l.atM, ToM: l.toM, Why: q.Unreliable})
		}
		for _, d := range q.Doubtful {
			if a, b, ok := l.onWay(d.FromM, d.ToM); ok {
				p.Doubtful = append(p.Doubtful, routes.Doubt{FromM: a, ToM: b, Why: d.Why})
			}
		}
		for _, c := range q.Coarser {
			if a, b, ok := l.onWay(c.FromM, c.ToM); ok {
				p.Coarser = append(p.Coarser, routes.Part{FromM: a, ToM: b, Bound: c.Bound})
			}
		}
		for _, s := range q.Structures {
			if a, b, ok := l.onWay(s.FromM, s.ToM); ok {
				p.Structures = append(p.Structures, routes.Structure{Kind: s.Kind, FromM: a, ToM: b, Flagged: s.Flagged})
			}
		}
	}
	slices.SortFunc(p.Structures, func(a, b routes.Structure) int { return int(a.FromM - b.FromM) })
	for _, s := range p.State {
		if s == routes.InVoid || s == routes.OutsideTerrain {
			p.MissingM += p.StepM
		}
	}
	p.MissingM = math.Min(p.MissingM, p.LengthM)
}

// onWay converts a stretch of the leg's road to stations of the way, limited to the leg.
func (l *leg) onWay(aM, bM float64) (fromM, toM float64, ok bool) {
	lo, hi := math.Min(l.fromM, l.endM), math.Max(l.fromM, l.endM)
	aM, bM = math.Max(math.Min(aM, bM), lo), math.Min(math.Max(aM, bM), hi)
	if aM > bM {
		return 0, 0, false
	}
	x, y := l.wayM(aM), l.wayM(bM)
	return math.Min(x, y), math.Max(x, y), true
}
