package survey

import (
	"math"

	"gradeline/catalog/ranking"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/routes/stationing"
)

// What an edge or a turn costs in the search must never be more than what the survey of
// any way over it finds. A way has stations elsewhere than its roads, so climbs count as
// those of stations halfway between. Near a junction the curves of a road count only for a
// way that stays on the road.

const (
	endM      = 25.0  // from a junction: as far as a turn there changes the curve of a way
	throughM  = 20.0  // a shorter edge leaves open what the way does behind it
	timeShare = 0.999 // of an edge's time: rounding
	// overstatedS: at the ends of a way, where the road beyond is not part of it, its curves
	// are wider: by at most 0.17 s on 1,401 ways drawn by chance through all roads of Delaware.
	overstatedS = 0.3
	unevenM     = 0.3 // heights of roads at one junction that are apart by more change the climbs about it
)

// addTimes works out the least times of the edges of a road; a road without a grade line
// has those of its speed limits.
func (k *KeptNetwork) addTimes(f *classFigures, class *vehicle.Class, road int, p *routes.Profile) {
	var curves *ranking.Curves
	if p != nil {
		curves = ranking.NewCurves(p, class)
	}
	for l := k.roads[road].first; l < k.roads[road].last; l++ {
		from, to := k.graph.EdgesOf(l)
		for e := from; e < to; e++ {
			f.edges[e] = k.edgeCost(k.graph, e, p, curves, class, f.massKg)
		}
	}
}

// edgeCost works out the least times of an edge on its road's grade line.
// Without a grade line it is the time at the speed limit.
func (k *KeptNetwork) edgeCost(g *network.Graph, e int32, p *routes.Profile, curves *ranking.Curves, class *vehicle.Class, massKg float64) edgeCost {
	limitMPS, _ := stationing.LimitMPS(g.Feature(e).Tags, g.Edge(e).IsReversed)
	freeMPS := ranking.EdgeSpeedMPS(class, limitMPS)
	out := edgeCost{beginMPS: freeMPS, endMPS: freeMPS}
	if p == nil {
		out.timeS = timeShare * g.LengthM(e) / freeMPS
		out.freeS = out.timeS
		return out
	}
	fromM, toM := k.stations(g, e)
	dir := routes.Forward
	if fromM > toM {
		fromM, toM, dir = toM, fromM, routes.Backward
	}
	endsM := math.Min(endM, (toM-fromM)/2)
	isThrough, doneM := g.LengthM(e) >= throughM, 0.0
	for i := max(1, int(p.IndexFromStationM(fromM))); i < p.Count()-1 && p.StationM(i)-p.StepM/2 < toM; i++ {
		// From the middle of the interval before the station to that of the next.
		loM, hiM := math.Max(fromM, p.StationM(i)-p.StepM/2), math.Min(toM, p.StationM(i)+p.StepM/2)
		if hiM <= loM {
			continue
		}
		a, b := ranking.ClimbPct(p, i-1, dir), ranking.ClimbPct(p, i, dir)
		if !(a == a && b == b) {
			continue // no height there: as level
		}
		climbPaceS := 1 / freeMPS
		if a > 0 || b > 0 {
			pace := func(pct float64) float64 { return 1 / ranking.ClimbLimitMPS(pct, limitMPS, class, massKg) }
			climbPaceS = math.Max(climbPaceS, 2*pace((a+b)/2)-(pace(a)+pace(b))/2)
		}
		curveS := func(paceS float64) float64 {
			x, y := 1/curves.LimitMPS(i-1, limitMPS), 1/curves.LimitMPS(i, limitMPS)
			return (math.Max(0, x-paceS) + math.Max(0, y-paceS)) / 2
		}
		doneM += hiM - loM
		out.timeS += (hiM - loM) * climbPaceS
		out.freeS += (hiM - loM) / freeMPS
		// The curve is part of the edge in its middle and of its ends beyond.
		beginM, middleM, lastM := split(loM, hiM, fromM+endsM, toM-endsM)
		more := curveS(climbPaceS)
		out.timeS += middleM * more
		out.freeS += middleM * curveS(1/freeMPS)
		if dir == routes.Backward {
			beginM, lastM = lastM, beginM
		}
		if isThrough {
			out.beginS, out.endS = out.beginS+beginM*more, out.endS+lastM*more
		}
		if beginM > 0 {
			out.beginMPS = math.Min(out.beginMPS, 1/climbPaceS)
		}
		if lastM > 0 {
			out.endMPS = math.Min(out.endMPS, 1/climbPaceS)
		}
	}
	restS := (toM - fromM - doneM) / freeMPS // at the ends of the road and without heights
	out.timeS, out.freeS = out.timeS+restS, out.freeS+restS
	out.timeS, out.freeS = timeShare*math.Max(out.timeS, out.freeS), timeShare*out.freeS
	return out
}

// split returns the lengths of a stretch before a, between a and b, and after b.
func split(loM, hiM, a, b float64) (before, between, after float64) {
	before = math.Max(0, math.Min(hiM, a)-loM)
	after = math.Max(0, hiM-math.Max(loM, b))
	return before, math.Max(0, hiM-loM-before-after), after
}

// cutCost is the cost of an edge that a place has made of a longer one.
func (k *KeptNetwork) cutCost(g *network.Graph, e int32) edgeCost {
	p := k.roads[k.at[g.Base(e)].road].profile
	if p == nil {
		return k.edgeCost(g, e, nil, nil, k.class, k.massKg)
	}
	return k.edgeCost(g, e, p, ranking.NewCurves(p, k.class), k.class, k.massKg)
}

// edgeTimes are the least times at the requested mass: a lighter truck may climb faster.
func (k *KeptNetwork) edgeTimes() []float64 {
	out := make([]float64, len(k.figures.edges))
	isLighter := k.massKg < k.figures.massKg
	for e := range out {
		if out[e] = k.figures.edges[e].timeS; isLighter {
			out[e] = k.figures.edges[e].freeS
		}
	}
	return out
}

// edgeEnds are the heights of roads at both ends of each edge; NaN where there is none.
type edgeEnds struct{ z [][2]float32 }

func (k *KeptNetwork) addHeights(ends *edgeEnds, road int, p *routes.Profile) {
	for l := k.roads[road].first; l < k.roads[road].last; l++ {
		from, to := k.graph.EdgesOf(l)
		for e := from; e < to; e++ {
			ends.z[e] = [2]float32{float32(math.NaN()), float32(math.NaN())}
			if p == nil {
				continue
			}
			a, b := k.stations(k.graph, e)
			for i, m := range [2]float64{a, b} {
				ends.z[e][i] = float32(p.ElevationAtM(math.Max(0, math.Min(m, p.LengthM))))
			}
		}
	}
}

// levelUneven leaves the climbs out of edges within blendM of a junction whose roads are
// not at one height: a way that goes from one into the other has other climbs there.
func (k *KeptNetwork) levelUneven(f *classFigures, ends *edgeEnds) {
	lo, hi := map[int32]float32{}, map[int32]float32{}
	for e := range int32(len(ends.z)) {
		edge := k.graph.Edge(e)
		for i, n := range [2]int32{edge.From, edge.To} {
			z := ends.z[e][i]
			if z != z {
				continue
			}
			if old, ok := lo[n]; !ok || z < old {
				lo[n] = z
			}
			if old, ok := hi[n]; !ok || z > old {
				hi[n] = z
			}
		}
	}
	for road := range k.roads {
		var uneven []float64
		r := &k.roads[road]
		for l := r.first; l < r.last; l++ {
			from, to := k.graph.EdgesOf(l)
			for e := from; e < to; e++ {
				if n := k.graph.Edge(e).From; hi[n]-lo[n] > unevenM {
					m, _ := k.stations(k.graph, e)
					uneven = append(uneven, m)
				}
				if n := k.graph.Edge(e).To; hi[n]-lo[n] > unevenM {
					_, m := k.stations(k.graph, e)
					uneven = append(uneven, m)
				}
			}
		}
		for l := r.first; l < r.last && len(uneven) > 0; l++ {
			from, to := k.graph.EdgesOf(l)
			for e := from; e < to; e++ {
				a, b := k.stations(k.graph, e)
				for _, m := range uneven {
					if m > math.Min(a, b)-blendM && m < math.Max(a, b)+blendM {
						f.edges[e].timeS = f.edges[e].freeS
					}
				}
			}
		}
	}
}
