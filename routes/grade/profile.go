package grade

import (
	"cmp"
	"math"
	"slices"

	"gradeline/routes"
	"gradeline/terrain"
)

// profile turns the working state into a Profile, forward along the route.
func (r *recoverer) profile(g *routes.Ground, ratio float64) *routes.Profile {
	q := base(g, r.sec.cellM)
	q.Noise = routes.Noise{SigmaM: r.p.sigmaM, TauM: r.p.tauM}
	r.copyHeights(q)
	for i := range q.State {
		q.State[i] = missState(g, q.GroundM, i)
	}
	r.markFound(q)
	r.markFlagged(q, g.Structures)
	slices.SortStableFunc(q.Structures, func(a, b routes.Structure) int { return cmp.Compare(a.FromM, b.FromM) })
	gaps, missingM := missingDoubts(g, q.State)
	q.Doubtful = inOrder(slices.Concat(doubts(q.Structures, q.LengthM, q.CellM), steepDoubts(q), gaps, g.Doubtful))
	count(q)
	openEnds(q)
	if q.Unreliable = missingWords(missingM, q.LengthM); q.Unreliable == "" {
		q.Unreliable = r.unreliable(ratio)
	}
	if q.Unreliable == "" {
		q.Unreliable = generalised(g)
	}
	q.Reliable = q.Unreliable == ""
	q.Bound = errorModel(r.sec.cellM, r.p.sigmaM)
	q.Coarser = r.coarser(g)
	return q
}

// copyHeights brings the heights from the working direction to the line's.
func (r *recoverer) copyHeights(q *routes.Profile) {
	n := r.sec.n
	if r.sec.cols > 1 && !r.sec.blurred {
		q.LateralM = make([]float64, n)
	}
	q.EaseM = make([]float64, n)
	side := 1.0
	if r.sec.flipped {
		side = -1
	}
	for i := 0; i < n; i++ {
		j := i
		if r.sec.flipped {
			j = n - 1 - i
		}
		c := int(r.index[i])
		q.GroundM[j] = float64(r.sec.z[i*r.sec.cols+c])
		q.ElevationM[j] = r.x[i] + r.sec.refM
		q.EaseM[j] = r.alt[i] - r.x[i]
		if q.LateralM != nil {
			q.LateralM[j] = side * r.sec.offsetM[c]
		}
	}
}

// markFound adds the structures that the heights suggest.
func (r *recoverer) markFound(q *routes.Profile) {
	for _, u := range r.runs {
		a, b := u.first, u.last
		if r.sec.flipped {
			a, b = r.sec.n-1-b, r.sec.n-1-a
		}
		for i := a; i <= b; i++ {
			if q.State[i] == routes.Measured {
				q.State[i] = routes.FoundStructure
			}
		}
		kind := routes.Bridge
		if u.above {
			kind = routes.Tunnel
		}
		q.Structures = append(q.Structures, routes.Structure{Kind: kind, FromM: float64(a) * q.StepM, ToM: float64(b) * q.StepM})
	}
}

// markFlagged sets the state over the structures of the road data.
func (r *recoverer) markFlagged(q *routes.Profile, structures []routes.Structure) {
	wide := max(r.sec.cellM, structureDilateM)
	for _, st := range structures {
		state := routes.OnBridge
		if st.Kind == routes.Tunnel {
			state = routes.InTunnel
		}
		a, b := structureStations(st, r.sec.n, q.StepM, wide)
		for i := a; i <= b; i++ {
			q.State[i] = state
		}
	}
}

// base makes a profile with the values that are copied from the ground.
func base(g *routes.Ground, cellM float64) *routes.Profile {
	n := g.Count()
	return &routes.Profile{StepM: g.StepM, LengthM: g.LengthM, GroundM: make([]float64, n), ElevationM: make([]float64, n),
		State: make([]routes.StationState, n), Points: g.Points, RadiusM: g.RadiusM, CellM: cellM,
		Structures: slices.Clone(g.Structures)}
}

func missState(g *routes.Ground, groundM []float64, i int) routes.StationState {
	if !math.IsNaN(groundM[i]) {
		return routes.Measured
	}
	if len(g.Miss) == len(groundM) && g.Miss[i] == terrain.Outside {
		return routes.OutsideTerrain
	}
	return routes.InVoid
}

// count sets MissingM.
func count(q *routes.Profile) {
	m := 0
	for _, s := range q.State {
		if s == routes.InVoid || s == routes.OutsideTerrain {
			m++
		}
	}
	q.MissingM = min(q.LengthM, float64(m)*q.StepM)
}

// openEnds removes heights farther than 300 m from measured ground at both ends.
func openEnds(q *routes.Profile) {
	far := int(extrapolateMaxM / q.StepM)
	n := q.Count()
	first := slices.Index(q.State, routes.Measured)
	last := n - 1
	for last >= 0 && q.State[last] != routes.Measured {
		last--
	}
	for i := range q.ElevationM {
		if i < first-far || i > last+far {
			q.ElevationM[i] = math.NaN()
		}
	}
}
