package grade

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// A line that was generalised for a small map cuts the road's bends. Its drop is right and its
// length is too short, so every grade comes out too steep, and heights cannot show it. The line
// itself can: it turns at few vertices that are far apart. A road with such a turn would depart
// from the chord between two of them by length · tan(turn/4)/2. The shorter of the two lengths at a
// vertex counts: a bend after a long tangent has its next vertex near.
const (
	generalisedM     = 6.0  // of that departure; lines thinned to 1.5 m have less; 4.5/6/8 m: found 39/35/31 of 40 lines with a vertex each 300 m, and 2/0/0 of 140 exact ones
	generalisedShare = 0.3  // of the line's length
	generalisedLeast = 5    // vertices with a turn
	cornerDeg        = 60.0 // more is a street corner, not a bend
	turnDeg          = 2.0  // less does not count as a vertex
)

// generalised reports in words that a line cuts its road's bends; empty where it does not.
func generalised(g *routes.Ground) string {
	type vertex struct{ atM, turnDeg float64 }
	list := []vertex{{0, 0}}
	for i := 1; i+1 < len(g.Points); i++ {
		turn := turnAtDeg(g.Points[i-1], g.Points[i], g.Points[i+1])
		if turn < turnDeg {
			continue
		}
		at := float64(i) * g.StepM
		// A vertex between two stations turns at both.
		if last := &list[len(list)-1]; len(list) > 1 && at-last.atM < 1.5*g.StepM {
			last.turnDeg += turn
			continue
		}
		list = append(list, vertex{at, turn})
	}
	if len(list) <= generalisedLeast {
		return ""
	}
	list = append(list, vertex{g.LengthM, 0})
	cutM := 0.0
	for i := 1; i+1 < len(list); i++ {
		before, after := list[i].atM-list[i-1].atM, list[i+1].atM-list[i].atM
		if list[i].turnDeg < cornerDeg && min(before, after)*math.Tan(list[i].turnDeg/4*math.Pi/180)/2 > generalisedM {
			cutM += (before + after) / 2
		}
	}
	if cutM < generalisedShare*g.LengthM {
		return ""
	}
	return fmt.Sprintf("the line turns at few vertices, %.0f m apart: over %.0f %% of it the road may swing out by %.0f m or more, so it is longer than the line and less steep", g.LengthM/float64(len(list)-1), 100*cutM/g.LengthM, generalisedM)
}

// turnAtDeg is the angle by which a line turns at its middle point.
func turnAtDeg(a, b, c orb.Point) float64 {
	k := math.Cos(b[1] * math.Pi / 180)
	ux, uy, vx, vy := (b[0]-a[0])*k, b[1]-a[1], (c[0]-b[0])*k, c[1]-b[1]
	return math.Abs(math.Atan2(ux*vy-uy*vx, ux*vx+uy*vy)) * 180 / math.Pi
}
