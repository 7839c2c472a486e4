package signs

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/routes"
)

// leg is a piece of an invented road: downgrade in forward travel and radius
// (positive turns right, 0 straight).
type leg struct {
	lengthM, downPct, radiusM float64
}

// road builds a grade line from legs, 10 m stations, near longitude 10, latitude
// 45, with 95 % half-widths of errPct over 100 m falling to a third at 1 km.
func road(errPct float64, legs ...leg) *routes.Profile {
	const step = 10.0
	p := &routes.Profile{StepM: step, CellM: 1, Reliable: true}
	if errPct >= 0 {
		p.Bound = routes.ErrorModel{EndM: 10, ElevationM: 0.1, FloorPct: errPct / 10, SpanM: []float64{100, 1000}, SpanPct: []float64{errPct, errPct / 3}}
	}
	h, heading := 1500.0, math.Pi/2
	x, y := 0.0, 0.0
	add := func(r float64) {
		p.ElevationM = append(p.ElevationM, h)
		p.GroundM = append(p.GroundM, h)
		p.State = append(p.State, routes.Measured)
		if r == 0 {
			r = math.Inf(1)
		}
		p.RadiusM = append(p.RadiusM, math.Abs(r))
		p.Points = append(p.Points, orb.Point{10 + x/78847, 45 + y/111132})
	}
	add(0)
	for _, l := range legs {
		for i := 0; i < int(math.Round(l.lengthM/step)); i++ {
			if l.radiusM != 0 {
				heading -= step / l.radiusM
			}
			x += step * math.Cos(heading-math.Pi/2)
			y += step * math.Sin(heading-math.Pi/2)
			h -= step * l.downPct / 100
			add(l.radiusM)
		}
	}
	p.LengthM = float64(p.Count()-1) * step
	return p
}

// descent is the downgrade of p from one station to another, in travel.
func descent(p *routes.Profile, startM, endM float64) routes.Descent {
	d := routes.Descent{ID: "d1", Route: "r1", Name: "Invented Hill", StartM: startM, EndM: endM, LengthM: math.Abs(endM - startM),
		StartErrM: p.Bound.EndM, EndErrM: p.Bound.EndM}
	if endM < startM {
		d.Direction = routes.Backward
	}
	d.DropM = p.ElevationAtM(startM) - p.ElevationAtM(endM)
	d.MeanDowngradePct = 100 * d.DropM / d.LengthM
	return d
}

// reversed is the same road with its line drawn the other way.
func reversed(p *routes.Profile) *routes.Profile {
	q := *p
	n := p.Count()
	flip := func(i int) int { return n - 1 - i }
	q.ElevationM, q.Points, q.RadiusM, q.State = make([]float64, n), make([]orb.Point, n), make([]float64, n), make([]routes.StationState, n)
	for i := range n {
		q.ElevationM[i], q.Points[i], q.RadiusM[i], q.State[i] = p.ElevationM[flip(i)], p.Points[flip(i)], p.RadiusM[flip(i)], p.State[flip(i)]
	}
	q.Structures = nil
	for _, s := range p.Structures {
		s.FromM, s.ToM = p.LengthM-s.ToM, p.LengthM-s.FromM
		q.Structures = append(q.Structures, s)
	}
	return &q
}

func ruleSet(t testing.TB, id string) RuleSet {
	t.Helper()
	rs, err := FindRuleSet(id)
	if err != nil {
		t.Fatal(err)
	}
	return rs
}

func plan(t testing.TB, in Input, id string) Schedule {
	t.Helper()
	s, err := Plan(in, ruleSet(t, id))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

const mph = 0.44704

// passDescent is an invented pass road: 9 km at about 6.4 % with a bench, a
// tight pair of curves, a bridge and a tunnel.
func passDescent() Input {
	p := road(0.3, leg{1000, -1, 0}, leg{1500, 5.5, 0}, leg{300, 6.5, 150}, leg{200, 6.5, -120}, leg{1200, 7, 0},
		leg{500, 1, 0}, leg{1500, 6.5, 0}, leg{160, 7, 60}, leg{1340, 8, 0}, leg{1600, 6, 900}, leg{1200, 0, 0})
	p.Structures = []routes.Structure{{Kind: routes.Tunnel, FromM: 3900, ToM: 4300, Flagged: true}, {Kind: routes.Bridge, FromM: 2100, ToM: 2200, Flagged: true}}
	d := descent(p, 1000, 9300)
	return Input{Descent: d, Profile: p, ApproachSpeedMPS: 55 * mph,
		Holds: []catalog.Hold{{Class: "five-axle", MassKg: 36287.39, Holds: true, Gear: 8, SpeedMPS: 35 * mph, GearByM: 980},
			{Class: "b-train", MassKg: 63500, Holds: true, Gear: 5, SpeedMPS: 22 * mph, GearByM: 960},
			{Class: "heavy-haul", MassKg: 80000, Holds: false}},
		Sites: []catalog.Site{siteAt(catalog.BrakeCheck, "Summit turnout", 700, routes.Forward), siteAt(catalog.EscapeRamp, "Ramp 1", 7600, routes.Forward)}}
}

// quarryDescent is an invented steep quarry road.
func quarryDescent() Input {
	p := road(0.3, leg{600, 0, 0}, leg{400, 9, 0}, leg{300, 13.5, 0}, leg{120, 11, 40}, leg{780, 12.6, 0}, leg{600, 0, 0})
	return Input{Descent: descent(p, 600, 2200), Profile: p, ApproachSpeedMPS: 40 / 3.6,
		Holds: []catalog.Hold{{Class: "dumper", MassKg: 60000, Holds: true, Gear: 2, SpeedMPS: 18 / 3.6, GearByM: 590}}}
}

func siteAt(kind catalog.SiteKind, name string, stationM float64, dir routes.Direction) catalog.Site {
	return catalog.Site{Kind: kind, Name: name, StationM: &stationM, Direction: dir.String()}
}
