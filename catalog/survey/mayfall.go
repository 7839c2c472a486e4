package survey

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// Most roads end in a few metres of fall. Only where the heights of the terrain allow a hill with
// the next road are both surveyed as one line. The figures are our own choice, on the side of more
// surveys.
const (
	mayFallEveryM = 50.0
	mayFallPct    = 1.0    // roads gentler than the limit by up to this are examined
	mayFallM      = 10.0   // error of a difference in height
	mostOwnM      = 2000.0 // of the road before the junction; a longer fall is a descent of its own
)

// crest is a place before the end of a road at which a hill may begin.
type crest struct{ beforeM, aboveM float64 }

// crestsBefore are places at least endSlackM before the end of a road, or before a place that is
// as far from its end, in a direction of travel; none where the height at the end is not known.
func crestsBefore(p *routes.Profile, dir routes.Direction, fromEndM float64) []crest {
	heightM := func(beforeM float64) float64 {
		if dir == routes.Backward {
			return p.ElevationAtM(beforeM)
		}
		return p.ElevationAtM(p.LengthM - beforeM)
	}
	var out []crest
	for m := fromEndM + endSlackM; m <= math.Min(p.LengthM, fromEndM+mostOwnM); m += mayFallEveryM {
		if up := heightM(m) - heightM(0); !math.IsNaN(up) {
			out = append(out, crest{m, up})
		}
	}
	return out
}

// mayFall reports whether a continuing road may be a descent together with the road before it.
// Heights of the terrain do not show a bridge or a tunnel: a road with one is surveyed.
func (b *beyond) mayFall(crests []crest, o *network.Onward) bool {
	rule := b.options.Descent.WithDefaults()
	points, atM, isOnGround := placesAlong(o.Pieces, rule.MinLengthM+mostOwnM)
	if !isOnGround {
		return len(crests) > 0
	}
	heights := make([]terrain.Sample, len(points))
	if err := b.surface.Sample(b.ctx, points, heights); err != nil || len(points) < 2 {
		return true
	}
	for i := range heights {
		if heights[i].Miss != terrain.Hit || math.IsNaN(heights[i].ElevationM) {
			return true
		}
		isLast := i == len(heights)-1 // a road after this one may make it long
		for _, c := range crests {
			dropM, lengthM := c.aboveM+heights[0].ElevationM-heights[i].ElevationM+mayFallM, c.beforeM+atM[i]
			if (isLast || lengthM >= rule.MinLengthM) && dropM >= (rule.MinMeanPct-mayFallPct)/100*lengthM {
				return true
			}
		}
	}
	return false
}

// placesAlong are places along some pieces in travel, up to a length, with their distances. It is
// not isOnGround where one of the pieces has a structure.
func placesAlong(pieces []stationing.Piece, mostM float64) (points []terrain.Point, atM []float64, isOnGround bool) {
	doneM := 0.0
	add := func(p orb.Point, m float64) {
		points, atM = append(points, terrain.Point{LonDeg: p[0], LatDeg: p[1]}), append(atM, m)
	}
	for i := range pieces {
		f := &pieces[i].Feature
		if len(f.Structures) > 0 || isTagged(f.Tags["bridge"]) || isTagged(f.Tags["tunnel"]) || isTagged(f.Tags["layer"]) {
			return nil, nil, false
		}
		line := f.Line
		if pieces[i].Reversed {
			line = slices.Clone(line)
			slices.Reverse(line)
		}
		if len(points) == 0 {
			add(line[0], 0)
		}
		for k := 1; k < len(line); k++ {
			stepM := stationing.DistanceM(line[k-1], line[k])
			n := math.Ceil(stepM / mayFallEveryM)
			for c := 1.0; c <= n; c++ {
				t := c / n
				add(orb.Point{line[k-1][0] + t*(line[k][0]-line[k-1][0]), line[k-1][1] + t*(line[k][1]-line[k-1][1])}, doneM+t*stepM)
			}
			doneM += stepM
		}
		if doneM > mostM {
			break
		}
	}
	return points, atM, true
}

func isTagged(v string) bool { return v != "" && v != "no" && v != "0" }
