package network

import (
	"hash/fnv"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/stationing"
)

// Onward is a road that continues where another ends: its pieces in travel from there on.
type Onward struct {
	Road   string // id of the continuing road
	Pieces []stationing.Piece
	// IsClosed is set where the road's tags or a turn rule keep every truck out.
	IsClosed bool
	index    int // of the road
	isBack   bool
	// IsCut is set where the pieces end before the road does, because no truck may go on.
	IsCut bool
}

// turnBackDeg is the bend that counts as turning back.
const turnBackDeg = 150.0

// onwardIndex is an index of the places where roads can be joined.
type onwardIndex struct {
	roads []road // including those left out as too short
	byID  map[string]int
	at    map[[2]int32][]onRoad
	rings *joiner
	ring  map[[2]int32]int32 // node of a roundabout, by place
	// members are the nodes of a roundabout, in order, by its first.
	members map[int32][]int32
	turns   map[int64][]*routes.Turn // of one node, by it
	crosses map[[2]int32]bool        // places that two roads share and at which neither ends
}

// onRoad is a place on a road: vertex of a piece.
type onRoad struct {
	road, piece, vertex int
}

func newOnwardIndex(all []road, j *joiner, turns []routes.Turn) *onwardIndex {
	x := &onwardIndex{turns: map[int64][]*routes.Turn{}, roads: all, byID: map[string]int{}, at: map[[2]int32][]onRoad{}, rings: j, ring: map[[2]int32]int32{}, members: map[int32][]int32{}}
	for i := range turns {
		if t := &turns[i]; len(t.ViaWays) == 0 {
			x.turns[t.ViaNode] = append(x.turns[t.ViaNode], t)
		}
	}
	ends := map[[2]int32]bool{}
	for i := range all {
		x.byID[all[i].ID] = i
		line := all[i].Line
		ends[placeKey(line[0])], ends[placeKey(line[len(line)-1])] = true, true
	}
	for _, n := range j.rings.nodes() { // in order: of several at one place the last counts
		g := j.rings.group[n]
		x.members[g] = append(x.members[g], n)
		key := placeKey(j.nodes.points[n])
		x.ring[key] = n
		ends[key] = true
	}
	for i := range all {
		for k := range all[i].pieces {
			for v, p := range all[i].pieces[k].Line {
				if key := placeKey(p); ends[key] {
					x.at[key] = append(x.at[key], onRoad{i, k, v})
				}
			}
		}
	}
	x.findCrossings(ends)
	return x
}

// findCrossings notes the vertices that two roads share.
func (x *onwardIndex) findCrossings(ends map[[2]int32]bool) {
	x.crosses = map[[2]int32]bool{}
	first := map[[2]int32]int32{}
	for i := range x.roads {
		for _, p := range x.roads[i].Line {
			key := placeKey(p)
			if other, known := first[key]; !known {
				first[key] = int32(i)
			} else if other != int32(i) && !ends[key] {
				x.crosses[key] = true
			}
		}
	}
}

// from lists the roads that continue where a road ends in a direction of travel and may be
// travelled in that sense; none at the edge of the data.
func (x *onwardIndex) from(id string, dir routes.Direction) []Onward {
	i, ok := x.byID[id]
	if !ok {
		return nil
	}
	return x.after(i, dir == routes.Backward)
}

func (x *onwardIndex) after(i int, isBack bool) []Onward {
	arriving := x.travel(i, isBack)
	last := &arriving[len(arriving)-1]
	end := lastPoint(last)
	key := placeKey(end)
	var out []Onward
	x.join(&out, i, last, nil, x.at[key])
	if n, ok := x.ring[key]; ok { // the other arms of a roundabout
		for _, o := range x.members[x.rings.rings.group[n]] {
			if arc, ok := x.rings.rings.arc(x.rings, n, o); ok && o != n {
				x.join(&out, i, last, &stationing.Piece{Feature: arc}, x.at[placeKey(x.rings.nodes.points[o])])
			}
		}
	}
	return out
}

// join adds the continuations at a place, with or without a part of a roundabout.
func (x *onwardIndex) join(out *[]Onward, from int, last, arc *stationing.Piece, places []onRoad) {
	for _, p := range places {
		if p.road == from {
			continue
		}
		for _, isBack := range []bool{false, true} {
			pieces := x.cutAt(p, isBack)
			if len(pieces) == 0 || !isOpen(pieces) || arc == nil && bendBetween(last, &pieces[0]) > turnBackDeg || x.has(*out, p.road, isBack) {
				continue
			}
			o := Onward{Road: x.roads[p.road].ID, index: p.road, isBack: isBack}
			o.IsClosed = isShut(&pieces[0]) || x.isTurnBanned(last, &pieces[0], arc != nil)
			for k := 1; k < len(pieces) && !o.IsCut; k++ {
				if isShut(&pieces[k]) {
					pieces, o.IsCut = pieces[:k], true
				}
			}
			if arc != nil {
				pieces = append([]stationing.Piece{*arc}, pieces...)
			}
			o.Pieces = pieces
			*out = append(*out, o)
		}
	}
}

func (x *onwardIndex) has(list []Onward, road int, isBack bool) bool {
	for _, o := range list {
		if o.index == road && o.isBack == isBack {
			return true
		}
	}
	return false
}

// travel is a road's pieces in a direction of travel.
func (x *onwardIndex) travel(i int, isBack bool) []stationing.Piece {
	if isBack {
		return reversed(x.roads[i].pieces)
	}
	return x.roads[i].pieces
}

// cutAt is the rest of a road from a place on it, in a direction of travel.
func (x *onwardIndex) cutAt(p onRoad, isBack bool) []stationing.Piece {
	list := x.roads[p.road].pieces
	here := list[p.piece]
	last := len(here.Line) - 1
	// Travel along the piece's drawing leads to its last vertex.
	isAlong := here.Reversed == isBack
	from, to := p.vertex, last
	if !isAlong {
		from, to = 0, p.vertex
	}
	var out []stationing.Piece
	if from < to {
		out = append(out, stationing.Piece{Feature: part(here.Feature, from, to), Reversed: !isAlong})
	}
	if isBack {
		return append(out, reversed(list[:p.piece])...)
	}
	return append(out, list[p.piece+1:]...)
}

// isOpen reports whether traffic may travel the first of some pieces.
func isOpen(pieces []stationing.Piece) bool {
	f := &pieces[0].Feature
	if isConnector(&pieces[0]) && len(pieces) > 1 {
		f = &pieces[1].Feature
		return senseOf(f.Tags) == 0 || (senseOf(f.Tags) < 0) == pieces[1].Reversed
	}
	return senseOf(f.Tags) == 0 || (senseOf(f.Tags) < 0) == pieces[0].Reversed
}

// isShut reports whether the tags of a piece keep out every truck, whatever its figures.
func isShut(p *stationing.Piece) bool { return Vehicle{}.access(&p.Feature, p.Reversed) != "" }

// isTurnBanned reports whether a turn rule forbids to go from one piece into the next. Rules that
// lead over further ways are not looked at: such a road is measured all the same.
func (x *onwardIndex) isTurnBanned(last, next *stationing.Piece, isApart bool) bool {
	from, to := wayNumber(&last.Feature), wayNumber(&next.Feature)
	if isApart || from == 0 || to == 0 || len(last.NodeIDs) == 0 {
		return false
	}
	node := last.NodeIDs[len(last.NodeIDs)-1]
	if last.Reversed {
		node = last.NodeIDs[0]
	}
	for _, t := range x.turns[node] {
		if slices.Contains(t.FromWays, from) && slices.Contains(t.ToWays, to) != t.IsOnly {
			return true
		}
	}
	return false
}

func wayNumber(f *routes.Feature) int64 {
	if !f.Place.IsWay {
		return 0
	}
	return int64(f.Place.Feature)
}

// bendBetween is the angle between one piece and the next in travel.
func bendBetween(a, b *stationing.Piece) float64 {
	back := stationing.Piece{Feature: a.Feature, Reversed: !a.Reversed}
	p := firstPoint(b)
	m := planeAt(p[1])
	x1, y1 := m.vector(p, along(&back))
	x2, y2 := m.vector(p, along(b))
	return halfTurn * math.Abs(math.Atan2(-x1*y2+y1*x2, -(x1*x2+y1*y2)))
}

func along(p *stationing.Piece) orb.Point {
	n := len(p.Line)
	return alongLine(n-1, func(i int) orb.Point {
		if p.Reversed {
			return p.Line[n-1-i]
		}
		return p.Line[i]
	})
}

// Onward lists the roads that continue where a road of a joined network ends in a direction of
// travel. It is safe for concurrent use once the road has been yielded.
func (s *Summary) Onward(road string, dir routes.Direction) []Onward {
	if s.onward == nil {
		return nil
	}
	return s.onward.from(road, dir)
}

// IsRoadEnd reports whether a road of a joined network ends at a place.
func (s *Summary) IsRoadEnd(p orb.Point) bool {
	if s.onward == nil {
		return false
	}
	key := placeKey(p)
	return slices.ContainsFunc(s.onward.at[key], func(o onRoad) bool {
		line := s.onward.roads[o.road].Line
		return placeKey(line[0]) == key || placeKey(line[len(line)-1]) == key
	})
}

// IsCrossing reports whether two roads of a joined network share a place at which neither ends.
func (s *Summary) IsCrossing(p orb.Point) bool {
	return s.onward != nil && s.onward.crosses[placeKey(p)]
}

// After lists the roads that continue where an onward road ends.
func (s *Summary) After(o Onward) []Onward {
	if o.IsCut {
		return nil
	}
	return s.onward.after(o.index, o.isBack)
}

// Travel is a road's pieces in a direction of travel; nil for a road that is not part of
// a joined network.
func (s *Summary) Travel(road string, dir routes.Direction) []stationing.Piece {
	if s.onward == nil {
		return nil
	}
	i, ok := s.onward.byID[road]
	if !ok {
		return nil
	}
	return s.onward.travel(i, dir == routes.Backward)
}

// Mark is a checksum of the network in which a road's descents may continue: 0 where nothing was
// joined.
func (s *Summary) Mark() uint64 { return s.mark }

// markOf is a checksum of the lines of roads.
func markOf(list []road) uint64 {
	h := fnv.New64a()
	for i := range list {
		_, _ = h.Write([]byte(list[i].ID)) // writing to a hash never fails
		for _, p := range list[i].Line {
			k := placeKey(p)
			_, _ = h.Write([]byte{byte(k[0]), byte(k[0] >> 8), byte(k[0] >> 16), byte(k[0] >> 24), byte(k[1]), byte(k[1] >> 8), byte(k[1] >> 16), byte(k[1] >> 24)})
		}
	}
	return h.Sum64()
}
