package recorded

import "math"

// spot is a candidate place of a fix on the line.
type spot struct {
	distanceM, offM float64
	cost            float64
	from            int // index of the best spot of the fix before
}

// nearby collects the spots of one fix.
type nearby struct {
	line         *Line
	x, y         float64
	headM, tailM float64 // distance of the fix past the first and the last point, along the line there
	before       spot    // of the segment before
	lastM        float64 // its distance
	falling      bool    // the distance fell up to it
	out          []spot
}

// spotsNear are the places of the line nearest to a fix: each local minimum of the
// distance, so that both legs of a hairpin are there. Boxes too far off to hold one are
// passed over.
func (l *Line) spotsNear(x, y float64, buf []spot) []spot {
	n := nearby{line: l, x: x, y: y, out: buf[:0]}
	n.headM, _ = n.alongM(1)
	_, n.tailM = n.alongM(len(l.x) - 1)
	n.startAfresh()
	for k := range l.boxes {
		b := &l.boxes[k]
		if b.offM(x, y) > BesideRoadM+2*pastEndM {
			n.endRun()
			n.startAfresh()
			continue
		}
		for i := b.first; i <= b.last; i++ {
			n.addSegment(i)
		}
	}
	n.endRun()
	return n.out
}

func (n *nearby) startAfresh() {
	n.lastM, n.falling, n.before = math.Inf(1), true, spot{offM: math.Inf(1)}
}

// endRun keeps a minimum at the end of the searched part.
func (n *nearby) endRun() {
	if n.falling {
		n.add(n.before)
	}
}

// alongM is the place of the fix along segment i, from its start and past its end.
func (n *nearby) alongM(i int) (fromStartM, pastM float64) {
	l := n.line
	ux, uy := l.x[i]-l.x[i-1], l.y[i]-l.y[i-1]
	lengthM := math.Hypot(ux, uy)
	if lengthM == 0 {
		return 0, 0
	}
	s := ((n.x-l.x[i-1])*ux + (n.y-l.y[i-1])*uy) / lengthM
	return s, s - lengthM
}

// addSegment continues with the distance to segment i and keeps a minimum that ends there.
func (n *nearby) addSegment(i int) {
	s := n.nearestOn(i)
	if s.offM < n.lastM {
		n.falling = true
	} else if n.falling && s.offM > n.lastM {
		n.add(n.before)
		n.falling = false
	}
	n.before, n.lastM = s, s.offM
}

// nearestOn is the place of segment i nearest to the fix. A place a little past an end of the line
// continues in its direction: if it stayed at the end, the truck would seem to stop.
func (n *nearby) nearestOn(i int) spot {
	l := n.line
	ux, uy := l.x[i]-l.x[i-1], l.y[i]-l.y[i-1]
	t, lo, hi, lengthM := 0.0, 0.0, 1.0, math.Hypot(ux, uy)
	if lengthM > 0 {
		t = ((n.x-l.x[i-1])*ux + (n.y-l.y[i-1])*uy) / (lengthM * lengthM)
		if i == 1 {
			lo = -pastEndM / lengthM
		}
		if i == len(l.x)-1 {
			hi += pastEndM / lengthM
		}
	}
	t = math.Max(lo, math.Min(hi, t))
	return spot{distanceM: l.distanceM[i-1] + t*(l.distanceM[i]-l.distanceM[i-1]),
		offM: math.Hypot(n.x-l.x[i-1]-t*ux, n.y-l.y[i-1]-t*uy)}
}

// add adds a spot; it replaces the furthest one where there are too many. Beyond an end
// the nearest place is the end, and there the truck would seem to stop.
func (n *nearby) add(s spot) {
	if s.offM > BesideRoadM || n.isPastEnd(s.distanceM) {
		return
	}
	if len(n.out) < mostSpots {
		n.out = append(n.out, s)
		return
	}
	worst := 0
	for i := range n.out {
		if n.out[i].offM > n.out[worst].offM {
			worst = i
		}
	}
	if s.offM < n.out[worst].offM {
		n.out[worst] = s
	}
}

func (n *nearby) isPastEnd(distanceM float64) bool {
	d := n.line.distanceM
	last := len(d) - 1
	way := math.Copysign(1, d[last]-d[0])
	return n.headM < -pastEndM && way*distanceM <= way*d[1] || n.tailM > pastEndM && way*distanceM >= way*d[last-1]
}
