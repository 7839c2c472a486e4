package signs

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

const (
	// nearCrestM is the distance past the crest up to which a stretch that begins there is
	// announced before the crest.
	nearCrestM = 500
	// mostOnPost is the largest number of signs on one post (common practice, no source).
	mostOnPost = 2
)

// Dropped is a sign that the schedule leaves out for one that says the same.
type Dropped struct {
	Designation string  `json:"designation"`
	Role        string  `json:"role"`
	StationM    float64 `json:"station_m"`
	Reason      string  `json:"reason"`
}

// outerCrestM is the earliest possible place of the crest, past the stated one: never positive. A
// catalogue without outer ends has both at 0.
func (pl *placer) outerCrestM() float64 {
	d := &pl.in.Descent
	if d.StartOuterM == 0 && d.EndOuterM == 0 {
		return 0
	}
	return math.Min(0, pl.t.pastM(d.StartOuterM))
}

// outerFootM is the latest possible place of the foot, past the crest.
func (pl *placer) outerFootM() float64 {
	d := &pl.in.Descent
	if d.StartOuterM == 0 && d.EndOuterM == 0 {
		return pl.t.lenM
	}
	return math.Max(pl.t.lenM, pl.t.pastM(d.EndOuterM))
}

// beforeCrest moves the sign that announces a stretch near the crest to its distance before the
// earliest crest that the bound allows, and at the latest to the place where the gear must be
// engaged.
func (pl *placer) beforeCrest(a *siting) {
	if a.xM > nearCrestM {
		return
	}
	outerM := pl.outerCrestM()
	if outerM < 0 && a.xM <= pl.t.endsErrM+1 {
		a.aheadM += a.xM - outerM
		a.why += fmt.Sprintf("; the hill may begin %s earlier, and the sign is before that", length(pl.rs.Units, -outerM))
	}
	latest := outerM
	for _, h := range pl.in.Holds {
		if h.Holds && h.Gear > 0 {
			latest = math.Min(latest, pl.t.pastM(h.GearByM))
		}
	}
	if x := a.xM - a.aheadM; x > latest {
		a.aheadM += x - latest
		a.why += "; it is before the crest and the place where the gear must be in"
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

// locate sets a sign's place on the line. A profile may have only a part of its route's line; NaN
// means no place.
func (pl *placer) locate(p *Placement) {
	p.OnLine, p.LonDeg, p.LatDeg = false, 0, 0
	if pt := pl.t.p.PointAt(p.StationM); pl.t.onLine(p.StationM) && !math.IsNaN(pt[0]+pt[1]) {
		p.OnLine, p.LonDeg, p.LatDeg = true, pt[0], pt[1]
	}
}

// isMovable reports whether a sign may be farther upstream than its rule says: one that marks the
// place of a site or the foot may not.
func (p *Placement) isMovable() bool {
	switch p.Role {
	case RoleCheck, RoleChain, RoleRamp, RoleEnd:
		return false
	}
	return true
}

// rank orders signs where one has to give way: the lower number stays.
func (p *Placement) rank() int {
	return slices.Index([]string{RoleRamp, RoleCheck, RoleChain, RoleAdvance, RoleStart, RoleRampAdvance, RoleCheckAdvance, RoleChainAdvance, RoleEnd,
		RoleCurve, RoleGear, RoleSteepest, RoleRepeat, RolePanel}, p.Role)
}

// space proceeds upstream from the foot. A sign at the place of another shares its post. One that
// is too near the next sign is moved upstream; where both mark a place, the farther one shares the
// post of the one before it. A repeat that adds nothing, and the second of two equal signs, are
// dropped.
func (pl *placer) space() {
	pl.dropSaid()
	leastM := pl.rs.Spacing.LeastM
	for i := len(pl.out) - 2; i >= 0; i-- {
		p, next := &pl.out[i], &pl.out[i+1]
		gapM := pl.t.pastM(next.StationM) - pl.t.pastM(p.StationM)
		isShared := gapM < 1 && pl.onPost(i+1) < mostOnPost
		switch {
		case isShared:
			pl.share(p, next)
		case gapM < leastM-1e-6 && p.isMovable():
			pl.moveUpstream(p, leastM-gapM)
			if pl.reorder(i) {
				i++ // another sign is next to it now
			}
		case gapM < leastM-1e-6:
			pl.joinUpstream(i)
		}
	}
}

// onPost counts the signs on the post of one.
func (pl *placer) onPost(i int) int {
	n := 0
	for k := range pl.out {
		if math.Abs(pl.out[k].StationM-pl.out[i].StationM) < 1 {
			n++
		}
	}
	// a sign that is to join is already there if the stations are equal
	if i > 0 && math.Abs(pl.out[i-1].StationM-pl.out[i].StationM) < 1 {
		n--
	}
	return n
}

// share puts a sign on the post of the next.
func (pl *placer) share(p, next *Placement) {
	p.postID, next.postID = pl.postID(next), pl.postID(next)
	p.StationM, p.ErrM = next.StationM, math.Max(p.ErrM, next.ErrM)
	p.AheadM = math.Abs(p.AnchorM - p.StationM)
	pl.locate(p)
}

// postID gives a sign's post a number of its own.
func (pl *placer) postID(p *Placement) int {
	if p.postID == 0 {
		pl.posts++
		p.postID = pl.posts
	}
	return p.postID
}

// moveUpstream moves a sign, with its reason.
func (pl *placer) moveUpstream(p *Placement, moveM float64) {
	p.StationM = pl.t.stationM(pl.t.pastM(p.StationM) - moveM)
	p.MovedM += moveM
	p.AheadM += moveM
	p.postID = 0
	pl.locate(p)
}

// joinUpstream puts the sign after i, and those on its post, on the post of i: both mark a
// place that is not theirs to leave by more than the spacing.
func (pl *placer) joinUpstream(i int) {
	p := &pl.out[i]
	at := pl.out[i+1].StationM
	for k := i + 1; k < len(pl.out) && math.Abs(pl.out[k].StationM-at) < 1; k++ {
		q := &pl.out[k]
		q.postID = pl.postID(p)
		q.MovedM += math.Abs(q.StationM - p.StationM)
		q.StationM = p.StationM
		q.AheadM = math.Abs(q.AnchorM - q.StationM)
		pl.locate(q)
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

// dropSaid leaves out what another sign within the spacing says: the same sign with the
// same legend, or a repeat next to another sign of its designation that shows as much.
func (pl *placer) dropSaid() {
	for i := 0; i < len(pl.out); i++ {
		p := &pl.out[i]
		k := 0
		for k < len(pl.out) && !pl.saysAsMuch(k, i) {
			k++
		}
		if k == len(pl.out) {
			continue
		}
		q := &pl.out[k]
		pl.s.Dropped = append(pl.s.Dropped, Dropped{p.Designation, p.Role, p.StationM,
			fmt.Sprintf("%s (%s) at station %s is left out: %s says as much %s away", p.Designation, p.Legend, length(pl.rs.Units, p.StationM), q.Legend, length(pl.rs.Units, math.Abs(q.StationM-p.StationM)))})
		pl.out = slices.Delete(pl.out, i, i+1)
		i--
	}
}

// saysAsMuch reports whether sign k, within the spacing of sign i and of a rank that
// stays, makes it needless. Of two that are the same the one further upstream stays.
func (pl *placer) saysAsMuch(k, i int) bool {
	q, p := &pl.out[k], &pl.out[i]
	isNear := math.Abs(q.StationM-p.StationM) < pl.rs.Spacing.LeastM-1e-6
	if q.Designation != p.Designation || !isNear || q.rank() > p.rank() {
		return false
	}
	if q.Legend == p.Legend && slices.Equal(q.Plaques, p.Plaques) {
		return q.rank() < p.rank() || k < i // they are in travel order
	}
	showsMore := q.GradePct != nil && p.GradePct != nil && *q.GradePct >= *p.GradePct
	return p.Role == RoleRepeat && q.Role != RoleRepeat && showsMore && q.isAsSure(p)
}

// isAsSure reports whether a sign is due at least as surely as another.
func (p *Placement) isAsSure(other *Placement) bool {
	sure := []string{NeedWarranted, NeedSite, NeedCurve, NeedCandidate, NeedCantTell, NeedAdvice}
	return slices.Index(sure, p.Need) <= slices.Index(sure, other.Need)
}

// namePosts says which sign's post each shares, and why a sign was moved.
func (pl *placer) namePosts() {
	first := map[int]int{} // post → number of its first sign in travel
	last := map[int]int{}
	for _, p := range pl.out {
		if p.postID > 0 {
			last[p.postID] = p.Number
			if first[p.postID] == 0 {
				first[p.postID] = p.Number
			}
		}
	}
	for i := range pl.out {
		p := &pl.out[i]
		if n := last[p.postID]; n > 0 && n != p.Number {
			p.PostOf = n
			p.Why += fmt.Sprintf("; shares the post of sign %d", n)
		} else if n == p.Number && p.MovedM > 0 {
			p.Why += fmt.Sprintf("; shares the post of sign %d", first[p.postID])
		}
		if p.MovedM > 0 {
			p.Why += fmt.Sprintf("; moved %s upstream, to be %s from the next sign or on its post", length(pl.rs.Units, p.MovedM), length(pl.rs.Units, pl.rs.Spacing.LeastM))
		}
	}
}
