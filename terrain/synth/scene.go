package synth

import (
	"math"

	"gradeline/terrain"
)

// Scene is several invented roads over one ground, with one raster.
type Scene struct {
	Name  string
	Roads []*Road
	Grid  *terrain.Grid // no voids, no corridor
}

// pi is a point of intersection of a plan's tangents and the radius of the curve
// that rounds it, metres east and north of the scene's south-west corner.
type pi struct{ x, y, radiusM float64 }

// plannedRoad is a road with a plan and profile set by hand.
type plannedRoad struct {
	name, ref  string
	tags       map[string]string
	speedKMH   float64
	benchM     float64
	startElevM float64
	plan       []pi
	tangents   []tangent // the last continues to the end of the plan
	structures []span
}

// sceneOptions are the scene's place and ground.
type sceneOptions struct {
	name             string
	seed             uint64
	lon0Deg, lat0Deg float64 // of its middle
	widthM, heightM  float64
	cellM, noise     float64 // noise as a multiple of the cell size's usual
	lateralM         float64 // rms sideways error of the lines
	terrain          terrainParams
}

// newScene plans a scene; render draws its ground.
func newScene(o sceneOptions, planned []plannedRoad) *Scene {
	sc := &Scene{Name: o.name}
	proj := newTmerc(o.lon0Deg, o.lat0Deg)
	area := box{-o.widthM / 2, -o.heightM / 2, o.widthM / 2, o.heightM / 2}
	var als []*alignment
	for _, p := range planned {
		als = append(als, p.alignment(area, o.terrain))
	}
	g := newGround(o.seed, o.terrain, als, &area)
	for i, p := range planned {
		r := &Road{
			Name: p.name, Ref: p.ref, Tags: p.tags,
			DesignSpeedKMH: p.speedKMH, BenchHalfWidthM: p.benchM, LateralRMSM: o.lateralM,
			CRS: proj.proj4(), proj: proj, align: als[i], ground: g,
			options: Options{Seed: o.seed + uint64(i), CellM: o.cellM, NoiseScale: o.noise, VoidsPerKM: -1},
		}
		r.digitise(params{lateralM: o.lateralM})
		sc.Roads = append(sc.Roads, r)
	}
	return sc
}

// render draws the ground of a scene as a sensor sees it.
func (sc *Scene) render(o sceneOptions) {
	area := box{-o.widthM / 2, -o.heightM / 2, o.widthM / 2, o.heightM / 2}
	s := newSensor(o.seed, sc.Roads[0].ground, o.cellM, o.noise, area)
	s.crs = newTmerc(o.lon0Deg, o.lat0Deg).proj4()
	sc.Grid = s.render(0, 0, s.cols, s.rows)
}

// alignment sets out the plan with circular curves, and the profile with curves of one and a half
// times the least K.
func (p plannedRoad) alignment(area box, tp terrainParams) *alignment {
	a := &alignment{benchM: p.benchM, terrain: tp, structures: p.structures}
	a.setPlan(curvaturesFromPIs(p.plan))
	// setPlan starts at the origin heading east: turn and shift it into place
	h := math.Atan2(p.plan[1].y-p.plan[0].y, p.plan[1].x-p.plan[0].x)
	c, s := math.Cos(h), math.Sin(h)
	for i := range a.x {
		x, y := a.x[i], a.y[i]
		a.x[i], a.y[i] = area.west+p.plan[0].x+c*x-s*y, area.south+p.plan[0].y+s*x+c*y
	}
	k := kTable[int(p.speedKMH)]
	ks := make([]float64, len(p.tangents))
	for i := 1; i < len(ks); i++ {
		ks[i] = 1.5 * k.sag
		if p.tangents[i].gradePct < p.tangents[i-1].gradePct {
			ks[i] = 1.5 * k.crest
		}
	}
	a.profile = newProfile(p.startElevM, p.tangents, ks)
	a.setHeights()
	return a
}

// curvaturesFromPIs turns a tangent polygon into tangents and arcs; a curve shortens both tangents
// by radius·tan(turn/2), and they must be long enough.
func curvaturesFromPIs(plan []pi) []curvature {
	var out []curvature
	used := 0.0 // of the current tangent, by the curve before
	for i := 0; i+1 < len(plan); i++ {
		dx, dy := plan[i+1].x-plan[i].x, plan[i+1].y-plan[i].y
		length, cut := math.Hypot(dx, dy), 0.0
		var turn float64
		if i+2 < len(plan) {
			ex, ey := plan[i+2].x-plan[i+1].x, plan[i+2].y-plan[i+1].y
			turn = math.Atan2(dx*ey-dy*ex, dx*ex+dy*ey) // left positive
			cut = plan[i+1].radiusM * math.Tan(math.Abs(turn)/2)
		}
		out = append(out, curvature{length - used - cut, 0, 0})
		if turn != 0 {
			k := -math.Copysign(1/plan[i+1].radiusM, turn)
			out = append(out, curvature{plan[i+1].radiusM * math.Abs(turn), k, k})
		}
		used = cut
	}
	return out
}
