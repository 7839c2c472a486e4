package holding

import (
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// Options are what a question adds to a hill and a class.
type Options struct {
	MassKg     float64       // 0: the class's upper end
	Units      catalog.Units // advice is rounded down to a whole mph or km/h
	ReservePct float64       // of the retarder, kept in hand; 0: the class's
	TempC      *float64      // of the air; nil: the standard atmosphere
	AltitudeM  *float64      // where the hill gives no elevation; nil: 1,500 m
	StopAtFoot bool          // a stop or town at the foot
	SightM     float64       // distance that the driver sees; 0: unknown, not limiting
}

// PlainAltitudeM is the altitude of a hill that gives none: thin air, and the
// height up to which an engine brake is taken to give its full power.
const PlainAltitudeM = 1500.0

// HeaviestSearchedKg caps Hold.HeaviestMassKg.
const HeaviestSearchedKg = 200000.0

// variant is one thing changed for the sensitivity table; the zero value of each
// field changes nothing.
type variant struct {
	massShare, gradePct, retarderShare, brakeShare float64
	asRecovered                                    bool // the grade without its bound
}

// problem is one hill, class and set of options made ready for the balance.
type problem struct {
	hill      *Hill
	class     *vehicle.Class
	truck     *vehicle.Truck
	opt       Options
	massKg    float64
	reserve   float64 // 0 to 1
	spans     []span  // every WindowM span, for the run down and the heat
	lead      []span  // of those, the ones that can be hardest
	pitch     []span  // of the pitchM spans, likewise
	long      []stretch
	short     []stretch
	v         variant
	ceiling   []catalog.SpeedCeiling // all but the stop, which depends on mass
	capMPS    float64                // the lowest of them
	grips     bool                   // a dry road carries the retarding force
	heatModel *vehicle.GradeSeverity
	gearMax   []float64 // heaviest mass by whole speed and gear, NaN not yet known
}

// altitudeM is the altitude of a hill without elevations.
func (o *Options) altitudeM() float64 {
	if o.AltitudeM != nil {
		return *o.AltitudeM
	}
	return PlainAltitudeM
}

// with returns the problem with one thing changed; the hill's spans are shared.
func (p *problem) with(v variant) *problem {
	q := *p
	q.v = v
	if v.massShare > 0 {
		q.massKg = p.massKg * v.massShare
	}
	if v.asRecovered {
		q.lead = withAir(hardest(p.spans, false), p.opt.TempC)
	}
	if v.gradePct != 0 || v.asRecovered {
		q.prepare()
		q.setCeilings()
	}
	if v.gradePct != 0 || v.retarderShare > 0 || v.asRecovered {
		q.gearMax = nil
	}
	return &q
}

// prepare turns spans into stretches of this truck.
func (p *problem) prepare() {
	make1 := func(spans []span) []stretch {
		out := make([]stretch, len(spans))
		for i, s := range spans {
			out[i] = forceOf(s, p.v.gradePct, p.truck)
		}
		return out
	}
	p.long, p.short = undominated(make1(p.lead)), undominated(make1(p.pitch))
	p.grips = true
	share := p.truck.RetardedShare()
	for _, s := range p.long {
		if s.pullMPS2 > vehicle.DryFriction()*share*vehicle.GravityMPS2*s.cos {
			p.grips = false
		}
	}
}

// wheelPower is the retarders' top power at the wheels in this variant.
func (p *problem) wheelPower(gear int, speedMPS float64) vehicle.WheelPower {
	w := p.truck.TopWheelPower(gear, speedMPS, p.opt.TempC)
	if p.v.retarderShare > 0 {
		w.EngineW *= p.v.retarderShare
		w.DrivelineW *= p.v.retarderShare
	}
	return w
}

// heaviestKg is the heaviest mass that a gear holds at a speed on every stretch:
// the least over them of (power/speed + drag)/pull. 0 where the engine is out
// of its band; +Inf where no stretch pulls.
func (p *problem) heaviestKg(gear int, speedMPS float64) float64 {
	if !p.truck.HasEngineSpeed(gear, speedMPS) {
		return 0
	}
	w := p.wheelPower(gear, speedMPS)
	keep := 1 - p.reserve
	v2 := speedMPS * speedMPS
	kg := math.Inf(1)
	for i := range p.long {
		s := &p.long[i]
		if s.pullMPS2 > 0 {
			kg = math.Min(kg, (keep*w.AtW(s.engineShare)/speedMPS+s.dragKgPerM*v2)/s.pullMPS2)
		}
	}
	for i := range p.short {
		s := &p.short[i]
		if s.pullMPS2 > 0 {
			kg = math.Min(kg, (w.AtW(s.engineShare)/speedMPS+s.dragKgPerM*v2)/s.pullMPS2)
		}
	}
	return kg
}

// heaviestAt is heaviestKg at a whole speed, remembered.
func (p *problem) heaviestAt(whole, gear int) float64 {
	gears := p.truck.GearCount()
	i := whole*gears + gear - 1
	if p.gearMax == nil {
		p.gearMax = make([]float64, (p.topWhole()+2)*gears)
		for k := range p.gearMax {
			p.gearMax[k] = math.NaN()
		}
	}
	if i >= len(p.gearMax) {
		return p.heaviestKg(gear, p.speed(whole))
	}
	if math.IsNaN(p.gearMax[i]) {
		p.gearMax[i] = p.heaviestKg(gear, p.speed(whole))
	}
	return p.gearMax[i]
}

// speed is a whole mph or km/h in metres per second.
func (p *problem) speed(whole int) float64 { return float64(whole) * p.opt.Units.SpeedUnitMPS() }

// topWhole is the highest whole speed under the ceilings that the truck can run
// at in top gear.
func (p *problem) topWhole() int {
	top := p.truck.SpeedFromRPM(p.truck.GearCount(), p.truck.EngineMaxRPM)
	return p.opt.Units.WholeSpeed(math.Min(top, p.capMPS))
}

// wholeUnder is the highest whole speed under every ceiling at a mass.
func (p *problem) wholeUnder(massKg float64) int {
	return min(p.topWhole(), p.opt.Units.WholeSpeed(p.stopCeiling(massKg).SpeedMPS))
}

// best is the highest whole speed that any gear holds at a mass, and the highest
// gear that holds it; 0, 0 if none does.
func (p *problem) best(massKg float64) (whole, gear int) {
	if !p.grips {
		return 0, 0
	}
	for u := p.wholeUnder(massKg); u >= 1; u-- {
		if g := p.gearFor(u, massKg); g > 0 {
			return u, g
		}
	}
	return 0, 0
}

// gearFor is the highest gear that holds a mass at a whole speed; 0 if none.
func (p *problem) gearFor(whole int, massKg float64) int {
	for g := p.truck.GearCount(); g >= 1; g-- {
		if p.heaviestAt(whole, g) >= massKg {
			return g
		}
	}
	return 0
}

// heaviestMassKg is the heaviest mass that any gear holds at any whole speed
// under the ceilings, to 1 g and never above the truth. Holding is monotone in
// mass, so halving finds it; it begins at the truck's own mass, so the two agree.
func (p *problem) heaviestMassKg() float64 {
	if !p.grips {
		return 0
	}
	top := p.topWhole()
	best := make([]float64, top+1)
	for u := 1; u <= top; u++ {
		for g := 1; g <= p.truck.GearCount(); g++ {
			best[u] = math.Max(best[u], p.heaviestAt(u, g))
		}
	}
	holds := func(kg float64) bool {
		for u := p.wholeUnder(kg); u >= 1; u-- {
			if best[u] >= kg {
				return true
			}
		}
		return false
	}
	if holds(HeaviestSearchedKg) {
		return HeaviestSearchedKg
	}
	lo, hi := 0.0, HeaviestSearchedKg
	if holds(p.massKg) {
		lo = p.massKg
	} else {
		hi = p.massKg
	}
	for hi-lo > 1e-3 {
		if mid := (lo + hi) / 2; holds(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// load is the balance on the stretch that uses most of the retarders' power.
type load struct {
	demandW, availableW float64 // at the wheels; available is before the reserve
	useShare            float64 // demand over available
	at                  stretch
	sustained           bool
}

// worst finds that stretch for a gear and a speed.
func (p *problem) worst(gear int, speedMPS, massKg float64) load {
	w := p.wheelPower(gear, speedMPS)
	out := load{useShare: math.Inf(-1), sustained: w.SustainedBound}
	for _, s := range p.long {
		d := (massKg*s.pullMPS2 - s.dragKgPerM*speedMPS*speedMPS) * speedMPS
		have := w.AtW(s.engineShare)
		use := d / have
		if have <= 0 {
			use = math.Inf(1)
			if d <= 0 {
				use = 0
			}
		}
		if use > out.useShare {
			out.demandW, out.availableW, out.useShare, out.at = d, have, use, s
		}
	}
	return out
}

// missing is the least power that is lacking, over every gear and whole speed
// under the ceilings, and the gear and speed where it is.
func (p *problem) missing(massKg float64) (powerW float64, gear int, speedMPS float64) {
	powerW = math.Inf(1)
	top := max(1, p.wholeUnder(massKg))
	consider := func(g int, v float64) {
		w := p.wheelPower(g, v)
		var lack float64
		for _, s := range p.long {
			lack = math.Max(lack, (massKg*s.pullMPS2-s.dragKgPerM*v*v)*v-(1-p.reserve)*w.AtW(s.engineShare))
		}
		for _, s := range p.short {
			lack = math.Max(lack, (massKg*s.pullMPS2-s.dragKgPerM*v*v)*v-w.AtW(s.engineShare))
		}
		if lack < powerW {
			powerW, gear, speedMPS = lack, g, v
		}
	}
	for g := p.truck.GearCount(); g >= 1; g-- {
		for u := 1; u <= top; u++ {
			if v := p.speed(u); p.truck.HasEngineSpeed(g, v) {
				consider(g, v)
			}
		}
	}
	if gear == 0 { // the ceilings lie under a crawl: the slowest the truck can go
		consider(1, p.truck.SpeedFromRPM(1, p.truck.EngineMinRPM))
	}
	return powerW, gear, speedMPS
}
