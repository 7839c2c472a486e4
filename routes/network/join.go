package network

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/stationing"
)

// The rules for which line continues which, where ends meet: the common reading of a map; no source.
const (
	headM         = 25.0            // length over which a line's heading at its end is measured
	straightDeg   = 50.0            // furthest bend of roads that share neither name nor ref, where others meet
	bendAloneDeg  = 100.0           // the same where nothing else meets
	bendNamedDeg  = 135.0           // of roads of one name or ref, where others meet
	bendOneWayDeg = 100.0           // of two one-way roads: sharper is the way back
	classDeg      = 20.0            // bend that counts as much as one class of difference
	carriagewayM  = 1000.0          // a longer one-way part is a road of its own
	halfTurn      = 180.0 / math.Pi // degrees in a radian
)

// line is a feature with what joining needs.
type line struct {
	f       *routes.Feature
	ends    [2]int32 // nodes of its first and last vertex
	sense   int      // see senseOf
	lengthM float64
	refs    []string
	name    string
	rank    int
	isRing  bool
}

// end is one end of a line: side 0 its first vertex, side 1 its last.
type end struct {
	line int32
	side int8
}

func (e end) other() end { return end{e.line, 1 - e.side} }

func (e end) index() int { return 2*int(e.line) + int(e.side) }

// joint is the continuation of an end.
type joint struct {
	to        end
	connector *stationing.Piece // the part of a roundabout between, in the sense of leaving this end; nil if none
	isSet     bool
}

// joiner finds the through roads of a network.
type joiner struct {
	nodes  *nodeTable
	lines  []line
	mates  []joint // by end
	rings  rings
	places map[int32][]end // ends by node, those at a roundabout by its first node
	passed map[int32]int   // lines that pass a node without ending there
}

func newJoiner(features []routes.Feature) *joiner {
	j := &joiner{nodes: newNodeTable(), places: map[int32][]end{}, passed: map[int32]int{}}
	for i := range features {
		f := &features[i]
		n := len(f.Line) - 1
		l := line{f: f, ends: [2]int32{j.nodes.number(f, 0), j.nodes.number(f, n)}, sense: senseOf(f.Tags), lengthM: lineM(f.Line),
			refs: texts(f.Tags["ref"]), name: f.Tags["name"], rank: classRank(f.Tags), isRing: isRoundabout(f.Tags)}
		j.lines = append(j.lines, l)
	}
	j.mates = make([]joint, 2*len(j.lines))
	j.rings = newRings(j)
	for i := range j.lines {
		l := &j.lines[i]
		if l.isRing {
			continue
		}
		for side, n := range l.ends {
			n = j.rings.place(n)
			j.places[n] = append(j.places[n], end{int32(i), int8(side)})
		}
		for k := 1; k+1 < len(l.f.Line); k++ {
			j.passed[j.nodes.number(l.f, k)]++
		}
	}
	return j
}

// chains joins the lines and returns the through roads.
func (j *joiner) chains() [][]stationing.Piece {
	places := sortedKeys(j.places)
	// Carriageways of one name or ref come first, so that their directions are known where a
	// two-way road divides.
	for _, isFirst := range []bool{true, false} {
		for _, n := range places {
			j.joinAt(n, j.places[n], isFirst)
		}
	}
	done := make([]bool, len(j.lines))
	var out [][]stationing.Piece
	for i := range j.lines {
		if done[i] || j.lines[i].isRing {
			continue
		}
		out = append(out, j.chainOf(int32(i), done))
	}
	return out
}

func sortedKeys(m map[int32][]end) []int32 {
	out := make([]int32, 0, len(m))
	for n := range m {
		out = append(out, n)
	}
	slices.Sort(out)
	return out
}

// pairing is a pair of ends that could continue each other.
type pairing struct {
	a, b     end
	tier     int  // 0 one ref, 1 one name, 2 neither
	isOneWay bool // both are
	ways     int  // 0 both two-way or both one-way, 1 the carriageway that runs east, 2 the other
	bendDeg  float64
}

// joinAt joins the ends that meet at a place, the most certain pairs first, and initially only
// one-way roads of one name or ref.
func (j *joiner) joinAt(place int32, ends []end, isFirst bool) {
	if len(ends) < 2 {
		return
	}
	isAlone := len(ends) == 2 && j.passed[place] == 0
	var list []pairing
	for i, a := range ends {
		for _, b := range ends[i+1:] {
			if j.mates[a.index()].isSet || j.mates[b.index()].isSet {
				continue
			}
			if c, ok := j.candidate(place, a, b, isAlone); ok && (!isFirst || c.tier < 2 && c.isOneWay) {
				list = append(list, c)
			}
		}
	}
	slices.SortFunc(list, func(p, q pairing) int {
		return cmp.Or(cmp.Compare(p.tier, q.tier), cmp.Compare(p.ways, q.ways), cmp.Compare(p.bendDeg, q.bendDeg), j.compareEnds(p.a, q.a), j.compareEnds(p.b, q.b))
	})
	for _, c := range list {
		if j.mates[c.a.index()].isSet || j.mates[c.b.index()].isSet {
			continue
		}
		there, back, ok := j.connect(c.a, c.b)
		if !ok {
			continue
		}
		j.mates[c.a.index()] = joint{c.b, there, true}
		j.mates[c.b.index()] = joint{c.a, back, true}
	}
}

// compareEnds orders ends by their geometry and not by the numbers in the data.
func (j *joiner) compareEnds(a, b end) int {
	p, q := j.headPoint(a), j.headPoint(b)
	return cmp.Or(cmp.Compare(p[0], q[0]), cmp.Compare(p[1], q[1]))
}

// headPoint is the place on the line headM from an end, or its other end.
func (j *joiner) headPoint(e end) orb.Point {
	l := j.lines[e.line].f.Line
	return alongLine(len(l)-1, func(i int) orb.Point {
		if e.side == 1 {
			return l[len(l)-1-i]
		}
		return l[i]
	})
}

func (j *joiner) endPoint(e end) orb.Point {
	l := j.lines[e.line].f.Line
	if e.side == 1 {
		return l[len(l)-1]
	}
	return l[0]
}

// heading is the direction from an end into its line; at a roundabout from its middle, because the
// last metres of an arm bend toward the ring.
func (j *joiner) heading(place int32, e end) (x, y float64) {
	from := j.endPoint(e)
	if c, ok := j.rings.centre[place]; ok {
		from = c
	}
	return planeAt(from[1]).vector(from, j.headPoint(e))
}

func (j *joiner) candidate(place int32, a, b end, isAlone bool) (pairing, bool) {
	if a.line == b.line {
		return pairing{}, false
	}
	la, lb := &j.lines[a.line], &j.lines[b.line]
	leaves, enters := canLeave(la, a) && canEnter(lb, b), canLeave(lb, b) && canEnter(la, a)
	if !leaves && !enters {
		return pairing{}, false
	}
	ax, ay := j.heading(place, a)
	bx, by := j.heading(place, b)
	c := pairing{a: a, b: b, tier: 2, bendDeg: halfTurn * math.Abs(math.Atan2(-ax*by+ay*bx, -(ax*bx+ay*by)))}
	limitDeg := c.rate(la, lb, isAlone)
	if la.sense != 0 && lb.sense != 0 {
		limitDeg = math.Min(limitDeg, bendOneWayDeg)
		c.isOneWay = true
	} else if la.sense != 0 || lb.sense != 0 {
		c.ways = 2
		if j.runsEast(a, la) || j.runsEast(b, lb) {
			c.ways = 1
		}
	}
	return c, c.bendDeg <= limitDeg
}

// rate returns how certain a pair is, and how far it may bend.
func (c *pairing) rate(la, lb *line, isAlone bool) (limitDeg float64) {
	limitDeg = bendNamedDeg
	switch {
	case share(la.refs, lb.refs):
		c.tier = 0
	case la.name != "" && la.name == lb.name:
		c.tier = 1
	default:
		c.tier = 2
		c.bendDeg += classDeg * math.Abs(float64(la.rank-lb.rank))
		if isAlone {
			return bendAloneDeg
		}
		return straightDeg
	}
	if isAlone {
		return 180
	}
	return limitDeg
}

// runsEast reports whether the carriageway that an end belongs to runs east overall, so that the
// same one of two is chosen where they divide and where they join.
func (j *joiner) runsEast(e end, l *line) bool {
	if l.sense == 0 {
		return false
	}
	from, at := j.endPoint(e), e.other()
	for n := 0; n < len(j.lines); n++ {
		m := j.mates[at.index()]
		if !m.isSet || j.lines[m.to.line].sense == 0 || m.to.line == e.line {
			break
		}
		at = m.to.other()
	}
	x, y := planeAt(from[1]).vector(from, j.endPoint(at))
	isFromHere := canEnter(l, e)
	return (canonical(x, y) > 0) == isFromHere
}

// canLeave reports whether traffic may come out of a line at an end, canEnter
// whether it may go in.
func canLeave(l *line, e end) bool { return l.sense == 0 || (l.sense > 0) == (e.side == 1) }
func canEnter(l *line, e end) bool { return l.sense == 0 || (l.sense > 0) == (e.side == 0) }

// connect finds the part of a roundabout between two ends; none is needed where
// they meet at one node.
func (j *joiner) connect(a, b end) (there, back *stationing.Piece, ok bool) {
	na, nb := j.lines[a.line].ends[a.side], j.lines[b.line].ends[b.side]
	if na == nb {
		return nil, nil, true
	}
	isAB := canLeave(&j.lines[a.line], a) && canEnter(&j.lines[b.line], b)
	isBA := canLeave(&j.lines[b.line], b) && canEnter(&j.lines[a.line], a)
	if isAB && isBA { // two-way arms: the arc of eastbound traffic
		p, q := j.nodes.points[na], j.nodes.points[nb]
		x, y := planeAt(p[1]).vector(p, q)
		isAB = canonical(x, y) > 0
	}
	if !isAB {
		na, nb = nb, na
	}
	arc, ok := j.rings.arc(j, na, nb)
	if !ok {
		return nil, nil, false
	}
	along, against := &stationing.Piece{Feature: arc}, &stationing.Piece{Feature: arc, Reversed: true}
	if isAB {
		return along, against, true
	}
	return against, along, true
}

// chainOf walks back from a line to the head of its road, or round a loop to the
// line itself, and returns the pieces from there.
func (j *joiner) chainOf(i int32, done []bool) []stationing.Piece {
	head := end{i, 0}
	for {
		m := j.mates[head.index()]
		if !m.isSet {
			break
		}
		if m.to.line == i {
			head = end{i, 0}
			break
		}
		head = m.to.other()
	}
	var out []stationing.Piece
	for at := head; !done[at.line]; {
		done[at.line] = true
		out = append(out, stationing.Piece{Feature: *j.lines[at.line].f, Reversed: at.side == 1})
		m := j.mates[at.other().index()]
		if !m.isSet || done[m.to.line] {
			break
		}
		if m.connector != nil {
			out = append(out, *m.connector)
		}
		at = m.to
	}
	return out
}
