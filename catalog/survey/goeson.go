package survey

import (
	"context"
	"math"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// A hill does not end where a road ends in the data. A descent that reaches the end of its road is
// measured further along each road that continues there. The hardest of these hills decides the
// advice at its crest.
const (
	endSlackM     = 15.0     // a descent this near the end reaches it: stations are 10 m apart
	leadInM       = 1000.0   // road before the crest that is surveyed again
	mostOnwardM   = 15_000.0 // of one continuing road
	mostOnwardHop = 4        // roads in a row
	mostOnwardAll = 24       // surveys for one descent
)

// beyond measures the descents of a road beyond its end.
type beyond struct {
	ctx     context.Context
	surface terrain.Surface
	net     *network.Summary
	options Options
	surveys int
}

// goOn extends the descents of a road in a joined network.
func goOn(ctx context.Context, surface terrain.Surface, res *Result, o Options) {
	if o.roads == nil || res.Profile == nil {
		return
	}
	net := o.roads.Network()
	if net.Travel(res.Route.ID, routes.Forward) == nil {
		return
	}
	o.forwardOnly, o.roads = true, nil
	for i := range res.Entries {
		b := &beyond{ctx: ctx, surface: surface, net: net, options: o}
		b.extend(&res.Route, &res.Entries[i])
	}
}

// extend measures one descent beyond the end of its road, and removes the cut-by-end flag from an
// end at which the road continues.
func (b *beyond) extend(r *routes.Route, e *catalog.Entry) {
	d := &e.Descent
	reachM, crestM := r.LengthM-d.EndM, d.StartM // from the foot to the end of the road, from its beginning to the crest
	opposite := routes.Backward
	if d.Direction == routes.Backward {
		reachM, crestM = d.EndM, r.LengthM-d.StartM
		opposite = routes.Forward
	}
	isFootCut, isCrestCut := reachM <= endSlackM, crestM <= endSlackM
	if isFootCut {
		if on := b.net.Onward(r.ID, d.Direction); len(on) > 0 {
			isFootCut = false
			base := trimmed(b.net.Travel(r.ID, d.Direction), crestM-leadInM)
			d.GoesOn = b.follow(e, r, base, on, 1)
		}
	}
	if isCrestCut && len(b.net.Onward(r.ID, opposite)) > 0 {
		isCrestCut = false
	}
	if !isFootCut && !isCrestCut && d.HasFlag(routes.FlagCutByEnd) && (reachM <= endSlackM || crestM <= endSlackM) {
		kept := []string{}
		for _, f := range d.Flags {
			if f != routes.FlagCutByEnd {
				kept = append(kept, f)
			}
		}
		d.Flags = kept
	}
}

// follow surveys the road so far with each road that goes on, as one line.
func (b *beyond) follow(e *catalog.Entry, r *routes.Route, base []stationing.Piece, on []network.Onward, hop int) []routes.GoesOn {
	out := []routes.GoesOn{}
	for _, o := range on {
		if b.surveys == mostOnwardAll || b.ctx.Err() != nil {
			break
		}
		b.surveys++
		pieces, isAll := cutAfter(o.Pieces, mostOnwardM)
		line, _ := stationing.Through(append(append([]stationing.Piece(nil), base...), pieces...))
		if line == nil || len(line.Ways) < len(base) {
			continue
		}
		line.ID = r.ID
		joinM := line.Ways[len(base)-1].ToM
		res := One(b.ctx, b.surface, line, b.options)
		for i := range res.Entries {
			d := &res.Entries[i].Descent
			if !(d.StartM < joinM-endSlackM && d.EndM > joinM+endSlackM) {
				continue
			}
			out = append(out, routes.GoesOn{Route: o.Road, LengthM: d.LengthM, DropM: d.DropM, MeanDowngradePct: d.MeanDowngradePct})
			takeHarder(e, &res.Entries[i], r, joinM-endOfRoadM(base, r, line))
			if isAll && hop < mostOnwardHop && line.LengthM-d.EndM <= endSlackM {
				next := append(append([]stationing.Piece(nil), base...), pieces...)
				out = append(out, b.follow(e, r, next, b.net.After(o), hop+1)...)
			}
			break
		}
	}
	return out
}

// endOfRoadM is the length of line before the road's end that belongs to earlier roads.
func endOfRoadM(base []stationing.Piece, r *routes.Route, line *routes.Route) float64 {
	own := map[string]bool{}
	for _, w := range r.Ways {
		own[w.ID] = true
	}
	m := 0.0
	for k := len(base) - 1; k >= 0 && !own[line.Ways[k].ID]; k-- {
		m += line.Ways[k].ToM - line.Ways[k].FromM
	}
	return m
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

// takeHarder replaces each hold by that of the longer hill if that is harder. endM is the station
// of the road's end on the longer line.
func takeHarder(e, on *catalog.Entry, r *routes.Route, endM float64) {
	for i := range e.Holds {
		for k := range on.Holds {
			if on.Holds[k].Class == e.Holds[i].Class && isHarder(&on.Holds[k], &e.Holds[i]) {
				gearByM := e.Holds[i].GearByM
				e.Holds[i] = onRoad(on.Holds[k], &e.Descent, r, endM)
				e.Holds[i].GearByM = gearByM
			}
		}
	}
}

func isHarder(a, b *catalog.Hold) bool {
	if a.Holds != b.Holds {
		return b.Holds
	}
	if a.Holds && a.SpeedMPS != b.SpeedMPS {
		return a.SpeedMPS < b.SpeedMPS
	}
	return a.HeaviestMassKg < b.HeaviestMassKg
}

// onRoad turns the stations of a hold on the longer line into those of the road; stations beyond
// the road's end become its end, and stretches there are left out.
func onRoad(h catalog.Hold, d *routes.Descent, r *routes.Route, endM float64) catalog.Hold {
	station := func(m float64) float64 {
		if d.Direction == routes.Backward {
			return math.Max(0, math.Min(r.LengthM, endM-m))
		}
		return math.Max(0, math.Min(r.LengthM, r.LengthM-(endM-m)))
	}
	h.GearByM, h.SlowFromM = station(h.GearByM), station(h.SlowFromM)
	stretches := []catalog.HoldStretch{}
	for _, s := range h.Stretches {
		if s.FromM < endM {
			s.FromM, s.ToM = station(s.FromM), station(s.ToM)
			stretches = append(stretches, s)
		}
	}
	h.Stretches = stretches
	heat := []catalog.HeatStation{}
	for _, t := range h.Heat {
		if t.StationM <= endM {
			t.StationM = station(t.StationM)
			heat = append(heat, t)
		}
	}
	h.Heat = heat
	h.Limits = append([]catalog.SpeedCeiling(nil), h.Limits...)
	for i := range h.Limits {
		h.Limits[i].StationM = station(h.Limits[i].StationM)
	}
	h.Gears = append([]catalog.GearOutcome(nil), h.Gears...)
	for i := range h.Gears {
		h.Gears[i].StationM = station(h.Gears[i].StationM)
	}
	return h
}
