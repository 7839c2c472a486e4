package signs

import (
	"fmt"
	"math"
	"strings"
)

// nearCrestM is how far past the crest a stretch may begin and still be announced before it.
const nearCrestM = 500

// beforeCrest lets the sign that announces a stretch near the crest stand no further on
// than the crest, and than the place where the gear must be in.
func (pl *placer) beforeCrest(a *siting) {
	if a.xM > nearCrestM {
		return
	}
	latest := 0.0
	for _, h := range pl.in.Holds {
		if h.Holds && h.Gear > 0 {
			latest = math.Min(latest, pl.t.pastM(h.GearByM))
		}
	}
	if x := a.xM - a.aheadM; x > latest {
		a.aheadM += x - latest
		a.why += "; stands before the crest and the place where the gear must be in"
	}
}

// showsFigure reports whether a warrant has an advance or start sign that shows a grade.
func (pl *placer) showsFigure(warrant string) bool {
	for _, s := range pl.rs.Signs {
		if s.Warrant == warrant && (s.Role == RoleAdvance || s.Role == RoleStart) && strings.Contains(s.Legend, "{grade}") {
			return true
		}
	}
	return false
}

// locate gives a sign its place on the line. A profile may know only a part of its
// route's line; NaN is no place.
func (pl *placer) locate(p *Placement) {
	p.OnLine, p.LonDeg, p.LatDeg = false, 0, 0
	if pt := pl.t.p.PointAt(p.StationM); pl.t.onLine(p.StationM) && !math.IsNaN(pt[0]+pt[1]) {
		p.OnLine, p.LonDeg, p.LatDeg = true, pt[0], pt[1]
	}
}

// isMovable reports whether a sign may stand further upstream than its rule says: one that
// marks a place itself may not.
func (p *Placement) isMovable() bool {
	switch p.Role {
	case RoleStart, RoleGear, RoleCheck, RoleChain, RoleRamp, RoleEnd:
		return false
	}
	return true
}

// space goes upstream from the foot: of two signs at one place the second shares the
// first's post; one that stands too near the sign behind it is moved upstream to the least
// distance, as long as it marks no place itself. What is left is a conflict.
func (pl *placer) space() {
	leastM := pl.rs.Spacing.LeastM
	for i := len(pl.out) - 2; i >= 0; i-- {
		p, next := &pl.out[i], &pl.out[i+1]
		if p.Side != next.Side && p.Side != "both" && next.Side != "both" {
			continue
		}
		gapM := pl.t.pastM(next.StationM) - pl.t.pastM(p.StationM)
		switch {
		case gapM < 1:
			p.post = next
			p.StationM, p.ErrM = next.StationM, math.Max(p.ErrM, next.ErrM)
			pl.locate(p)
		case gapM < leastM-1e-6 && p.isMovable():
			moveM := leastM - gapM
			p.StationM = pl.t.stationM(pl.t.pastM(p.StationM) - moveM)
			p.MovedM += moveM
			p.AheadM += moveM
			p.Why += fmt.Sprintf("; moved %s upstream, to be %s from the next sign", length(pl.rs.Units, moveM), length(pl.rs.Units, leastM))
			pl.locate(p)
			if pl.reorder(i) {
				i++ // another sign stands next to it now
			}
		}
	}
}

// reorder lets a sign that was moved upstream past others change places with them, and
// reports whether it did.
func (pl *placer) reorder(i int) bool {
	from := i
	for ; i > 0 && pl.t.pastM(pl.out[i].StationM) < pl.t.pastM(pl.out[i-1].StationM)-1e-9; i-- {
		pl.out[i], pl.out[i-1] = pl.out[i-1], pl.out[i]
	}
	return i < from
}

// sharePost names the sign whose post this one shares.
func (p *Placement) sharePost() {
	if p.post == nil {
		return
	}
	first := p.post
	for first.post != nil {
		first = first.post
	}
	p.PostOf = first.Number
	p.Why += fmt.Sprintf("; shares the post of sign %d", first.Number)
}
