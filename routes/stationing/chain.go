package stationing

import (
	"fmt"
	"math"
	"sort"

	"github.com/paulmach/orb"
)

// step is one piece of a chain and whether it is travelled against its drawing.
type step struct {
	piece  int
	turned bool
}

// end is one end of a piece: side 0 its first vertex, side 1 its last.
type end struct{ piece, side int }

func (e end) index() int { return 2*e.piece + e.side }

// maxTurnedBend is the sharpest bend at which a piece drawn in the opposite direction may be the
// continuation: at a sharper bend it is more likely the other carriageway.
const maxTurnedBend = 120 * math.Pi / 180

// link orders pieces into chains, each in the sense of its first piece in the
// list, the chains in the order of their first pieces. Where more than two ends
// meet, the straightest continuations are joined; a note reports it.
func link(pieces []piece) (chains [][]step, notes []string) {
	mate := make([]int, 2*len(pieces)) // end joined to each end; -1 is none
	for i := range mate {
		mate[i] = -1
	}
	for _, node := range meetings(pieces) {
		if len(node) > 2 {
			p := endPoint(pieces, node[0])
			notes = append(notes, fmt.Sprintf("%d of its ends meet at longitude %.6f, latitude %.6f: joined where the line continues straightest", len(node), p[0], p[1]))
		}
		joinNode(pieces, node, mate)
	}
	done := make([]bool, len(pieces))
	for i := range pieces {
		if done[i] {
			continue
		}
		chains = append(chains, chainFrom(i, mate, done))
	}
	return chains, notes
}

// chainFrom walks back from piece i to the head of its chain, or round a loop
// to i itself, and returns the chain from there.
func chainFrom(i int, mate []int, done []bool) []step {
	head := step{i, false}
	for {
		prev := mate[entry(head)]
		if prev < 0 {
			break
		}
		// Arriving through end prev means that the piece is left there.
		next := step{prev / 2, prev%2 == 0}
		if next.piece == i {
			head = step{i, false}
			break
		}
		head = next
	}
	var c []step
	for at := head; !done[at.piece]; {
		done[at.piece] = true
		c = append(c, at)
		next := mate[exit(at)]
		if next < 0 {
			break
		}
		at = step{next / 2, next%2 == 1}
	}
	return c
}

func entry(s step) int {
	if s.turned {
		return 2*s.piece + 1
	}
	return 2 * s.piece
}

func exit(s step) int { return entry(s) ^ 1 }

// joinNode joins the ends that meet at one place, straightest first; ends drawn
// head to tail before ends of a kind.
func joinNode(pieces []piece, node []end, mate []int) {
	type pair struct {
		a, b    end
		against bool
		bend    float64
	}
	var pairs []pair
	for i, a := range node {
		for _, b := range node[i+1:] {
			if a.piece == b.piece {
				continue // a closed piece needs no join
			}
			p := pair{a: a, b: b, against: a.side == b.side, bend: bendAt(pieces, a, b)}
			if !p.against || p.bend <= maxTurnedBend {
				pairs = append(pairs, p)
			}
		}
	}
	sort.SliceStable(pairs, func(i, j int) bool {
		p, q := pairs[i], pairs[j]
		if p.against != q.against {
			return q.against
		}
		return p.bend < q.bend
	})
	for _, p := range pairs {
		if mate[p.a.index()] < 0 && mate[p.b.index()] < 0 {
			mate[p.a.index()], mate[p.b.index()] = p.b.index(), p.a.index()
		}
	}
}

// bendAt is the angle between two pieces in travel.
func bendAt(pieces []piece, a, b end) float64 {
	ax, ay := inward(pieces, a)
	bx, by := inward(pieces, b)
	return math.Abs(math.Atan2(-ax*by+ay*bx, -(ax*bx + ay*by)))
}

// inward is the direction from an end into its piece.
func inward(pieces []piece, e end) (x, y float64) {
	line := pieces[e.piece].Line
	p := endPoint(pieces, e)
	m := metricAt(p[1])
	for i := 1; i < len(line); i++ {
		q := line[i]
		if e.side == 1 {
			q = line[len(line)-1-i]
		}
		if x, y = m.deltaM(p, q); math.Hypot(x, y) > meetM {
			break
		}
	}
	return x, y
}

func endPoint(pieces []piece, e end) orb.Point {
	line := pieces[e.piece].Line
	if e.side == 0 {
		return line[0]
	}
	return line[len(line)-1]
}

// meetings groups the ends that lie within meetM of each other, through a grid
// of cells of at least that size; groups of one are left out.
func meetings(pieces []piece) [][]end {
	type cell struct{ x, y int64 }
	const cellDeg = 2e-5 // 2.2 m of latitude
	at := func(p orb.Point) cell {
		// Cells get wider in degrees toward the poles, in rows of one width.
		y := math.Floor(p[1] / cellDeg)
		cos := max(1e-3, math.Cos((math.Abs(y)+1)*cellDeg*math.Pi/180))
		return cell{int64(math.Floor((p[0] + 180) / (cellDeg / cos))), int64(y)}
	}
	grid := map[cell][]end{}
	var ends []end
	for i := range pieces {
		for side := range 2 {
			e := end{i, side}
			ends = append(ends, e)
			c := at(endPoint(pieces, e))
			grid[c] = append(grid[c], e)
		}
	}
	group := make([]int, len(ends)) // smallest member of each end's group, by union
	for i := range group {
		group[i] = i
	}
	find := func(i int) int {
		for group[i] != i {
			group[i] = group[group[i]]
			i = group[i]
		}
		return i
	}
	for _, e := range ends {
		p := endPoint(pieces, e)
		m := metricAt(p[1])
		// The neighbourhood by its corners, since rows differ in cell width and
		// 180° meets −180°.
		seen := map[cell]bool{}
		for _, dx := range []float64{-meetM, 0, meetM} {
			for _, dy := range []float64{-meetM, 0, meetM} {
				c := at(orb.Point{turnDeg(p[0] + dx/m.eastM), p[1] + dy/m.northM})
				if seen[c] {
					continue
				}
				seen[c] = true
				for _, o := range grid[c] {
					if o.index() > e.index() && near(p, endPoint(pieces, o), meetM) {
						a, b := find(e.index()), find(o.index())
						group[max(a, b)] = min(a, b)
					}
				}
			}
		}
	}
	members := map[int][]end{}
	for _, e := range ends {
		members[find(e.index())] = append(members[find(e.index())], e)
	}
	var out [][]end
	for _, e := range ends {
		if g := members[e.index()]; len(g) > 1 {
			out = append(out, g)
		}
	}
	return out
}
