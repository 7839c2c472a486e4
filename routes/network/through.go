package network

import (
	"cmp"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/stationing"
)

// LeftOut sums up roads that are part of the network and not surveyed on their own.
type LeftOut struct {
	What    string  `json:"what"`
	Count   int     `json:"count"`
	LengthM float64 `json:"length_m"`
}

// stubM is the length below which a through road is not surveyed on its own. The grade over less is
// not informative; a hill that continues in it is measured anyway.
const stubM = 200.0

// Through joins lines into through roads and names them. Roads come in the order of
// their ids, which do not depend on the order or the numbers of the lines; those
// shorter than 200 m and rings of roundabouts are summed up in left. Notes are about
// tags that were not understood, one line a kind.
func Through(features []routes.Feature) (roads []routes.Route, left []LeftOut, notes []routes.Skipped) {
	roads, left, notes, _, _ = through(features)
	return roads, left, notes
}

// through also returns all roads, including those left out, and the joiner.
func through(features []routes.Feature) (roads []routes.Route, left []LeftOut, notes []routes.Skipped, all []road, j *joiner) {
	features = splitSharp(features)
	j = newJoiner(features)
	var said noteSums
	for _, list := range joinChains(j.chains()) {
		for _, p := range list {
			for _, w := range p.notes {
				said.add(p.pieces[0].Feature, w, lengthOf(p.pieces))
			}
			if p.isRoad {
				all = append(all, p.road)
			}
		}
	}
	sums := leftSums{}
	for i := range j.lines {
		if l := &j.lines[i]; l.isRing {
			sums.add("parts of roundabouts", l.lengthM)
		}
	}
	slices.SortStableFunc(all, func(a, b road) int { // the long ones are named first
		return cmp.Compare(btoi(a.LengthM < stubM), btoi(b.LengthM < stubM))
	})
	kept := len(all)
	for kept > 0 && all[kept-1].LengthM < stubM {
		kept--
		sums.add(kindOf(&all[kept].Route)+" roads under 200 m that continue in no other", all[kept].LengthM)
	}
	used := map[string]bool{}
	titles := map[string]bool{}
	name(all[:kept], used, titles)
	name(all[kept:], used, titles)
	slices.SortFunc(all[:kept], func(a, b road) int { return cmp.Compare(a.ID, b.ID) })
	for _, r := range all[:kept] {
		roads = append(roads, r.Route)
	}
	return roads, sums.list(), said.list(), all, j
}

// road is a route before it has an id.
type road struct {
	routes.Route
	base   string // of the id
	title  string // base in words
	pieces []stationing.Piece
}

// joinedPart is what a part of a chain became.
type joinedPart struct {
	road
	isRoad bool
	notes  []string
}

// joinChains makes roads of chains, several at once; the order is that of the chains.
func joinChains(chains [][]stationing.Piece) [][]joinedPart {
	out := make([][]joinedPart, len(chains))
	var next atomic.Int64
	var workers sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(chains)) {
		workers.Go(func() {
			for i := next.Add(1) - 1; i < int64(len(chains)); i = next.Add(1) - 1 {
				out[i] = joinChain(chains[i])
			}
		})
	}
	workers.Wait()
	return out
}

func joinChain(chain []stationing.Piece) (out []joinedPart) {
	for _, part := range splitCarriageways(chain) {
		part = orient(part)
		r, why := stationing.Through(part)
		p := joinedPart{road: road{pieces: part}, notes: why}
		if r != nil {
			p.isRoad = true
			p.base, p.title = baseName(r, part) // which may change its name
			p.Route = *r
		}
		out = append(out, p)
	}
	return out
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

func kindOf(r *routes.Route) string {
	if r.OneWay {
		return "one-way"
	}
	return "two-way"
}

func lengthOf(c []stationing.Piece) float64 {
	sum := 0.0
	for i := range c {
		sum += lineM(c[i].Line)
	}
	return sum
}

// pieceSense is the sense of a piece in the chain's direction.
func pieceSense(p *stationing.Piece) int {
	s := senseOf(p.Tags)
	if p.Reversed {
		s = -s
	}
	return s
}

// isConnector reports whether a piece is the part of a roundabout between two roads.
func isConnector(p *stationing.Piece) bool { return isRoundabout(p.Tags) && senseOf(p.Tags) == 0 }

// splitCarriageways splits a chain where a carriageway of more than a kilometre begins or ends: a
// long one-way part is a road of its own, an island in a two-way road is not.
func splitCarriageways(c []stationing.Piece) [][]stationing.Piece {
	type run struct {
		from, to, sense int
		lengthM         float64
	}
	var runs []run
	for i := range c {
		s := pieceSense(&c[i])
		if len(runs) > 0 && (runs[len(runs)-1].sense == s || isConnector(&c[i])) {
			runs[len(runs)-1].to = i + 1
			runs[len(runs)-1].lengthM += lineM(c[i].Line)
			continue
		}
		runs = append(runs, run{i, i + 1, s, lineM(c[i].Line)})
	}
	var out [][]stationing.Piece
	from := 0
	isLong := func(r run) bool { return r.sense != 0 && r.lengthM > carriagewayM }
	for i, r := range runs {
		if i > 0 && (isLong(r) || isLong(runs[i-1])) {
			out = append(out, c[from:r.from])
			from = r.from
		}
	}
	return append(out, c[from:])
}

// orient turns a chain into the direction of its traffic, else from west to east; a loop begins at
// its westernmost joint and runs anticlockwise.
func orient(c []stationing.Piece) []stationing.Piece {
	forwardM, backwardM := 0.0, 0.0
	for i := range c {
		switch pieceSense(&c[i]) {
		case 1:
			forwardM += lineM(c[i].Line)
		case -1:
			backwardM += lineM(c[i].Line)
		}
	}
	start, end := firstPoint(&c[0]), lastPoint(&c[len(c)-1])
	x, y := planeAt(start[1]).vector(start, end)
	isLoop := math.Hypot(x, y) < 1
	turn := forwardM < backwardM
	switch {
	case forwardM != backwardM:
	case isLoop:
		turn = signedAreaM2(c) < 0
	default:
		turn = canonical(x, y) < 0
	}
	if turn {
		c = reversed(c)
	}
	if isLoop && len(c) > 1 {
		at := 0
		for i := range c {
			p, q := firstPoint(&c[i]), firstPoint(&c[at])
			if cmp.Or(cmp.Compare(p[0], q[0]), cmp.Compare(p[1], q[1])) < 0 {
				at = i
			}
		}
		c = append(append([]stationing.Piece{}, c[at:]...), c[:at]...)
	}
	return c
}

func reversed(c []stationing.Piece) []stationing.Piece {
	out := make([]stationing.Piece, len(c))
	for i, p := range c {
		p.Reversed = !p.Reversed
		out[len(c)-1-i] = p
	}
	return out
}

func firstPoint(p *stationing.Piece) orb.Point {
	if p.Reversed {
		return p.Line[len(p.Line)-1]
	}
	return p.Line[0]
}

func lastPoint(p *stationing.Piece) orb.Point {
	if p.Reversed {
		return p.Line[0]
	}
	return p.Line[len(p.Line)-1]
}

func signedAreaM2(c []stationing.Piece) float64 {
	sum := 0.0
	m := planeAt(firstPoint(&c[0])[1])
	origin := firstPoint(&c[0])
	px, py := 0.0, 0.0
	for i := range c {
		n := len(c[i].Line)
		for k := range n {
			p := c[i].Line[k]
			if c[i].Reversed {
				p = c[i].Line[n-1-k]
			}
			x, y := m.vector(origin, p)
			sum += px*y - x*py
			px, py = x, y
		}
	}
	return sum / 2
}

// baseName is the name of a road before its place is added to distinguish it: its ref
// where that covers more of it than a name, with the compass letter of a carriageway;
// without either its kind of road as tagged. title is the same in words.
func baseName(r *routes.Route, c []stationing.Piece) (base, title string) {
	refM, nameM := 0.0, 0.0
	for i := range c {
		if c[i].Tags["ref"] == r.Ref && r.Ref != "" {
			refM += lineM(c[i].Line)
		}
		if c[i].Tags["name"] == r.Name && r.Name != "" {
			nameM += lineM(c[i].Line)
		}
	}
	if refM >= nameM && refM > 0 {
		if nameM < lengthOf(c)/2 {
			r.Name = r.Ref // a name of less than half would mislead
		}
	}
	switch {
	case refM >= nameM && refM > 0:
		base, title = r.Ref, r.Ref
	case nameM > 0:
		base, title = r.Name, r.Name
	default:
		base = "highway=" + c[0].Tags["highway"]
		title = "unnamed " + strings.ReplaceAll(strings.TrimSpace(c[0].Tags["highway"]+" road"), "_", " ")
	}
	if r.OneWay {
		first, last := r.Line[0], r.Line[len(r.Line)-1]
		if r.OneWayDir == routes.Backward {
			first, last = last, first
		}
		way := compass(first, last)
		base += " " + strings.ToUpper(way[:1])
		title += " " + way + "bound"
	}
	return base, title
}

// compass is the direction from one place to another.
func compass(from, to orb.Point) string {
	x, y := planeAt(from[1]).vector(from, to)
	switch {
	case math.Abs(x) >= math.Abs(y) && x >= 0:
		return "east"
	case math.Abs(x) >= math.Abs(y):
		return "west"
	case y < 0:
		return "south"
	}
	return "north"
}

// name gives each road an id. The longest of a name keeps it alone if it is twice as
// long as the next; the others add the place of their middle, coarse enough that a
// newer extract's finer drawing doesn't move it. The title is the same in words.
func name(list []road, ids, titles map[string]bool) {
	byBase := map[string][]*road{}
	for i := range list {
		byBase[list[i].base] = append(byBase[list[i].base], &list[i])
	}
	for _, base := range sortedNames(byBase) {
		group := byBase[base]
		slices.SortFunc(group, func(a, b *road) int {
			p, q := a.Line[0], b.Line[0]
			return cmp.Or(cmp.Compare(b.LengthM, a.LengthM), cmp.Compare(p[0], q[0]), cmp.Compare(p[1], q[1]))
		})
		for i, r := range group {
			id, title := r.base, r.title
			if i > 0 || len(group) > 1 && r.LengthM < 2*group[1].LengthM {
				place := middle(&r.Route)
				id, title = id+"@"+strings.ReplaceAll(place, " ", ""), title+" at "+place
			}
			r.ID = free(ids, id)
			if t := free(titles, title); t != r.ID {
				r.Title = t
			}
		}
	}
}

func sortedNames(m map[string][]*road) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// middle is the place of a road's middle.
func middle(r *routes.Route) string {
	i, ok := slices.BinarySearch(r.VertexM, r.LengthM/2)
	p := r.Line[min(i, len(r.Line)-1)]
	if !ok && i > 0 && i < len(r.Line) {
		t := (r.LengthM/2 - r.VertexM[i-1]) / (r.VertexM[i] - r.VertexM[i-1])
		a, b := r.Line[i-1], r.Line[i]
		p = orb.Point{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])}
	}
	ns, ew := "N", "E"
	if p[1] < 0 {
		ns = "S"
	}
	if p[0] < 0 {
		ew = "W"
	}
	return fmt.Sprintf("%.2f%s %.2f%s", math.Abs(p[1]), ns, math.Abs(p[0]), ew)
}

// free returns id, or id with the first free number.
func free(used map[string]bool, id string) string {
	out := id
	for n := 2; used[out]; n++ {
		out = fmt.Sprintf("%s (%d)", id, n)
	}
	used[out] = true
	return out
}

// leftSums collects LeftOut by kind.
type leftSums map[string]*LeftOut

func (s leftSums) add(what string, lengthM float64) {
	if s[what] == nil {
		s[what] = &LeftOut{What: what}
	}
	s[what].Count++
	s[what].LengthM += lengthM
}

func (s leftSums) list() []LeftOut {
	out := []LeftOut{}
	for _, l := range s {
		out = append(out, *l)
	}
	slices.SortFunc(out, func(a, b LeftOut) int { return cmp.Compare(a.What, b.What) })
	return out
}

// noteSums collects notes by their text.
type noteSums struct {
	byWhy map[string]*noteSum
	order []string
}

type noteSum struct {
	first   routes.Place
	count   int
	lengthM float64
}

func (s *noteSums) add(f routes.Feature, why string, lengthM float64) {
	if s.byWhy == nil {
		s.byWhy = map[string]*noteSum{}
	}
	n := s.byWhy[why]
	if n == nil {
		n = &noteSum{first: f.Place}
		s.byWhy[why] = n
		s.order = append(s.order, why)
	}
	n.count++
	n.lengthM += lengthM
}

func (s *noteSums) list() []routes.Skipped {
	var out []routes.Skipped
	for _, why := range s.order {
		n := s.byWhy[why]
		where := n.first.String()
		if n.count > 1 {
			where += fmt.Sprintf(" and %d more, %.1f km", n.count-1, n.lengthM/1000)
		}
		out = append(out, routes.Skipped{Where: where, Why: why})
	}
	return out
}
