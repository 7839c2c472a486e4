package debrief

import (
	"math"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/recorded"
	"gradeline/routes/stationing"
)

// straightRoad is a road due east with a given height along it, a station every 5 m.
func straightRoad(lengthM float64, heightM func(stationM float64) float64) *routes.Profile {
	p := &routes.Profile{StepM: 5, LengthM: lengthM, Bound: routes.ErrorModel{SpanM: []float64{100, 1000}, SpanPct: []float64{0.2, 0.05}, FloorPct: 0.02}, Reliable: true}
	for i := 0; float64(i)*5 <= lengthM; i++ {
		s := float64(i) * 5
		p.Points = append(p.Points, stationing.Direct(orb.Point{11, 46}, 90, s))
		p.ElevationM = append(p.ElevationM, heightM(s))
		p.State = append(p.State, routes.Measured)
		p.RadiusM = append(p.RadiusM, math.Inf(1))
	}
	p.GroundM = p.ElevationM
	return p
}

// drive makes a recording: where the truck is at a time, and its speed if told.
func drive(timeS float64, stepS float64, at func(timeS float64) (stationM, speedMPS float64), hasSpeed bool) *routes.Recording {
	rec := &routes.Recording{Name: "test"}
	begin := time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)
	for k := 0; float64(k)*stepS <= timeS+1e-9; k++ {
		t := float64(k) * stepS
		s, v := at(t)
		p := stationing.Direct(orb.Point{11, 46}, 90, s)
		if !hasSpeed {
			v = math.NaN()
		}
		rec.Fixes = append(rec.Fixes, routes.Fix{At: begin.Add(time.Duration(t * 1e9)), LonDeg: p[0], LatDeg: p[1], SpeedMPS: v, EngineRPM: math.NaN()})
	}
	return rec
}

func debriefClass(t *testing.T) *vehicle.Class {
	t.Helper()
	classes, err := holding.DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	for i := range classes {
		if classes[i].ID == "us-5axle" {
			return &classes[i]
		}
	}
	t.Fatal("no class us-5axle")
	return nil
}

func eastbound(startM, endM float64) *routes.Descent {
	return &routes.Descent{ID: "test-road", Route: "Test Road", StartM: startM, EndM: endM, LengthM: endM - startM}
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s is %.6g, want %.6g ± %.2g", what, got, want, tol)
	}
}

// A truck that rolls freely puts nothing into its service brakes. Closed form of
// dv/dt = A − k·v², with A = g·(sin θ − Crr·cos θ), k = ½ρCdA/m, u = √(A/k):
// v = u·(v0 + u·th)/(u + v0·th), s = ln(cosh at + v0/u·sinh at)/k, th = tanh at, a = √(A·k)
// (integration by hand). The air is that of the middle of the hill.
func TestFreeRollPutsNothingIntoTheServiceBrakes(t *testing.T) {
	c := debriefClass(t)
	m, pct := c.MassMaxKg, 2.5
	height := func(s float64) float64 { return 500 - pct/100*s*math.Cos(math.Atan(pct/100)) }
	// Stations here are along the ellipsoid; the road's slope length is 0.03 % more.
	A := vehicle.PullMPS2(pct, c.Truck.RollingResistance)
	k := 0.5 * vehicle.AirDensityKgM3(465, nil) * c.Truck.DragAreaM2 / m
	u, a, v0 := math.Sqrt(A/k), math.Sqrt(A*k), 8.0
	at := func(ts float64) (float64, float64) {
		th := math.Tanh(a * ts)
		return math.Log(math.Cosh(a*ts)+v0/u*math.Sinh(a*ts)) / k, u * (v0 + u*th) / (u + v0*th)
	}
	end, _ := at(100)
	p := straightRoad(math.Ceil(end/5)*5+10, height)
	in := Input{Descent: eastbound(0, end), Profile: p, Class: c, Drive: drive(100, 1, at, true)}
	v, err := speedsOf(mustLay(t, &in), "")
	if err != nil {
		t.Fatal(err)
	}
	var raw float64
	for _, w := range energyWindows(&in, v, m) {
		raw += w.mostJ
		if w.leastJ != 0 {
			t.Errorf("the service brakes must have worked on a free roll: %+v", w)
		}
	}
	all := m * vehicle.GravityMPS2 * (height(0) - height(end))
	if raw > 0.004*all { // discretisation, and the air's change of density
		t.Errorf("%.0f J of %.0f J are left over on a free roll", raw, all)
	}
	d, err := FromDrive(in)
	if err != nil {
		t.Fatal(err)
	}
	if d.Brakes.AtLeastJ != 0 || len(d.Brakes.Events) != 0 || d.Brakes.Severity.AtLeastC > d.Brakes.StartC+1e-9 {
		t.Errorf("at least %.0f J, events %v", d.Brakes.AtLeastJ, d.Brakes.Events)
	}
}

// Even deceleration to a stop on the level, by hand: the kinetic energy (with the
// rotating parts) less rolling m·g·Crr·v0²/2a and drag ½ρCdA·v0⁴/4a.
func TestEvenDecelerationByHand(t *testing.T) {
	c := debriefClass(t)
	m, v0, a := c.MassMaxKg, 25.0, 2.0
	stopM := v0 * v0 / (2 * a)
	at := func(ts float64) (float64, float64) {
		if ts >= v0/a {
			return stopM, 0
		}
		return v0*ts - a*ts*ts/2, v0 - a*ts
	}
	p := straightRoad(1000, func(float64) float64 { return 300 })
	in := Input{Descent: eastbound(0, stopM), Profile: p, Class: c, Drive: drive(30, 0.25, at, true), MassKg: m}
	d, err := FromDrive(in)
	if err != nil {
		t.Fatal(err)
	}
	rho := vehicle.AirDensityKgM3(300, nil)
	most := 0.5*m*v0*v0*(1+rotatingShare) - m*vehicle.GravityMPS2*c.Truck.RollingResistance*stopM - 0.5*rho*c.Truck.DragAreaM2*math.Pow(v0, 4)/(4*a)
	// The bound of a stop is that of its two speeds: 2·0.15 m/s, a window each.
	if d.Brakes.AtMostJ < most || d.Brakes.AtMostJ > most*1.05 {
		t.Errorf("at most %.0f J, by hand %.0f J and its bound", d.Brakes.AtMostJ, most)
	}
	// Whatever the retarder gave: 2 m/s² of 36 t at 25 m/s are 1.8 MW, and no engine brake has a quarter of that.
	if d.Brakes.AtLeastJ < 0.5*most || d.Brakes.AtLeastJ > most {
		t.Errorf("at least %.0f J of %.0f J", d.Brakes.AtLeastJ, most)
	}
	if len(d.Stops) != 1 || math.Abs(d.Stops[0].AtM-stopM) > 2 || d.Stops[0].TimeS < 15 {
		t.Errorf("stops %+v, want one at %.0f m", d.Stops, stopM)
	}
	if len(d.Brakes.Events) != 1 || math.Abs(d.Brakes.Events[0].FromMPS-v0) > 0.01 {
		t.Errorf("events %+v", d.Brakes.Events)
	}
	// The heat of even deceleration goes into ten drums: at most all of it at once.
	b := c.Truck.ServiceBrakes
	drum := b.Balance()
	if rise := d.Brakes.Balance.AtMostC - d.Brakes.StartC; rise > d.Brakes.AtMostJ/float64(b.Count)/drum.HeatCapacityJPerK() || rise < 0.7*most/float64(b.Count)/drum.HeatCapacityJPerK() {
		t.Errorf("a rise of %.1f K", rise)
	}
}

// Steady speed down an even grade: nothing kinetic, so m·g·h less resistance, by
// hand; and the grade-severity model's own closed form gives the temperature.
func TestSteadySpeedByHand(t *testing.T) {
	c := debriefClass(t)
	m, pct, v := c.MassMaxKg, 6.0, 12.0
	p := straightRoad(4000, func(s float64) float64 { return 800 - pct/100*s })
	at := func(ts float64) (float64, float64) { return 100 + v*ts, v }
	in := Input{Descent: eastbound(100, 3700), Profile: p, Class: c, Drive: drive(300, 1, at, true),
		Advice: &catalog.Hold{Class: c.ID, Holds: true, Gear: 6, SpeedMPS: 11, GearByM: 100}}
	d, err := FromDrive(in)
	if err != nil {
		t.Fatal(err)
	}
	L := v * 300
	most := m*vehicle.GravityMPS2*(pct/100*L-c.Truck.RollingResistance*L*math.Sqrt(1-pct*pct/1e4)) - 0.5*vehicle.AirDensityKgM3(690, nil)*c.Truck.DragAreaM2*v*v*L
	if d.Brakes.AtMostJ < 0.998*most || d.Brakes.AtMostJ > 1.03*most {
		t.Errorf("at most %.4g J, by hand %.4g J", d.Brakes.AtMostJ, most)
	}
	if d.Brakes.AtLeastJ != 0 {
		t.Errorf("the retarder could have held %.0f J", d.Brakes.AtLeastJ)
	}
	g, err := holding.Severity()
	if err != nil {
		t.Fatal(err)
	}
	wantC := catalog.CFromF(g.TempF(g.StartTempF, d.Brakes.AtMostJ/300/vehicle.HorsepowerW, v/catalog.MilePerHourMPS, L/catalog.MileM, c.Truck.ServiceBrakes.Count))
	near(t, "temperature", d.Brakes.Severity.AtMostC, wantC, 0.001*wantC)
	// 12 m/s where 11 is advised, known to 0.15 m/s: over it all the way.
	near(t, "time over", d.OverS, 300, 2)
	near(t, "most over", d.OverMPS, 1-recordedFloorMPS, 0.01)
	if d.Crest.Verdict != CrestTooFast || len(d.Over) != 1 {
		t.Errorf("crest %q, stretches %v", d.Crest.Verdict, d.Over)
	}
}

func mustLay(t *testing.T, in *Input) []recorded.Place {
	t.Helper()
	r, err := roadOf(in.Profile, in.Descent)
	if err != nil {
		t.Fatal(err)
	}
	on, _ := r.Lay(in.Drive.Fixes)
	pass, _, _, err := choosePass(on, in.Descent, "", 0)
	if err != nil {
		t.Fatal(err)
	}
	return pass
}

// A signal that says off where the balance says the brakes must have worked is told.
func TestAContradictingBrakeSignalIsTold(t *testing.T) {
	c := debriefClass(t)
	at := func(ts float64) (float64, float64) { return 25*ts - ts*ts, 25 - 2*ts }
	in := Input{Descent: eastbound(0, 150), Profile: straightRoad(1000, func(float64) float64 { return 300 }), Class: c, Drive: drive(12, 0.25, at, true)}
	off := false
	for i := range in.Drive.Fixes {
		in.Drive.Fixes[i].ServiceBrake = &off
	}
	d, err := FromDrive(in)
	if err != nil {
		t.Fatal(err)
	}
	if len(d.Brakes.Conflicts) == 0 || !(d.Brakes.AtMostJ >= d.Brakes.AtLeastJ) {
		t.Errorf("conflicts %v, at least %.0f J, at most %.0f J", d.Brakes.Conflicts, d.Brakes.AtLeastJ, d.Brakes.AtMostJ)
	}
}

// A signal says nothing of a gap: there the service brakes may have taken all.
func TestAGapIsNotTakenAsBrakesOff(t *testing.T) {
	c := debriefClass(t)
	at := func(ts float64) (float64, float64) { return 12 * ts, 12 }
	in := Input{Descent: eastbound(0, 3600), Profile: straightRoad(4000, func(s float64) float64 { return 800 - 0.06*s }), Class: c, Drive: drive(300, 1, at, true)}
	off := false
	for i := range in.Drive.Fixes {
		in.Drive.Fixes[i].ServiceBrake = &off
	}
	whole, err := FromDrive(in)
	if err != nil {
		t.Fatal(err)
	}
	in.Drive.Fixes = append(append([]routes.Fix{}, in.Drive.Fixes[:100]...), in.Drive.Fixes[200:]...)
	cut, err := FromDrive(in)
	if err != nil {
		t.Fatal(err)
	}
	// 101 s at 12 m/s fall 72.7 m: m·g·72.7 m less rolling and drag, by hand.
	L := 101 * 12.0
	gap := c.MassMaxKg*vehicle.GravityMPS2*L*(0.06-c.Truck.RollingResistance) - 0.5*vehicle.AirDensityKgM3(692, nil)*c.Truck.DragAreaM2*144*L
	if whole.Brakes.AtMostJ != 0 || cut.Brakes.AtMostJ < 0.98*gap || cut.Brakes.AtMostJ > 1.1*gap {
		t.Errorf("brakes off all the way %.3g J, with a gap %.3g J, by hand %.3g J", whole.Brakes.AtMostJ, cut.Brakes.AtMostJ, gap)
	}
}

// Against the line the same drive gives the same figures: distances count from the
// crest in travel.
func TestADriveAgainstTheLineIsTheSame(t *testing.T) {
	c := debriefClass(t)
	forward := Input{Descent: eastbound(600, 3600), Profile: straightRoad(4000, func(s float64) float64 { return 800 - 0.06*s }), Class: c,
		Drive:  drive(330, 1, func(ts float64) (float64, float64) { return 12 * ts, 12 }, true),
		Advice: &catalog.Hold{Class: c.ID, Holds: true, Gear: 6, SpeedMPS: 11, GearByM: 500}}
	backward := forward
	backward.Descent = eastbound(600, 3600)
	backward.Descent.StartM, backward.Descent.EndM, backward.Descent.Direction = 3400, 400, routes.Backward
	backward.Profile = straightRoad(4000, func(s float64) float64 { return 800 - 0.06*(4000-s) })
	backward.Drive = drive(330, 1, func(ts float64) (float64, float64) { return 4000 - 12*ts, 12 }, true)
	backward.Advice = &catalog.Hold{Class: c.ID, Holds: true, Gear: 6, SpeedMPS: 11, GearByM: 3500}
	a, err := FromDrive(forward)
	if err != nil {
		t.Fatal(err)
	}
	b, err := FromDrive(backward)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "over", b.OverS, a.OverS, 1e-6)
	near(t, "gear due", b.Crest.GearByM, a.Crest.GearByM, 1e-9)
	near(t, "at most", b.Brakes.AtMostJ, a.Brakes.AtMostJ, 1e-4*a.Brakes.AtMostJ)
	near(t, "hottest at", b.Brakes.Severity.AtM, a.Brakes.Severity.AtM, 0.5)
	if b.Crest.Verdict != a.Crest.Verdict || len(b.Over) != 1 || math.Abs(b.Over[0].FromM-a.Over[0].FromM) > 0.5 {
		t.Errorf("forward %+v, backward %+v", a.Over, b.Over)
	}
}
