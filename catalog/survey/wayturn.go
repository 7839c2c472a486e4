package survey

import (
	"math"

	"github.com/paulmach/orb"

	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/routes/stationing"
)

// What a turn from one road into another costs at the least: the time lost in the curve
// of the corner, worked out for straight roads that meet and taken short.
const (
	turnChordM  = 30.0 // a turn is the angle between the roads over this length
	turnLeastM  = 40.0 // shorter edges can be part of a bend with others
	turnLessDeg = 10.0 // taken off an angle: a curve may begin before the junction
	turnFromDeg = 20.0 // what is left of a smaller angle takes no time
	turnShare   = 0.95 // of the time that a turn takes by itself
)

// turnTable is the time of turns for a class, by angle and speed.
type turnTable struct {
	class  *vehicle.Class
	radiiM [181][][]float64 // by whole degrees, for several positions of the stations around the corner
	speeds []float64
	lostS  [][181]float64 // by speed and degrees, on one side of the corner; NaN: not worked out
	edges  []edgeTurn     // of the network's graph
}

// edgeTurn is the data of an edge for the turns at its ends. The angles are worked out when they are
// first needed.
type edgeTurn struct {
	isKnown, hasAngles, isRing bool
	isThrough, isTurn          bool // long enough for the curves of a road, and for the corner of two
	road                       int32
	beginSpeed, endSpeed       int32   // of turnTable.speeds
	beginDeg, endDeg           float32 // direction of travel
	beginS, endS               float64 // of edgeCost
}

func newTurnTable(class *vehicle.Class, edges int) *turnTable {
	return &turnTable{class: class, edges: make([]edgeTurn, edges)}
}

// halfS is the time lost on one side of a corner against going straight on at a speed.
func (t *turnTable) halfS(deg int, speed int32) float64 {
	if v := t.lostS[speed][deg]; !math.IsNaN(v) {
		return v
	}
	if t.radiiM[deg] == nil {
		t.radiiM[deg] = cornerRadiiM(float64(deg))
	}
	least := math.Inf(1)
	for _, list := range t.radiiM[deg] {
		sum := 0.0
		for i := 1; i < len(list); i++ {
			v, _ := vehicle.CurveSpeedMPS(math.Max(list[i-1], list[i]), t.class.CurveRolloverShare())
			sum += stitchM * max(0, 1/v-1/math.Max(t.speeds[speed], speedUnitMPS))
		}
		least = math.Min(least, sum)
	}
	t.lostS[speed][deg] = turnShare * least / 2
	return t.lostS[speed][deg]
}

// speedOf is the number of a speed.
func (t *turnTable) speedOf(mps float64) int32 {
	for i, v := range t.speeds {
		if v == mps {
			return int32(i)
		}
	}
	t.speeds = append(t.speeds, mps)
	var row [181]float64
	for i := range row {
		row[i] = math.NaN()
	}
	t.lostS = append(t.lostS, row)
	return int32(len(t.speeds) - 1)
}

// cornerRadiiM are the radii at stations about a corner between straight roads, for
// several places of the corner between two of them.
func cornerRadiiM(deg float64) [][]float64 {
	const legM, shiftM = 8 * stitchM, stitchM / 4
	rad := deg * math.Pi / 180
	const degreeM = 111_195.0
	var out [][]float64
	for beforeM := legM; beforeM < legM+stitchM; beforeM += shiftM {
		afterM := 2*legM - beforeM
		line := orb.LineString{{-beforeM / degreeM, 0}, {0, 0}, {afterM * math.Cos(rad) / degreeM, afterM * math.Sin(rad) / degreeM}}
		r := &routes.Route{Line: line, VertexM: []float64{0, beforeM, 2 * legM}}
		out = append(out, stationing.RadiiM(r, 2*legM/stitchM+1, stitchM))
	}
	return out
}

// turnS is the least that going from one edge into another costs besides their times:
// along one road its curves there, else the corner. Roundabouts, short edges and those
// that a place has cut cost nothing.
func (k *KeptNetwork) turnS(g *network.Graph, from, to int32) float64 {
	a, b := k.edgeTurn(g, from), k.edgeTurn(g, to)
	if a.road == b.road {
		if !a.isThrough || !b.isThrough {
			return 0
		}
		return a.endS + b.beginS
	}
	if !a.isTurn || !b.isTurn {
		return 0
	}
	k.addAngles(g, from, a)
	k.addAngles(g, to, b)
	deg := math.Abs(math.Remainder(float64(a.endDeg-b.beginDeg), 360)) - turnLessDeg
	if deg < turnFromDeg-turnLessDeg || a.isRing || b.isRing {
		return 0
	}
	return k.turns.halfS(int(deg)&^1, a.endSpeed) + k.turns.halfS(int(deg)&^1, b.beginSpeed)
}

// costOf is the cost of an edge, also of one that a place has cut.
func (k *KeptNetwork) costOf(g *network.Graph, e int32) *edgeCost {
	if int(e) < len(k.figures.edges) {
		return &k.figures.edges[e]
	}
	if _, ok := k.cuts[e]; !ok {
		c := k.cutCost(g, e)
		k.cuts[e] = &c
	}
	return k.cuts[e]
}

// edgeTurn is the data of an edge, also of one that a place has cut, without its angles.
func (k *KeptNetwork) edgeTurn(g *network.Graph, e int32) *edgeTurn {
	var t *edgeTurn
	if int(e) < len(k.turns.edges) {
		t = &k.turns.edges[e]
	} else if t = k.cutTurns[e]; t == nil {
		t = &edgeTurn{}
		k.cutTurns[e] = t
	}
	if !t.isKnown {
		c, lengthM := k.costOf(g, e), g.LengthM(e)
		*t = edgeTurn{isKnown: true, isThrough: lengthM >= throughM, isTurn: lengthM >= turnLeastM, road: int32(k.at[g.Base(e)].road),
			beginSpeed: k.turns.speedOf(c.beginMPS), endSpeed: k.turns.speedOf(c.endMPS), beginS: c.beginS, endS: c.endS}
	}
	return t
}

func (k *KeptNetwork) addAngles(g *network.Graph, e int32, t *edgeTurn) {
	if t.hasAngles {
		return
	}
	edge := g.Edge(e)
	line := g.Feature(e).Line[edge.First : edge.Last+1]
	first, last := chordDeg(line, false), chordDeg(line, true)
	if edge.IsReversed {
		first, last = last+180, first+180
	}
	t.hasAngles, t.isRing, t.beginDeg, t.endDeg = true, isRing(g, e), float32(first), float32(last)
}

// chordDeg is the direction, as drawn, of the first or the last turnChordM of a line.
func chordDeg(line orb.LineString, isLast bool) float64 {
	at := func(i int) orb.Point {
		if isLast {
			i = len(line) - 1 - i
		}
		return line[i]
	}
	eastShare := math.Cos(at(0)[1] * math.Pi / 180)
	const degreeM = 111_195.0
	x, y := 0.0, 0.0
	for i := 1; i < len(line); i++ {
		dx, dy := math.Remainder(at(i)[0]-at(i - 1)[0], 360)*eastShare*degreeM, (at(i)[1]-at(i - 1)[1])*degreeM
		if stepM, doneM := math.Hypot(dx, dy), math.Hypot(x, y); doneM+stepM > turnChordM && stepM > 0 {
			share := (turnChordM - doneM) / stepM
			x, y = x+share*dx, y+share*dy
			break
		}
		x, y = x+dx, y+dy
	}
	if isLast {
		x, y = -x, -y
	}
	return math.Atan2(y, x) * 180 / math.Pi
}
