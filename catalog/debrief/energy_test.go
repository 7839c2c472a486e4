package debrief

import (
	"math"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/recorded"
)

// madeDrive is a pass of points at given times, places and speeds.
func madeDrive(timesS, distancesM, speedsMPS []float64) *driven {
	v := &driven{speedMPS: speedsMPS, errMPS: make([]float64, len(timesS)), gapS: 10, sampleS: timesS[1] - timesS[0], isRecorded: true}
	for i := range timesS {
		f := &routes.Fix{At: time.Unix(0, 0).Add(time.Duration(timesS[i] * 1e9)), SpeedMPS: speedsMPS[i], EngineRPM: math.NaN(), Gear: 6}
		v.pass = append(v.pass, recorded.Place{Fix: f, TimeS: timesS[i], DistanceM: distancesM[i]})
	}
	return v
}

// The balance of one window with every figure by hand: weight times fall, half of m·v²,
// rolling on the slope's cosine, drag at the air of the window's middle, the retarder's
// whole power. The low end takes twice the rolling, 1.5 times the drag and 1.35 times the
// retarder; 5 % of rotating parts count where they make the end wider.
func TestBalanceOfAWindowByHand(t *testing.T) {
	c := debriefClass(t)
	m, g := c.MassMaxKg, 9.80665
	const pct = 13.0
	in := Input{Descent: eastbound(0, 3000), Class: c, MassKg: m, Profile: straightRoad(3000, func(s float64) float64 { return 900 - pct/100*s })}
	for _, k := range []struct {
		name             string
		v0, v1           float64
		lowPart, hiPart  float64 // of the change of ½·m·v²
		timeS            float64
		distanceM, meanV float64
	}{
		{"steady", 10, 10, 1, 1, 5, 50, 10},
		{"slowing", 11, 9, 1, 1.05, 5, 50, 10},
		{"faster", 9, 11, 1.05, 1, 5, 50, 10},
	} {
		v := madeDrive([]float64{100, 105}, []float64{1000, 1050}, []float64{k.v0, k.v1})
		w := energyWindow{a: 0, b: 1, timeS: k.timeS}
		if !w.balance(&in, v, m) {
			t.Fatal("no balance")
		}
		fallM := pct / 100 * 50
		kinetic := 0.5 * m * (k.v0*k.v0 - k.v1*k.v1)
		rolling := m * g * c.Truck.RollingResistance * math.Sqrt(1-pct*pct/1e4) * 50
		square := (k.v0*k.v0 + k.v0*k.v1 + k.v1*k.v1) / 3 // mean of v² while v changes evenly
		drag := 0.5 * vehicle.AirDensityKgM3(900-pct/100*1025, nil) * c.Truck.DragAreaM2 * square * 50
		power := math.Max(c.Truck.TopWheelPower(6, k.v0, vehicle.AirAtBest()).AtW(1), c.Truck.TopWheelPower(6, k.v1, vehicle.AirAtBest()).AtW(1))
		near(t, k.name+": low", w.lowJ, m*g*fallM+k.lowPart*kinetic-2.0*rolling-1.5*drag-1.35*power*5, 10)
		near(t, k.name+": most", w.mostJ, m*g*fallM+k.hiPart*kinetic-rolling-drag, 10)
		near(t, k.name+": mean speed", w.speedMPS, 10, 1e-9)
	}
}

// The bound of a balance by hand: m·v·Δv at both ends; the weight times twice the places'
// scatter times the grade at both ends; the weight times the grade line's bound.
func TestBoundOfABalanceByHand(t *testing.T) {
	c := debriefClass(t)
	m, weightN := c.MassMaxKg, c.MassMaxKg*9.80665
	in := Input{Descent: eastbound(0, 3000), Class: c, Profile: straightRoad(3000, func(s float64) float64 { return 900 - 0.08*s })}
	v := madeDrive([]float64{100, 110}, []float64{1000, 1100}, []float64{10, 12})
	v.errMPS[0], v.errMPS[1], v.scatterM = 0.2, 0.3, 7
	hypot := func(parts ...float64) float64 {
		var sum float64
		for _, p := range parts {
			sum += p * p
		}
		return math.Sqrt(sum)
	}
	// The made road's bound over 100 m is 0.2 %.
	if got := in.Profile.MeanErrPct(1000, 1100); math.Abs(got-0.2) > 1e-9 {
		t.Fatalf("bound over 100 m %g", got)
	}
	want := hypot(m*10*0.2, m*12*0.3, weightN*2*7*0.08, weightN*2*7*0.08, weightN*0.2/100*100)
	near(t, "bound", balanceErrJ(&in, v, m, 0, 1), want, 1)
	v.pass[1].DistanceM = 1000.5 // less than a metre: a truck that stands
	near(t, "bound of a halt", balanceErrJ(&in, v, m, 0, 1), hypot(m*10*0.2, m*12*0.3, weightN*2*7*0.08, weightN*2*7*0.08), 1)
}

// The grade at a place is that over 10 m to each side, or twice the scatter: from a fall of
// 10 % to the level at 1,000 m the share that still falls, by hand.
func TestGradeAtAPlaceIsOverTheScatter(t *testing.T) {
	in := Input{Descent: eastbound(0, 3000), Class: debriefClass(t), Profile: straightRoad(3000, func(s float64) float64 { return 900 + 0.1*math.Max(0, 1000-s) })}
	for _, k := range []struct{ scatterM, atM, want float64 }{
		{0, 1005, 0.1 * 5 / 20}, {5, 1005, 0.1 * 5 / 20}, {8, 1005, 0.1 * 11 / 32}, {20, 1005, 0.1 * 35 / 80}, {0, 500, 0.1}, {0, 2000, 0},
		{0, 3, 0.1}, {0, 2997, 0}, // one-sided at the line's ends
	} {
		near(t, "grade", steepness(&in, &driven{scatterM: k.scatterM}, k.atM), k.want, 1e-9)
	}
}

// Windows last 5 s, or two of the recorder's steps, or as long as a speed is a mean over.
func TestWindowsOfABalance(t *testing.T) {
	for _, k := range []struct{ stepS, windowS, want float64 }{{1, 0, 5}, {0.5, 0, 5}, {2.5, 0, 5}, {3, 0, 6}, {4, 0, 8}, {1, 6, 6}, {1, 16, 16}} {
		in := steadyDrive(t, 6, 10, 6)
		in.Drive = drive(300, k.stepS, func(ts float64) (float64, float64) { return 10 * ts, 10 }, true)
		v, err := speedsOf(mustLay(t, &in), "")
		if err != nil {
			t.Fatal(err)
		}
		v.windowS = k.windowS
		list := energyWindows(&in, v, in.Class.MassMaxKg)
		for _, w := range list[:len(list)-1] {
			near(t, "window", w.timeS, k.want, 1e-6)
		}
	}
}

// The signal of the service brakes is believed where it is there for nine tenths of a
// window and there is a point at least every 1.5 s.
func TestWhenABrakeSignalIsBelieved(t *testing.T) {
	c := debriefClass(t)
	in := Input{Descent: eastbound(0, 3000), Class: c, Profile: straightRoad(3000, func(s float64) float64 { return 900 - 0.06*s })}
	for _, k := range []struct {
		stepS     float64
		points    int // of the window
		withIt    int
		isGap, on bool
		want      bool
	}{{0.25, 20, 20, false, false, true}, {0.25, 20, 18, false, true, true}, {0.25, 20, 17, false, false, false}, {0.25, 20, 20, true, false, false}, {1.5, 4, 4, false, true, true}, {1.55, 4, 4, false, false, false}} {
		var times, places, speeds []float64
		for i := range k.points + 1 {
			times, places, speeds = append(times, k.stepS*float64(i)), append(places, 10*k.stepS*float64(i)), append(speeds, 10)
		}
		v := madeDrive(times, places, speeds)
		v.sampleS = k.stepS
		for i := range k.withIt {
			v.pass[i].Fix.ServiceBrake = &k.on
		}
		w := energyWindow{b: k.points, timeS: times[k.points], isGap: k.isGap}
		w.balance(&in, v, c.MassMaxKg)
		if w.signal != k.want || w.applied != k.on || (w.mostJ == 0) != (k.want && !k.on) {
			t.Errorf("%+v: signal %v, applied %v, at most %.0f J", k, w.signal, w.applied, w.mostJ)
		}
		if want := map[bool]float64{true: k.stepS * float64(k.withIt)}[k.on]; math.Abs(appliedS(v, &w)-want) > 1e-9 {
			t.Errorf("%+v: on for %g s, want %g", k, appliedS(v, &w), want)
		}
	}
}

// An event is one from 50 kJ on: less prints as 0.0 MJ. The slowing at which one first
// shows is found by halving.
func TestTheLeastEventIsFiftyKilojoules(t *testing.T) {
	first := func(slow float64) (float64, bool) {
		at := func(ts float64) (float64, float64) {
			switch t1 := ts - 100; {
			case t1 < 0:
				return 12 * ts, 12
			case t1 < 5:
				return 1200 + 12*t1 - slow*t1*t1/2, 12 - slow*t1
			default:
				return 1260 - 12.5*slow + (12-5*slow)*(t1-5), 12 - 5*slow
			}
		}
		d, err := FromDrive(Input{Descent: eastbound(100, 1900), Class: debriefClass(t), MassKg: 36287, Drive: drive(180, 1, at, true),
			Profile: straightRoad(2400, func(s float64) float64 { return 900 - 0.03*s })})
		if err != nil {
			t.Fatal(err)
		}
		if len(d.Brakes.Events) == 0 {
			return 0, false
		}
		return d.Brakes.Events[0].AtLeastJ, true
	}
	none, some := 0.5, 1.7
	for range 24 {
		if _, ok := first((none + some) / 2); ok {
			some = (none + some) / 2
		} else {
			none = (none + some) / 2
		}
	}
	leastJ, _ := first(some)
	near(t, "the least event", leastJ, 50e3, 200)
}

// Heat follows the rating system's own formula and the drum's balance window by window,
// with cooling where nothing is known in between.
func TestHeatIsPutInWindowByWindow(t *testing.T) {
	c := debriefClass(t)
	b := c.Truck.ServiceBrakes
	model, err := holding.Severity()
	if err != nil {
		t.Fatal(err)
	}
	v := madeDrive([]float64{0, 100, 400, 500}, []float64{0, 1000, 4000, 5000}, []float64{10, 10, 10, 10})
	list := []energyWindow{
		{a: 0, b: 1, timeS: 100, speedMPS: 10, leastJ: 5e6, mostJ: 20e6},
		{a: 2, b: 3, timeS: 100, speedMPS: 10, leastJ: 10e6, mostJ: 40e6},
	}
	out := BrakeBalance{StartC: catalog.CFromF(model.StartTempF)}
	out.heat(c, &model, list, v)
	const mph, hp = 0.44704, 745.6998715822702 // international mile; 550 ft·lbf/s
	drum := b.Balance()
	airC := (model.AirTempF - 32) / 1.8
	severity := func(j1, j2 float64) (first, second float64) {
		V := 10 / mph
		f := model.TempF(model.StartTempF, j1/100/hp, V, V*100/3600, b.Count)
		first = f
		f = model.TempF(f, 0, 1, 300.0/3600, b.Count)
		return (first - 32) / 1.8, (model.TempF(f, j2/100/hp, V, V*100/3600, b.Count) - 32) / 1.8
	}
	balance := func(j1, j2 float64) float64 {
		n := float64(b.Count)
		k := drum.TempC(out.StartC, airC, j1/100/n, 10, 100)
		k = drum.TempC(k, airC, 0, 0, 300)
		return drum.TempC(k, airC, j2/100/n, 10, 100)
	}
	_, low := severity(5e6, 10e6)
	_, high := severity(20e6, 40e6)
	near(t, "severity at least", out.Severity.AtLeastC, low, 0.01)
	near(t, "severity at most", out.Severity.AtMostC, high, 0.01)
	near(t, "balance at least", out.Balance.AtLeastC, balance(5e6, 10e6), 0.01)
	near(t, "balance at most", out.Balance.AtMostC, balance(20e6, 40e6), 0.01)
	near(t, "hottest at", out.Severity.AtM, 5000, 1e-9)
	// The second window gives nothing: the first one's heat stays the highest.
	list[1].leastJ, list[1].mostJ = 0, 0
	out.heat(c, &model, list, v)
	high, _ = severity(20e6, 0)
	near(t, "severity at most, first", out.Severity.AtMostC, high, 0.01)
	near(t, "hottest at, first", out.Severity.AtM, 1000, 1e-9)
}

// In neutral with the engine at idle no retarder helps; in gear it gives its whole power,
// past the governed speed at the torque of there.
func TestMostOfTheRetarderAtAPoint(t *testing.T) {
	c := debriefClass(t)
	truck := &c.Truck
	top := truck.SpeedFromRPM(6, truck.EngineMaxRPM)
	atTop := truck.TopWheelPower(6, top, vehicle.AirAtBest()).AtW(1)
	best := 0.0
	for g := 1; g <= 10; g++ {
		best = math.Max(best, truck.TopWheelPower(g, 10, vehicle.AirAtBest()).AtW(1))
	}
	nan := math.NaN()
	for _, k := range []struct {
		name     string
		fix      routes.Fix
		speedMPS float64
		want     float64
	}{
		{"neutral, idling", routes.Fix{IsNeutral: true, EngineRPM: 700}, 10, 0},
		{"neutral, but the engine turns", routes.Fix{IsNeutral: true, EngineRPM: 1500}, 10, best},
		{"neutral at the lowest engine speed", routes.Fix{IsNeutral: true, EngineRPM: truck.EngineMinRPM}, 10, best},
		{"gear 6", routes.Fix{Gear: 6, EngineRPM: nan}, 10, truck.TopWheelPower(6, 10, vehicle.AirAtBest()).AtW(1)},
		{"gear 6, 10 % past its governed speed", routes.Fix{Gear: 6, EngineRPM: nan}, 1.1 * top, 1.1 * atTop},
		{"gear 6, slower than its band", routes.Fix{Gear: 6, EngineRPM: nan}, 1, truck.TopWheelPower(6, truck.SpeedFromRPM(6, truck.EngineMinRPM), vehicle.AirAtBest()).AtW(1)},
		{"top gear", routes.Fix{Gear: 10, EngineRPM: nan}, 25, truck.TopWheelPower(10, 25, vehicle.AirAtBest()).AtW(1)},
		{"a gear that the class has not", routes.Fix{Gear: 11, EngineRPM: nan}, 10, best},
		{"unknown", routes.Fix{EngineRPM: nan}, 10, best},
	} {
		near(t, k.name, retarderMostW(truck, &k.fix, k.speedMPS), k.want, 1)
	}
}

// Where nobody gave the mass, the low end is that of the lightest truck of the class, by
// hand; the high end stays the heaviest one's.
func TestLowEndWithoutAMassIsTheLightestTrucks(t *testing.T) {
	c := debriefClass(t)
	const pct = 13.0
	balance := func(givenKg, massKg float64) energyWindow {
		in := Input{Descent: eastbound(0, 3000), Class: c, MassKg: givenKg, Profile: straightRoad(3000, func(s float64) float64 { return 900 - pct/100*s })}
		v := madeDrive([]float64{100, 105}, []float64{1000, 1050}, []float64{11, 9})
		w := energyWindow{a: 0, b: 1, timeS: 5}
		if !w.balance(&in, v, massKg) {
			t.Fatal("no balance")
		}
		return w
	}
	open, light, heavy := balance(0, c.MassMaxKg), balance(c.MassMinKg, c.MassMinKg), balance(c.MassMaxKg, c.MassMaxKg)
	near(t, "low end", open.lowJ, light.lowJ, 1)
	near(t, "high end", open.mostJ, heavy.mostJ, 1)
	if light.lowJ > heavy.lowJ-1e5 {
		t.Errorf("the mass makes no difference here: %.0f and %.0f J", light.lowJ, heavy.lowJ)
	}
}
