package recorded

import (
	"math"
	"slices"
)

// box bounds the segments that end at points first to last.
type box struct {
	first, last        int
	loX, hiX, loY, hiY float64
}

const boxSegments = 24 // segments of a box; a 16 km road with a point every 5 m has 134 boxes, of which one or two are searched

// boxed divides the line into boxes.
func (l *Line) boxed() {
	for first := 1; first < len(l.x); first += boxSegments {
		b := box{first: first, last: min(first+boxSegments, len(l.x)) - 1}
		b.loX, b.hiX = slices.Min(l.x[first-1:b.last+1]), slices.Max(l.x[first-1:b.last+1])
		b.loY, b.hiY = slices.Min(l.y[first-1:b.last+1]), slices.Max(l.y[first-1:b.last+1])
		l.boxes = append(l.boxes, b)
	}
}

// offM is a lower bound of the distance of a point from any segment in the box.
func (b *box) offM(x, y float64) float64 {
	return math.Hypot(math.Max(0, math.Max(b.loX-x, x-b.hiX)), math.Max(0, math.Max(b.loY-y, y-b.hiY)))
}

// nearM is the distance of a point from the line between its ends.
func (l *Line) nearM(x, y float64) float64 {
	first, least := 0, math.Inf(1)
	for k := range l.boxes {
		if off := l.boxes[k].offM(x, y); off < least {
			first, least = k, off
		}
	}
	near := math.Inf(1)
	look := func(b *box) {
		for i := b.first; i <= b.last && b.offM(x, y) < near; i++ {
			ux, uy := l.x[i]-l.x[i-1], l.y[i]-l.y[i-1]
			t := 0.0
			if square := ux*ux + uy*uy; square > 0 {
				t = math.Max(0, math.Min(1, ((x-l.x[i-1])*ux+(y-l.y[i-1])*uy)/square))
			}
			near = math.Min(near, math.Hypot(x-l.x[i-1]-t*ux, y-l.y[i-1]-t*uy))
		}
	}
	look(&l.boxes[first])
	for k := range l.boxes {
		look(&l.boxes[k])
	}
	return near
}
