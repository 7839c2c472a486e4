package holding

import (
	"fmt"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/terrain/synth"
)

// fullSlope is a hill with no span left out for being easier than another.
func fullSlope(t rapid.TB, h *Hill, o *Options) *slope {
	t.Helper()
	s, err := newSlope(h, o)
	if err != nil {
		t.Fatal(err)
	}
	s.isFull = true
	return s
}

// genSteepening draws a hill that gets steeper on its way down, by some share of how much an engine brake
// or the air's density gains there: what decides whether a span higher up can be left out.
func genSteepening(t *rapid.T) Hill {
	n := rapid.IntRange(2, 25).Draw(t, "intervals")
	h := Hill{StationM: []float64{0}, LocalErrPct: rapid.Float64Range(0, 1).Draw(t, "local bound"), GradeErrPct: rapid.Float64Range(0, 0.3).Draw(t, "bound")}
	crestM := rapid.Float64Range(0, vehicle.HighestM).Draw(t, "crest")
	pct, z := rapid.Float64Range(1, 8).Draw(t, "grade"), crestM
	for i := range n {
		lengthM := rapid.Float64Range(100, 4000).Draw(t, "length")
		if pct > 24 || z-pct/100*lengthM < vehicle.LowestM {
			break
		}
		h.StationM, h.DowngradePct = append(h.StationM, h.StationM[i]+lengthM), append(h.DowngradePct, pct)
		downM := pct / 100 * lengthM
		z -= downM
		pct *= 1 + downM*rapid.Float64Range(0, 1e-3).Draw(t, "steeper by")
	}
	if len(h.DowngradePct) == 0 {
		h.StationM, h.DowngradePct = []float64{0, 500}, []float64{1}
	}
	h.ElevationM = heightsFrom(h, crestM)
	return h
}

// genHighTruck draws a truck whose engine brake may lose anything at a height that files may state.
func genHighTruck(t *rapid.T) vehicle.Class {
	c := genClass(t)
	c.Truck.AltitudeFullM = rapid.Float64Range(0, 4000).Draw(t, "full to")
	c.Truck.AltitudeLossPctPerKM = rapid.Float64Range(0, 30).Draw(t, "loss")
	return c
}

func genTemp(t *rapid.T) *float64 {
	if !rapid.Bool().Draw(t, "warm") {
		return nil
	}
	tempC := rapid.Float64Range(vehicle.ColdestC, vehicle.HottestC).Draw(t, "temp")
	return &tempC
}

// No span that is left out is the hardest for any gear and speed.
func TestSpansLeftOutAreNeverTheHardest(t *testing.T) {
	fewer, n := 0, 0
	property := func(t *rapid.T) {
		c, h := genHighTruck(t), genSteepening(t)
		o := Options{TailwindMPS: calm, TempC: genTemp(t)}
		p, err := newProblem(&h, &c, o)
		if err != nil {
			t.Fatal(err)
		}
		full := *p
		full.slope = fullSlope(t, &h, &o)
		full.prepare()
		n++
		if len(p.long) < len(full.long) {
			fewer++
		}
		for gear := 1; gear <= c.Truck.GearCount(); gear++ {
			for _, share := range []float64{0, 0.5, 1} {
				v := c.Truck.SpeedFromRPM(gear, c.Truck.EngineMinRPM+share*(c.Truck.EngineMaxRPM-c.Truck.EngineMinRPM))
				if few, all := p.heaviestKg(gear, v), full.heaviestKg(gear, v); math.Abs(few-all) > 1e-12*all {
					t.Fatalf("gear %d at %.2f m/s: %.6f kg by %d spans, %.6f kg by all %d", gear, v, few, len(p.long), all, len(full.long))
				}
			}
		}
	}
	checkUntil(t, func() bool { return n >= 1000 }, property)
	if fewer < n/4 {
		t.Errorf("spans were left out in %d of %d cases", fewer, n)
	}
}

// genAnyHill draws a hill of any kind, some with bounds of longer means as a survey gives them.
func genAnyHill(t *rapid.T) Hill {
	h := genSteepening(t)
	if rapid.Bool().Draw(t, "uneven") {
		h = genHill(t, rapid.Bool().Draw(t, "heights"))
	}
	if rapid.Bool().Draw(t, "windows") {
		h.CellM = rapid.SampledFrom([]float64{10, 30, 90}).Draw(t, "cell")
		for _, lengthM := range windowsM {
			if lengthM >= h.LengthM() {
				break
			}
			w := WindowErr{LengthM: lengthM}
			for range h.DowngradePct {
				w.ErrPct = append(w.ErrPct, rapid.Float64Range(0, 2).Draw(t, "bound of a mean"))
			}
			h.Windows = append(h.Windows, w)
		}
	}
	return h
}

// isSameByAllSpans compares the advice of a hill with that for which no span is left out.
func isSameByAllSpans(t rapid.TB, h *Hill, c *vehicle.Class, o Options) {
	t.Helper()
	few, all := NewAdviser(*h), NewAdviser(*h)
	all.slope = fullSlope(t, &all.hill, &o)
	got, err := few.Advise(*c, o)
	if err != nil {
		t.Fatal(err)
	}
	want, err := all.Advise(*c, o)
	if err != nil {
		t.Fatal(err)
	}
	if !all.slope.isFull {
		t.Fatal("the full hill was not used")
	}
	// Where nothing is asked of a retarder, or altitude leaves it nothing, no place is the closest to its limit.
	for _, a := range []*catalog.Hold{&got, &want} {
		for i := range a.Gears {
			a.Gears[i].StationM = 0
		}
		if a.AvailablePowerW == 0 || a.DemandPowerW == 0 {
			a.AvailablePowerW, a.DemandPowerW = 0, 0
		}
	}
	if at := difference(reflect.ValueOf(got), reflect.ValueOf(want)); at != "" {
		t.Fatalf("%s: other than by all spans: %s", c.ID, at)
	}
}

// difference names the first place where two values of a type differ, numbers by more than rounding; empty
// where they don't.
func difference(a, b reflect.Value) string {
	if a.Kind() == reflect.Pointer && !a.IsNil() && !b.IsNil() {
		return difference(a.Elem(), b.Elem())
	}
	differ := !reflect.DeepEqual(a.Interface(), b.Interface())
	switch {
	case !differ:
		return ""
	case a.Kind() == reflect.Float64:
		differ = !(math.Abs(a.Float()-b.Float()) <= 1e-9*math.Abs(b.Float()))
	case a.Kind() == reflect.Struct:
		for i := range a.NumField() {
			if at := difference(a.Field(i), b.Field(i)); at != "" {
				return a.Type().Field(i).Name + " " + at
			}
		}
		return ""
	case a.Kind() == reflect.Slice && a.Len() == b.Len():
		for i := range a.Len() {
			if at := difference(a.Index(i), b.Index(i)); at != "" {
				return fmt.Sprintf("%d %s", i, at)
			}
		}
		return ""
	}
	if differ {
		return fmt.Sprintf("%v, not %v", a, b)
	}
	return ""
}

// Advice over the spans that can be the hardest is advice over all, in every figure and word.
func TestAdviceOverFewSpansIsAdviceOverAll(t *testing.T) {
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		c := genHighTruck(t)
		if rapid.Bool().Draw(t, "default class") {
			c = rapid.SampledFrom(classes).Draw(t, "class")
		}
		o := Options{TempC: genTemp(t), StopAtFoot: rapid.Bool().Draw(t, "foot stop")}
		if rapid.Bool().Draw(t, "loaded") {
			o.MassKg = rapid.Float64Range(c.MassMinKg, c.MassMaxKg).Draw(t, "mass")
		}
		if o.TempC == nil && rapid.Bool().Draw(t, "usual weather") {
			o.Weather = UsualWeather()
		}
		if rapid.Bool().Draw(t, "wind") {
			tailMPS := rapid.Float64Range(0, MostTailwindMPS).Draw(t, "tail wind")
			o.TailwindMPS = &tailMPS
		}
		if rapid.Bool().Draw(t, "other reserve") {
			o.ReservePct = rapid.Float64Range(LeastReservePct, MostReservePct).Draw(t, "reserve kept")
		}
		h := genAnyHill(t)
		isSameByAllSpans(t, &h, &c, o)
	})
}

// The same for drawn roads as a survey has them.
func TestAdviceOverFewSpansOfDrawnHills(t *testing.T) {
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	tempC, hills := -20.0, 0
	for _, o := range []synth.Options{{Seed: 640001, CellM: 10}, {Seed: 640002, CellM: 30}, {Seed: 640003, CellM: 90, Kind: synth.ShortSteepParts}} {
		list, err := keptDrawn(o)
		if err != nil {
			t.Fatal(err)
		}
		for i := range list {
			h := HillFromDescent(list[i].Profile, &list[i].Descent, nil)
			for k := range classes {
				isSameByAllSpans(t, &h, &classes[k], Options{Weather: UsualWeather()})
				isSameByAllSpans(t, &h, &classes[k], Options{TempC: &tempC, MassKg: classes[k].MassMinKg})
			}
			hills++
		}
	}
	if hills < 3 {
		t.Errorf("only %d hills", hills)
	}
}

// By hand: on the way down from A to B the engine brake gains 11 % and the air 3 %, to C 11 and 14 %. B is 4 %
// harder, C 11.5 %. So B is as hard as A by drag alone and C by the engine alone, and A is harder than
// either where both count.
func TestASpanThatOnlyTwoOthersTogetherOutdoStays(t *testing.T) {
	c := mustClass(t, "us-5axle")
	c.Truck.AltitudeFullM, c.Truck.AltitudeLossPctPerKM = 1500, 30
	crr := c.Truck.RollingResistance
	pctOf := func(times float64) float64 { return 100 * (crr + times*(.03-crr)) }
	spans := []span{{pct: pctOf(1), highM: 1833}, {pct: pctOf(1.04), highM: 1500}, {pct: pctOf(1.115), highM: 400}}
	l := newSlantList(spans, 0, nil)
	kept := l.addUndominated(nil, new([]stretch), &c.Truck)
	if len(kept) != 3 {
		t.Fatalf("%d kept", len(kept))
	}
	// Power that holds as much as the drag at some speed does.
	kg := func(s stretch) float64 {
		return (s.engineShare*kept[0].dragKgPerM/kept[0].engineShare + s.dragKgPerM) / s.pullMPS2
	}
	if a := kg(kept[0]); !(a < kg(kept[1]) && a < kg(kept[2])) {
		t.Errorf("A holds %g, B %g, C %g: A is not the hardest", a, kg(kept[1]), kg(kept[2]))
	}
}

// A usual truck's engine brake and the air grow by at most usualPerM of themselves with each metre down, at
// every height and in all air that advice is given for; and the height that counts by thinPerM metres, which
// is within 5 % of what it does.
func TestWhatAnEngineBrakeGainsOnTheWayDown(t *testing.T) {
	const stepM = 10.0
	most := 0.0
	for fullM := 0.0; fullM <= vehicle.HighestM; fullM += 500 {
		truck := vehicle.Truck{AltitudeFullM: fullM, AltitudeLossPctPerKM: usualLossPctPerKM}
		for tempC := vehicle.ColdestC - 5; tempC <= vehicle.HottestC; tempC += 5 {
			air := &tempC
			if tempC < vehicle.ColdestC {
				air = nil
			}
			at := func(highM float64) (s span, share float64) {
				s = span{highM: highM}
				s.setAir(air)
				return s, truck.EngineShare(max(s.highM, s.thinM))
			}
			for highM := vehicle.LowestM + stepM; highM <= vehicle.HighestM; highM += stepM {
				high, highShare := at(highM)
				low, lowShare := at(highM - stepM)
				most = max(most, (max(highM, high.thinM)-max(highM-stepM, low.thinM))/stepM)
				if low.airKgM3 > high.airKgM3*(1+usualPerM*stepM) || highShare >= usualShare && lowShare > highShare*(1+usualPerM*stepM) {
					t.Fatalf("from %g m down, full to %g m: share %g to %g, air %g to %g", highM, fullM, highShare, lowShare, high.airKgM3, low.airKgM3)
				}
			}
		}
	}
	if most > thinPerM || most < thinPerM/1.05 {
		t.Errorf("the height that counts falls by up to %g m a metre, thinPerM is %g", most, thinPerM)
	}
}

// Few spans are enough for every loss that a class file may state, down to half of an engine brake's power.
func TestUsualTrucks(t *testing.T) {
	for _, x := range []struct {
		lossPctPerKM, highM float64
		isUsual             bool
	}{
		{30, 1660, true}, {30, 1680, false}, // 1 − 1.66·.3 and 1 − 1.68·.3 of its power
		{10, 4990, true}, {10, 5010, false},
		{0, 6000, true}, {30.1, 0, false},
	} {
		truck := vehicle.Truck{AltitudeLossPctPerKM: x.lossPctPerKM}
		l := newSlantList([]span{{pct: 5, highM: x.highM}}, 0, nil)
		if l.isUsual(&truck) != x.isUsual {
			t.Errorf("%g %%/km at %g m: usual is %v", x.lossPctPerKM, x.highM, !x.isUsual)
		}
	}
	hotC := 40.0 // 4,000 m in such air are as thin as 5,650 in the standard atmosphere
	l := newSlantList([]span{{pct: 5, highM: 4000}, {pct: 8, highM: 3900}}, 0, &hotC)
	if truck := (vehicle.Truck{AltitudeLossPctPerKM: 10}); len(l.few) != 1 || l.isUsual(&truck) {
		t.Errorf("%d spans can be the hardest; usual in hot air is %v", len(l.few), l.isUsual(&truck))
	}
	c := mustClass(t, "us-5axle")
	c.Truck.AltitudeLossPctPerKM = 30
	if err := c.Validate(); err != nil {
		t.Errorf("30 %%/km: %v", err)
	}
	if c.Truck.AltitudeLossPctPerKM = 30.1; c.Validate() == nil {
		t.Error("a class file may state a loss of 30.1 %/km")
	}
}
