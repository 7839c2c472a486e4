package holding

import (
	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// variant is one thing changed for the sensitivity table; the zero value of each
// field changes nothing.
type variant struct {
	massShare, gradePct, retarderShare, brakeShare float64
	asRecovered                                    bool // the grade without its bound
}

// problem is one hill, class and set of options, prepared for the balance.
type problem struct {
	hill             *Hill
	figures          string // the class's fingerprint
	class            *vehicle.Class
	truck            *vehicle.Truck
	opt              Options
	topStage         int
	units            catalog.Units // of the class's country: advice is rounded down in it
	massKg           float64
	tailMPS          float64            // tail wind
	leastEngineShare float64            // at the hill's highest place
	lightKg          float64            // lightest mass that the advice is for
	chosen           vehicle.WheelForce // that the advised stage puts on the retarded wheels
	lackGear         int                // where least power is missing, for a hill that is not held
	lackMPS          float64            // likewise
	crestShare       float64            // of an engine brake at the crest; 0: not yet known
	slowed           slowed             // the last that was asked for
	cos              float64            // of the steepest stretch, where the load on the axles is least
	reserve          float64            // 0 to 1
	slope            *slope             // shared by all classes
	mostPull         float64            // of all stretches, m/s²
	chargeKg         float64            // heaviest mass whose descent the battery has room for; +Inf without one
	forces           *forces            // shared by all variants
	scratch          *[]stretch         // for prepare; its content is not kept
	long             []stretch
	hasWindows       bool // some of long may be gained speed over
	hardest          int  // of long, the one that was hardest last
	short            []stretch
	sudden           []stretch // counted only in the second in which a stage begins to work
	v                variant
	ceiling          []catalog.SpeedCeiling // all but the stop, which depends on mass
	capMPS           float64                // the lowest of them
	heatModel        *vehicle.GradeSeverity
	memo             *memo
	isAskedOnce      bool // each gear, stage and speed is needed once, so memo is not kept
}

// with returns the problem with one thing changed; the hill's spans are shared.
func (p *problem) with(v variant) *problem {
	q := *p
	q.v = v
	if v.massShare > 0 {
		q.massKg, q.lightKg = p.massKg*v.massShare, p.lightKg*v.massShare
	}
	if v.gradePct != 0 || v.asRecovered {
		q.prepare()
		q.setCeilings()
	}
	if v.gradePct != 0 || v.retarderShare > 0 || v.asRecovered {
		q.memo, q.isAskedOnce = nil, true
	}
	return &q
}

// prepare turns spans into stretches of this truck.
func (p *problem) prepare() {
	spans := p.slope.slantsFor(p.v.gradePct)
	lead := spans.lead
	if p.v.asRecovered {
		lead = lead[len(lead)-1:]
	}
	most := 0
	for i := range lead {
		most += lead[i].most(p.truck)
	}
	p.long, p.hardest = make([]stretch, 0, most), 0
	for i := range lead {
		p.long = lead[i].addUndominated(p.long, p.scratch, p.truck)
	}
	p.hasWindows = false
	for i := range p.long {
		p.hasWindows = p.hasWindows || p.long[i].perM > 0
	}
	p.short = spans.pitch.addUndominated(make([]stretch, 0, spans.pitch.most(p.truck)), p.scratch, p.truck)
	p.sudden = spans.jolt.addUndominated(make([]stretch, 0, spans.jolt.most(p.truck)), p.scratch, p.truck)
	p.cos, p.mostPull = p.leastCos(), mostPullMPS2(p.long, p.short, p.sudden)
	p.chargeKg = p.chargedKg()
}
