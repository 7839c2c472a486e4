package holding

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// Hotter air is never faster: less air resistance, less of the engine brake, less cooling.
// Below 15 °C cold air makes an engine brake stronger, which grip may mind.
func TestHotterIsNeverFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h, o := genHill(t, rapid.Bool().Draw(t, "heights")), genOptions(t, c)
		warm := rapid.Float64Range(15, 55).Draw(t, "warm")
		hot := rapid.Float64Range(warm, 60).Draw(t, "hot")
		o.TempC = &warm
		a := advise(t, h, c, o)
		o.TempC = &hot
		b := advise(t, h, c, o)
		slower(t, "hotter", a, b)
		if a.LimitedBy != catalog.LimitFriction && b.HeaviestMassKg > a.HeaviestMassKg*(1+1e-9) {
			t.Fatalf("hotter: %.3f kg hold, before %.3f kg", b.HeaviestMassKg, a.HeaviestMassKg)
		}
	})
}

// Air of the standard temperature is the standard atmosphere: it changes nothing but where
// it is colder or hotter.
func TestStandardTemperatureChangesNothing(t *testing.T) {
	c := mustClass(t, "ca-tridem")
	standard := 15 - 0.0065*2000
	high := 2000.0
	for _, pct := range []float64{5, 7, 9} {
		a, b := advise(t, PlainHill(pct, 5000), c, Options{AltitudeM: &high}), advise(t, PlainHill(pct, 5000), c, Options{AltitudeM: &high, TempC: &standard})
		if a.Gear != b.Gear || a.SpeedMPS != b.SpeedMPS || math.Abs(a.HeaviestMassKg-b.HeaviestMassKg) > 1e-3*a.HeaviestMassKg {
			t.Errorf("%g %%: %s at %.2f m/s up to %.0f kg, at the standard temperature %s at %.2f m/s up to %.0f kg", pct, a.GearName, a.SpeedMPS, a.HeaviestMassKg, b.GearName, b.SpeedMPS, b.HeaviestMassKg)
		}
	}
}

// By hand: at 2,500 m in air of 35 °C the density is 74.68 kPa/(287.05·308.15 K), which the
// standard atmosphere has at 3,711 m; the engine brake there keeps 1 − 2.211·9.84 %.
func TestHotAirWeakensAnEngineBrakeByHand(t *testing.T) {
	c := mustClass(t, "us-5axle")
	high, hot := 2500.0, 35.0
	h := PlainHill(7, 5000)
	p, err := newProblem(&h, &c, Options{AltitudeM: &high, TempC: &hot})
	if err != nil {
		t.Fatal(err)
	}
	want := 1 - (3711.0-1500)/1000*0.0984
	for _, s := range p.long {
		if math.Abs(s.engineShare-want) > 0.01*want {
			t.Errorf("%.4f of the engine brake, by hand %.4f", s.engineShare, want)
		}
	}
}

// The words name the assumed wind and tyres, cold oil and the coolant; in calm air they say so.
func TestWordsNameHeatColdAndWind(t *testing.T) {
	c, cold := mustClass(t, "eu-5axle"), -10.0
	h := advise(t, PlainHill(8, 5000), c, Options{TempC: &cold})
	for _, want := range []string{"oil above 30 °C", "cuts itself back", "Near freezing"} {
		if !hasCaution(&h, want) {
			t.Errorf("nothing says %q: %q", want, h.Cautions)
		}
	}
	h = advise(t, PlainHill(6, 5000), c, Options{})
	if !strings.Contains(h.Words.Metric, "a tail wind of 18 km/h and tyres that roll easily are assumed") || !strings.Contains(h.Words.US, "a tail wind of 11 mph") {
		t.Errorf("words: %s | %s", h.Words.Metric, h.Words.US)
	}
	if h := advise(t, PlainHill(6, 5000), c, Options{TailwindMPS: calm}); !strings.Contains(h.Words.Metric, "calm air and tyres") {
		t.Errorf("calm: %s", h.Words.Metric)
	}
	mild := advise(t, PlainHill(8, 5000), mustClass(t, "us-5axle"), Options{})
	if hasCaution(&mild, "oil") || hasCaution(&mild, "coolant") {
		t.Errorf("a mild day without a retarder on the coolant: %q", mild.Cautions)
	}
	high := 2500.0
	defaults := strings.Join(advise(t, PlainHill(8, 5000), c, Options{AltitudeM: &high}).Defaults, "\n")
	for _, want := range []string{"tail wind = 5 m/s (11 mph, 18 km/h", "rolling resistance = 0.0053", "in air of 40 °C the engine brake gives up to 15 % less", "for air of up to 40 °C"} {
		if !strings.Contains(defaults, want) {
			t.Errorf("nothing says %q in %s", want, defaults)
		}
	}
}

// More wind from behind is never faster.
func TestMoreTailwindIsNeverFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h, o := genHill(t, rapid.Bool().Draw(t, "heights")), genOptions(t, c)
		less := rapid.Float64Range(0, MostTailwindMPS).Draw(t, "wind")
		more := rapid.Float64Range(less, MostTailwindMPS).Draw(t, "more")
		o.TailwindMPS = &less
		a := advise(t, h, c, o)
		o.TailwindMPS = &more
		slower(t, "more tail wind", a, advise(t, h, c, o))
	})
}

// The wind by hand: from 5 m/s behind, a truck at 20 m/s meets the air that it meets at 15
// m/s in a calm; at 3 m/s in a gale of 18 m/s it is pushed by ½·1.4·11.7·15².
func TestTheWindByHand(t *testing.T) {
	c := mustClass(t, "us-5axle")
	h := PlainHill(6, 5000)
	p, err := newProblem(&h, &c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if a := p.airflowAt(20); math.Abs(a.v2-225) > 1e-9 || a.pushN != 0 {
		t.Errorf("at 20 m/s: %+v", a)
	}
	gale := 18.0
	if p, err = newProblem(&h, &c, Options{TailwindMPS: &gale}); err != nil {
		t.Fatal(err)
	}
	if a := p.airflowAt(3); a.v2 != 0 || math.Abs(a.pushN-1843) > 0.02*1843 {
		t.Errorf("pushed: %+v", a)
	}
	// 6 m/s, by the balance: engine force at 1,800 rpm less the reserve, less the push, over the pull.
	gear := 4
	v := c.Truck.SpeedFromRPM(gear, 1500)
	theta := math.Atan(0.06)
	pull := 9.80665 * (math.Sin(theta) - 0.0053*math.Cos(theta))
	force := 0.85 * 194500 * (1 + 0.05/2) / v
	push := 1.4 / 2 * 11.7 * (18 - v) * (18 - v)
	want := (force - push) / pull
	if got := p.heaviestKg(gear, v); math.Abs(got-want) > 0.01*want {
		t.Errorf("gear %d at %.2f m/s: %.0f kg, by hand %.0f kg", gear, v, got, want)
	}
}

// A truck with a retarder in the thin air of 3,000 m: its cooling there carries .692 of what it
// does at sea level, so it holds on a grade of so much less of its power.
func TestCoolingAtAltitudeByHand(t *testing.T) {
	c := mustClass(t, "us-5axle")
	c.Truck.Retarders = []vehicle.Retarder{{Kind: vehicle.DrivelineRetarder, TorqueLimitNm: 20000, SustainedPowerW: 300e3, CoolingTempC: 40, CoolingRPM: 2100, StageSharePct: []float64{100}}}
	high := 3000.0
	h := PlainHill(6, 5000)
	p, err := newProblem(&h, &c, Options{AltitudeM: &high, TailwindMPS: calm})
	if err != nil {
		t.Fatal(err)
	}
	const gear = 5
	v := c.Truck.SpeedFromRPM(gear, 1575) // three quarters of 2,100 rpm
	theta := math.Atan(0.06)
	pull := 9.80665 * (math.Sin(theta) - 0.0053*math.Cos(theta))
	rho := 1.225 * math.Pow(1-2.25577e-5*high, 4.25588)
	want := (0.85*300e3*0.692*0.75/v + rho/2*5*v*v) / pull
	if got := p.heaviestKg(gear, v); math.Abs(got-want) > 0.01*want {
		t.Errorf("%.0f kg, by hand %.0f kg", got, want)
	}
}

// The figures of the weather, each within 2 %, so that a change of 5 % fails.
func TestTheConstantsOfTheWeather(t *testing.T) {
	for what, c := range map[string][2]float64{"tail wind, m/s": {TailwindMPS, 5}, "gale, m/s": {MostTailwindMPS, 20.7}, "back, m²": {pushAreaM2, 11.7}, "cold oil, °C": {ColdOilC, 5}, "ice, °C": {NearIceC, 3}} {
		if math.Abs(c[0]-c[1]) > 0.02*c[1] {
			t.Errorf("%s: %g, was %g", what, c[0], c[1])
		}
	}
	c := mustClass(t, "us-5axle")
	for _, w := range []float64{-0.1, 20.8, math.NaN()} {
		if _, err := Advise(PlainHill(6, 1000), c, Options{TailwindMPS: &w}); err == nil {
			t.Errorf("a tail wind of %g m/s is taken", w)
		}
	}
}

// Advice for a weather is that of its unsafe ends: as much power as in its hottest air, grip as in
// its coldest, and its wind. Answers for it name it.
func TestAdviceForAWeatherTakesItsUnsafeEnds(t *testing.T) {
	c := mustClass(t, "eu-6axle-44t")
	high := 2500.0
	w := catalog.Weather{ColdestC: -10, HottestC: 45, TailwindMPS: 9}
	wide, hot, cold := Options{AltitudeM: &high, Weather: &w}, Options{AltitudeM: &high, TempC: &w.HottestC, TailwindMPS: &w.TailwindMPS}, Options{AltitudeM: &high, TempC: &w.ColdestC, TailwindMPS: &w.TailwindMPS}
	held := 0
	for _, pct := range []float64{3, 4, 5, 6, 7, 8} {
		h := PlainHill(pct, 5000)
		a, b, k := advise(t, h, c, wide), advise(t, h, c, hot), advise(t, h, c, cold)
		if a.SpeedMPS > b.SpeedMPS || a.SpeedMPS > k.SpeedMPS {
			t.Errorf("%g %%: %.2f m/s, in its hottest air %.2f, in its coldest %.2f", pct, a.SpeedMPS, b.SpeedMPS, k.SpeedMPS)
		}
		if a.Holds && b.Holds && math.Abs(a.HeaviestMassKg-b.HeaviestMassKg) > 1e-6*b.HeaviestMassKg {
			t.Errorf("%g %%: %.0f kg, in its hottest air %.0f", pct, a.HeaviestMassKg, b.HeaviestMassKg)
		}
		if a.Holds && k.Holds && a.Gear == k.Gear && a.SpeedMPS == k.SpeedMPS && a.Stage == k.Stage && math.Abs(a.FrictionApplied-k.FrictionApplied) > 1e-6 && a.MassLightKg == k.MassLightKg {
			t.Errorf("%g %%: a friction of %.4f, in its coldest air %.4f", pct, a.FrictionApplied, k.FrictionApplied)
		}
		if a.Holds {
			held++
		}
		if a.Weather == nil || *a.Weather != w || !hasCaution(&a, "10 to 45 °C, wind from behind up to 32 km/h. In other weather get advice for that") {
			t.Errorf("%g %%: for %v, %q", pct, a.Weather, a.Cautions)
		}
	}
	if held < 3 {
		t.Errorf("only %d are held", held)
	}
	if h := advise(t, PlainHill(6, 5000), c, Options{}); h.Weather != nil {
		t.Errorf("the standard atmosphere: %v", h.Weather)
	}
}

// The usual weather is 0 to 40 °C and a gentle breeze, each within 2 % of its figure.
func TestUsualWeather(t *testing.T) {
	if w := UsualWeather(); w.ColdestC != 0 || math.Abs(w.HottestC-40) > 0.8 || w.TailwindMPS != TailwindMPS {
		t.Errorf("%+v", *w)
	}
	for _, c := range []struct {
		temperature, tailwind string
		isOfOneDay            bool
		want                  catalog.Weather
	}{
		{"35C", "", false, catalog.Weather{ColdestC: 0, HottestC: 35, TailwindMPS: 5}},
		{"-20C", "", false, catalog.Weather{ColdestC: -20, HottestC: 40, TailwindMPS: 5}},
		{"35C", "0km/h", true, catalog.Weather{ColdestC: 35, HottestC: 35, TailwindMPS: 0}},
		{"", "8m/s", false, catalog.Weather{ColdestC: 0, HottestC: 40, TailwindMPS: 8}},
		{"-20C..15C", "8m/s", true, catalog.Weather{ColdestC: -20, HottestC: 15, TailwindMPS: 8}},
	} {
		if w, err := ReadWeather(c.temperature, c.tailwind, c.isOfOneDay); err != nil || *w != c.want {
			t.Errorf("%q, %q: %v, %v", c.temperature, c.tailwind, w, err)
		}
	}
	for _, c := range [][2]string{{"70C", ""}, {"-60C", ""}, {"35", ""}, {"", "30m/s"}, {"", "5"}, {"20C..10C", ""}} {
		if w, err := ReadWeather(c[0], c[1], false); err == nil {
			t.Errorf("%q, %q is taken as %v", c[0], c[1], *w)
		}
	}
}
