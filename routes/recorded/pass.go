package recorded

import (
	"math"
	"time"
)

const (
	turnM       = 100.0 // travel backward over more than this ends a pass
	recorderOff = 30 * time.Minute
)

// Passes divides the places on the road into runs in one direction; rising marks those in the
// direction of the line.
func Passes(on []Place) (list [][]Place, rising []bool) {
	if len(on) == 0 {
		return nil, nil
	}
	begin, extreme, way := 0, 0, 0.0
	end := func(to int) {
		if to-begin >= 2 {
			list, rising = append(list, on[begin:to]), append(rising, on[to-1].DistanceM > on[begin].DistanceM)
		}
	}
	for i := 1; i < len(on); i++ {
		if on[i].Fix.At.Sub(on[i-1].Fix.At) > recorderOff {
			end(i)
			begin, extreme, way = i, i, 0
			continue
		}
		d := on[i].DistanceM - on[extreme].DistanceM
		switch {
		case way == 0 && math.Abs(d) > turnM:
			way, extreme = math.Copysign(1, d), i
		case way*d > 0:
			extreme = i
		case way != 0 && -way*d > turnM:
			end(extreme + 1)
			begin, way = extreme, -way
			extreme = i
		}
	}
	end(len(on))
	return list, rising
}
