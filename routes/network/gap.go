package network

// Gap says why no way leads through the places of a graph, whatever a truck may use: the leg that
// has none, from 0 on.
type Gap struct {
	Leg int
	// At most one is set; none: no road leads there at all.
	IsSamePlace bool // the leg begins where it ends
	IsAgainst   bool // only against the direction of one-way roads
	IsTurn      bool // the roads lead there, but not with their turn rules and without turning back
}

// GapBetween finds the first leg without a way.
func (g *Graph) GapBetween() Gap {
	for i := 1; i < len(g.stops); i++ {
		from, to := g.stops[i-1], g.stops[i]
		switch {
		case from == to:
			return Gap{Leg: i - 1, IsSamePlace: true}
		case g.leadsTo(from, to, false):
		case g.leadsTo(from, to, true):
			return Gap{Leg: i - 1, IsAgainst: true}
		default:
			return Gap{Leg: i - 1}
		}
	}
	return Gap{IsTurn: true}
}

// leadsTo reports whether roads lead from a node to another, without regard to turns.
func (g *Graph) leadsTo(from, to int32, isEitherWay bool) bool {
	seen := make([]bool, len(g.points))
	seen[from] = true
	for open := []int32{from}; len(open) > 0; {
		n := open[len(open)-1]
		open = open[:len(open)-1]
		if n == to {
			return true
		}
		reach := func(m int32) {
			if !seen[m] {
				seen[m] = true
				open = append(open, m)
			}
		}
		for _, e := range g.leaving(n) {
			reach(g.edge(e).To)
		}
		for _, e := range g.arriving(n) {
			if isEitherWay {
				reach(g.edge(e).From)
			}
		}
	}
	return false
}
