package synth

import "math"

// planStepM is the spacing of the centre line's points: the sagitta in a 28 m
// curve is 7 cm.
const planStepM = 4.0

// minRadiusM is the smallest curve radius by design speed in km/h, at 6–8 % superelevation (common
// practice, rounded from tables of design manuals).
var minRadiusM = map[int]float64{40: 50, 50: 80, 60: 120, 70: 180, 80: 250, 90: 340, 100: 440, 110: 560}

// curvature is a stretch of plan whose curvature changes linearly, right positive.
type curvature struct{ lengthM, k0, k1 float64 }

// alignment is a road in plan and profile. Stations are along its own points.
type alignment struct {
	x, y, s, z []float64 // metres
	k          []float64 // curvature, right positive, 1/m
	benchM     float64
	profile    profile
	structures []span
	terrain    terrainParams
}

// span is a structure on the true centre line.
type span struct {
	tunnel     bool
	from, to   float64
	departureM float64 // of the ground from the road at the middle
	skew       float64 // exponent that moves the middle
	power      float64 // of the flanks: 2.5 is a round valley or ridge, more a box
}

func (a *alignment) lengthM() float64 { return a.s[len(a.s)-1] }

func drawAlignment(seed uint64, p params) *alignment {
	a := &alignment{benchM: p.benchM, terrain: p.terrain}
	for try := uint64(0); ; try++ {
		a.setPlan(drawPlan(newDice(seed, streamPlan+try<<32), p))
		if !a.comesBack() {
			break
		}
	}
	a.profile = drawProfile(newDice(seed, streamProfile), p, a.lengthM())
	a.setHeights()
	a.structures = drawStructures(newDice(seed, streamStructures), p, &a.profile, a.lengthM())
	return a
}

// drawPlan joins tangents, curves with transitions, and on slow roads stacks of switchbacks. It
// keeps a main direction, so that the road does not cross itself.
func drawPlan(d dice, p params) []curvature {
	var out []curvature
	total, heading := 0.0, 0.0
	add := func(c curvature) {
		out = append(out, c)
		total += c.lengthM
		heading += c.lengthM * (c.k0 + c.k1) / 2
	}
	arc := func(radius, turn float64) { // turn in radians, signed; with transitions where they fit
		k := math.Copysign(1/radius, turn)
		tr := math.Min(0.7*p.speedKMH, 0.8*math.Abs(turn)*radius)
		add(curvature{tr, 0, k})
		add(curvature{math.Max(0, math.Abs(turn)*radius-tr), k, k})
		add(curvature{tr, k, 0})
	}
	rmin := minRadiusM[int(p.speedKMH/10+0.5)*10]
	for total < p.lengthM {
		if p.speedKMH <= 60 && p.lengthM-total > 2500 && d.Float64() < 0.05 {
			n := 2 + d.IntN(6)
			side := d.sign()
			swing := d.between(75, 88) * math.Pi / 180
			arc(rmin, side*swing-heading)
			for i := 0; i < n; i++ {
				add(curvature{d.between(150, 450), 0, 0})
				side = -side
				arc(d.between(28, 45), side*swing-heading)
			}
			add(curvature{d.between(150, 450), 0, 0})
			arc(rmin, -heading)
			continue
		}
		add(curvature{d.logNormal(1.2*p.speedKMH, 0.8, 10, 1500), 0, 0})
		radius := rmin * d.logBetween(1, 6)
		turn := d.logNormal(0.5, 0.6, 0.08, 1.7)
		if side := d.sign(); side*heading > 0 && d.Float64() < math.Abs(heading)/0.9 {
			turn *= -side
		} else {
			turn *= side
		}
		if math.Abs(heading+turn) > 1.4 {
			turn = -math.Copysign(turn, heading)
		}
		arc(radius, turn)
	}
	return out
}

// setPlan integrates the curvature into points, planStepM apart.
func (a *alignment) setPlan(els []curvature) {
	a.x, a.y, a.k = []float64{0}, []float64{0}, []float64{els[0].k0}
	const fine = planStepM / 4
	x, y, heading, n := 0.0, 0.0, 0.0, 0
	rest := 0.0 // distance into the element at which the next fine step starts
	for _, e := range els {
		u := rest
		for ; u < e.lengthM; u += fine {
			t := math.Min(1, (u+fine/2)/e.lengthM)
			k := e.k0 + t*(e.k1-e.k0)
			mid := heading + k*fine/2
			x += fine * math.Cos(mid)
			y -= fine * math.Sin(mid) // right turn is clockwise
			heading += k * fine
			if n++; n%4 == 0 {
				a.x, a.y, a.k = append(a.x, x), append(a.y, y), append(a.k, k)
			}
		}
		rest = u - e.lengthM
	}
	a.setStations()
}

func (a *alignment) setStations() {
	a.s = make([]float64, len(a.x))
	for i := 1; i < len(a.x); i++ {
		a.s[i] = a.s[i-1] + math.Hypot(a.x[i]-a.x[i-1], a.y[i]-a.y[i-1])
	}
}

// comesBack reports whether the road passes within 50 m of itself outside a hairpin: benches and
// slopes would then overlap.
func (a *alignment) comesBack() bool {
	const near, hairpin = 50.0, 160.0
	cells := map[[2]int32][]int{}
	for i := range a.x {
		cx, cy := int32(math.Floor(a.x[i]/near)), int32(math.Floor(a.y[i]/near))
		for dx := int32(-1); dx <= 1; dx++ {
			for dy := int32(-1); dy <= 1; dy++ {
				for _, j := range cells[[2]int32{cx + dx, cy + dy}] {
					if a.s[i]-a.s[j] > hairpin && math.Hypot(a.x[i]-a.x[j], a.y[i]-a.y[j]) < near {
						return true
					}
				}
			}
		}
		cells[[2]int32{cx, cy}] = append(cells[[2]int32{cx, cy}], i)
	}
	return false
}

// rightOf returns the unit vector to the right of the centre line at point i.
func (a *alignment) rightOf(i int) (x, y float64) {
	j, k := max(0, i-1), min(len(a.x)-1, i+1)
	dx, dy := a.x[k]-a.x[j], a.y[k]-a.y[j]
	l := math.Hypot(dx, dy)
	return dy / l, -dx / l
}
