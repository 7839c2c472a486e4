package survey

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/routes/descent"
	"gradeline/routes/network"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// A hill does not end where a road ends in the data. A fall that reaches the end of its
// road is measured further along each road that continues there and that a truck may
// take. It may be a descent on its own road, or only together with the next. The
// hardest of these hills decides the advice at its crest.
const (
	endSlackM     = 15.0     // a descent this near the end reaches it: stations are 10 m apart
	leadInM       = 1000.0   // road before the crest that is surveyed again
	mostOnwardM   = 15_000.0 // of one continuing road
	mostOnwardHop = 12       // roads in a row
	mostOnwardAll = 48       // surveys for one descent
)

// beyond measures the falls of a road beyond its end.
type beyond struct {
	ctx     context.Context
	surface terrain.Surface
	net     *network.Summary
	options Options
	surveys int
	// isStopped is set where one of the limits above ended the measurement.
	isStopped bool
	// edgeM is the length of the longest hill that reaches the end of the data.
	edgeM float64
}

// continued is a hill that begins on a road and ends on another.
type continued struct {
	road  string // where it ends
	entry catalog.Entry
	endM  float64 // end of the first road, as a station of the hill's line
}

// goOn extends the descents of a road in a joined network, and adds the hills that are none on
// their own road.
// over has the options for lines over several roads.
func goOn(ctx context.Context, surface terrain.Surface, res *Result, o, over Options) {
	if o.roads == nil || res.Profile == nil {
		return
	}
	net := o.roads.Network()
	if net.Travel(res.Route.ID, routes.Forward) == nil {
		return
	}
	over.forwardOnly, over.roads, over.GradeLine = true, nil, nil
	isReached := map[routes.Direction]bool{}
	for i := range res.Entries {
		b := &beyond{ctx: ctx, surface: surface, net: net, options: over}
		isReached[res.Entries[i].Descent.Direction] = b.extend(&res.Route, &res.Entries[i]) || isReached[res.Entries[i].Descent.Direction]
	}
	for _, dir := range []routes.Direction{routes.Forward, routes.Backward} {
		if !isReached[dir] && !(res.Route.OneWay && res.Route.OneWayDir != dir) {
			b := &beyond{ctx: ctx, surface: surface, net: net, options: over}
			b.addHill(res, dir, o)
		}
	}
}

// extend measures one descent beyond the end of its road, and removes the cut-by-end flag from an
// end at which the road continues. It reports whether the descent reaches the road's end.
func (b *beyond) extend(r *routes.Route, e *catalog.Entry) bool {
	d := &e.Descent
	reachM, crestM := r.LengthM-d.EndM, d.StartM // from the foot to the end of the road, from its beginning to the crest
	opposite := routes.Backward
	if d.Direction == routes.Backward {
		reachM, crestM = d.EndM, r.LengthM-d.StartM
		opposite = routes.Forward
	}
	isFootCut, isCrestCut := reachM <= endSlackM, crestM <= endSlackM
	isReached := isFootCut
	if isFootCut {
		if on := b.net.Onward(r.ID, d.Direction); len(on) > 0 {
			list := b.follow(baseOf(b.net, r, d.Direction, crestM), on, 1)
			b.tellAll(e, r, list)
			isFootCut = b.isCut(list)
		}
	}
	if isCrestCut && len(b.net.Onward(r.ID, opposite)) > 0 {
		isCrestCut = false
	}
	if !isFootCut && !isCrestCut && (reachM <= endSlackM || crestM <= endSlackM) {
		dropFlag(d, routes.FlagCutByEnd)
	}
	return isReached
}

// isCut reports whether the hill may be longer than it was measured: at a limit of this program, or
// where the longest of its continuations reaches the end of the data. A shorter one that does so is
// taken for a road that ends.
func (b *beyond) isCut(list []continued) bool {
	longestM := 0.0
	for i := range list {
		longestM = math.Max(longestM, list[i].entry.Descent.LengthM)
	}
	return b.isStopped || b.edgeM > 0 && b.edgeM >= longestM
}

func dropFlag(d *routes.Descent, flag string) {
	d.Flags = slices.DeleteFunc(append([]string{}, d.Flags...), func(f string) bool { return f == flag })
}

// tellAll lists the roads in which a hill continues and lets the hardest decide the advice.
func (b *beyond) tellAll(e *catalog.Entry, r *routes.Route, list []continued) {
	for i := range list {
		c := &list[i]
		d := &c.entry.Descent
		e.Descent.GoesOn = append(e.Descent.GoesOn, routes.GoesOn{Route: c.road, LengthM: d.LengthM, DropM: d.DropM, MeanDowngradePct: d.MeanDowngradePct})
		takeHarder(e, &c.entry, r, c.endM)
	}
}

// addHill adds the hill in which a road ends in a direction of travel, where that is a descent only
// together with the road after it. Its own stretch may be short of every limit.
func (b *beyond) addHill(res *Result, dir routes.Direction, o Options) {
	r := &res.Route
	on := slices.DeleteFunc(b.net.Onward(r.ID, dir), func(o network.Onward) bool {
		return o.IsClosed || !b.mayFall(crestsBefore(res.Profile, dir, 0), &o)
	})
	if len(on) == 0 {
		return
	}
	list := b.follow(baseOf(b.net, r, dir, r.LengthM-mostOwnM), on, 1)
	if len(list) == 0 {
		return
	}
	crestM := 0.0 // the crest that is furthest from the road's end
	for i := range list {
		crestM = math.Max(crestM, list[i].endM-list[i].entry.Descent.StartM)
	}
	crestM = math.Min(crestM, r.LengthM)
	from, to := r.LengthM-crestM, r.LengthM
	if dir == routes.Backward {
		from, to = crestM, 0
	}
	d, ok := descent.Measure(res.Profile, dir, from, to, o.Descent)
	if !ok {
		res.Skipped = append(res.Skipped, routes.Skipped{Where: fmt.Sprintf("%s, station %.0f m", r.ID, to), Why: "a hill continues here in another road, but the grade line before it has a gap"})
		return
	}
	e := res.entry(res.Profile, r, d, o)
	b.tellAll(&e, r, list)
	if !b.isCut(list) {
		dropFlag(&e.Descent, routes.FlagCutByEnd)
	}
	res.insert(e)
	res.Near = slices.DeleteFunc(res.Near, func(n routes.Descent) bool {
		return n.Direction == dir && math.Abs(n.EndM-to) <= endSlackM
	})
}

// insert adds an entry at its place: forward first, each direction in order of travel. It ends at the
// end of the road, so it is the last of its direction.
func (res *Result) insert(e catalog.Entry) {
	at := len(res.Entries)
	for i := range res.Entries {
		if e.Descent.Direction == routes.Forward && res.Entries[i].Descent.Direction == routes.Backward {
			at = i
			break
		}
	}
	res.Entries = slices.Insert(res.Entries, at, e)
}

// base is the road before a junction: pieces, and how many of them are of the first road.
type base struct {
	pieces []stationing.Piece
	own    int
}

func baseOf(net *network.Summary, r *routes.Route, dir routes.Direction, crestM float64) base {
	p := trimmed(net.Travel(r.ID, dir), crestM-leadInM)
	return base{p, len(p)}
}

// follow surveys the road so far with each road that continues it, as one line.
func (b *beyond) follow(so base, on []network.Onward, hop int) []continued {
	var out []continued
	for _, o := range on {
		if o.IsClosed {
			continue
		}
		if b.surveys == mostOnwardAll || hop > mostOnwardHop || b.ctx.Err() != nil {
			b.isStopped = true
			break
		}
		b.surveys++
		pieces, isAll := cutAfter(o.Pieces, mostOnwardM)
		next := base{slices.Concat(so.pieces, pieces), so.own}
		hill, after := b.surveyOn(next, len(so.pieces), o)
		if hill != nil {
			out = append(out, *hill)
		}
		switch {
		case after == nil:
		case !isAll:
			b.isStopped = true
		default:
			out = append(out, b.follow(next, after, hop+1)...)
		}
	}
	return out
}

// surveyOn surveys one line, whose last pieces from joinAt on are a continuing road. It returns the
// hill from the first road into that one, if there is one, and the roads in which it may continue;
// nil where it ends.
func (b *beyond) surveyOn(so base, joinAt int, o network.Onward) (*continued, []network.Onward) {
	line, _ := stationing.Through(so.pieces)
	if line == nil || len(line.Ways) < len(so.pieces) {
		b.isStopped = true
		return nil, nil
	}
	joinM, endM := line.Ways[joinAt-1].ToM, line.Ways[so.own-1].ToM
	seen := b.lineOver(line, joinM, endM)
	if !seen.IsSurveyed {
		b.isStopped = true
		return nil, nil
	}
	after := b.net.After(o)
	var hill *continued
	if d := seen.Hill; d != nil {
		hill = &continued{o.Road, catalog.Entry{Descent: *d, Holds: seen.Holds}, endM}
		if line.LengthM-d.EndM <= endSlackM {
			if len(after) == 0 && !o.IsCut {
				b.edgeM = math.Max(b.edgeM, d.LengthM)
			}
			return hill, after
		}
	}
	// It may still be one hill with the roads after it.
	after = slices.DeleteFunc(after, func(a network.Onward) bool { return a.IsClosed || !b.mayFall(seen.Crests, &a) })
	if len(after) == 0 {
		return hill, nil
	}
	return hill, after
}

// trimmed leaves out leading pieces that end before a distance.
func trimmed(list []stationing.Piece, fromM float64) []stationing.Piece {
	r, _ := stationing.Through(list)
	if r == nil {
		return list
	}
	for k := range list {
		if r.Ways[k].ToM > fromM {
			return list[k:]
		}
	}
	return list
}

// cutAfter leaves out the pieces beyond a length; isAll is true if there were none.
func cutAfter(list []stationing.Piece, mostM float64) (out []stationing.Piece, isAll bool) {
	sum := 0.0
	for i := range list {
		if sum > mostM {
			return list[:i], false
		}
		for k := 1; k < len(list[i].Line); k++ {
			sum += stationing.DistanceM(list[i].Line[k-1], list[i].Line[k])
		}
	}
	return list, true
}
