package survey

import (
	"context"
	"math"
	"sync"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/grade"
)

// Roads that meet at a node of a network have one height there: that of the first of them, in the
// order of the routes, which is by length. A road's grade line is known better in its middle than
// at its end, and a long road's middle is where short roads end. Each later road's grade line is led
// through that height. A hill that continues in other roads, and a trip, are surveyed as one line,
// which has the nodes in its middle; they are not led. The step follows the order of the routes, so
// its result depends neither on the number of workers nor on where an interrupted survey continued.

// meeting is the height of a node.
type meeting struct {
	elevationM, errM float64
	order            int // of the road that gave it
}

// meetings are the heights of the nodes of a network. They are safe for concurrent use.
type meetings struct {
	mu sync.RWMutex
	at map[uint64]meeting
}

// turn is a road's place in the order in which heights are given.
type turn struct {
	order  int
	before <-chan struct{} // closed when all roads before it have given theirs
	after  chan struct{}
}

// afterTurn is the turn after another one; the first is after nil.
func afterTurn(t *turn) *turn {
	if t == nil {
		first := make(chan struct{})
		close(first)
		return &turn{before: first, after: make(chan struct{})}
	}
	return &turn{order: t.order + 1, before: t.after, after: make(chan struct{})}
}

// wait returns when it is the road's turn, or false when ctx has ended.
func (t *turn) wait(ctx context.Context) bool {
	select {
	case <-t.before:
		return true
	case <-ctx.Done():
		return false
	}
}

// end lets the next road have its turn.
func (t *turn) end() { close(t.after) }

// add keeps the heights of nodes that no earlier road gave.
func (m *meetings) add(order int, nodes []nodeHeight) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.at == nil {
		m.at = map[uint64]meeting{}
	}
	for i := range nodes {
		n := &nodes[i]
		key := nodeKey(n.LonDeg, n.LatDeg)
		if _, known := m.at[key]; n.IsFirm && !known {
			m.at[key] = meeting{n.ElevationM, n.ErrM, order}
		}
	}
}

// lead returns a profile that is led through the heights that roads before order gave its nodes. A
// height that contradicts the road's own is left out: which of them is wrong is not known.
func (m *meetings) lead(p *routes.Profile, order int, places []nodePlace) *routes.Profile {
	m.mu.RLock()
	var at []grade.MeetingHeight
	for _, n := range nodeHeights(p, places) {
		f, ok := m.at[nodeKey(n.LonDeg, n.LatDeg)]
		if !ok || !n.IsFirm || f.order >= order || isApart(n.ElevationM-f.elevationM, n.ErrM, f.errM) {
			continue
		}
		at = append(at, grade.MeetingHeight{StationM: n.StationM, ElevationM: f.elevationM})
	}
	m.mu.RUnlock()
	return grade.Meet(p, at)
}

// isApart reports whether two heights at one node differ by more than their bounds.
func isApart(diffM, errM, otherErrM float64) bool {
	return math.Abs(diffM) > math.Max(nodeLeastM, math.Hypot(errM, otherErrM))
}

// isFirm reports whether a profile's height at a station rests on ground that can be relied on; on a
// bridge or in a tunnel it does not.
func isFirm(p *routes.Profile, stationM float64) bool {
	i := int(math.Round(p.IndexFromStationM(stationM)))
	return p.Reliable && i >= 0 && i < len(p.State) && p.State[i] == routes.Measured && !p.IsDoubtful(stationM, stationM)
}

// nodesOf are the places at which a line meets roads of a joined network, without its ends.
func (r *Roads) nodesOf(line *routes.Route, lengthM float64) []nodePlace {
	net := r.Network()
	return innerNodes(line, lengthM, func(at orb.Point) bool { return net.IsRoadEnd(at) || net.IsCrossing(at) })
}
