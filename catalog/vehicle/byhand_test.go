package vehicle

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
)

// What altitude leaves of an engine brake, by hand from the figures of the file: all up to
// 1,500 m, 9.84 % less for each kilometre above, never under nothing.
func TestAltitudeByHand(t *testing.T) {
	k := Truck{AltitudeFullM: 1500, AltitudeLossPctPerKM: 9.84}
	for elevationM, want := range map[float64]float64{-400: 1, 0: 1, 1500: 1, 1600: 0.99016, 2500: 0.9016, 3500: 0.8032, 12000: 0} {
		near(t, "share", k.EngineShare(elevationM), want, 1e-9)
	}
	for elevationM, known := range map[float64]bool{-1000: true, -1010: false, 11000: true, 11050: false} {
		if math.IsNaN(AirDensityKgM3(elevationM, nil)) == known {
			t.Errorf("air at %g m: %g", elevationM, AirDensityKgM3(elevationM, nil))
		}
	}
}

// Friction that retarding may use: two thirds of .60, .35, .18 and .08 on dry and wet road,
// packed snow and ice (from memory).
func TestFrictionThatRetardingMayUse(t *testing.T) {
	want := map[string]float64{"dry": 0.4, "wet": 0.7 / 3, "packed snow": 0.12, "ice": 0.16 / 3}
	for i, s := range Surfaces {
		near(t, s.Name, AllowedFriction(i), want[s.Name], 1e-9)
	}
	if len(Surfaces) != len(want) {
		t.Errorf("%d surfaces", len(Surfaces))
	}
	near(t, "dry", DryFriction(), 0.4, 1e-9)
}

// Side friction between the speeds of the table is linear: on a radius at which the speed
// half way is the answer, v² = f·g·R with the mean of both figures; below 40 km/h and above
// 110 km/h those of the ends.
func TestSideFrictionBetweenTheSpeedsOfTheTable(t *testing.T) {
	for kmh, f := range map[float64]float64{30: .17, 45: .165, 55: .155, 65: .1475, 75: .1425, 85: .135, 95: .125, 105: .115, 130: .11} {
		v := kmh / 3.6
		got, _ := CurveSpeedMPS(v*v/(f*9.80665), 1)
		near(t, "curve speed, km/h", got*3.6, kmh, 1e-6)
	}
}

// The trade press has .0605 in of growth for a drum of 16.5 in that is 600 °F hotter than
// cold; ¼ in of stroke for each .020 in.
func TestGrowthAndStrokeOfTheTradePress(t *testing.T) {
	near(t, "growth, in", DrumGrowthM(16.5*0.0254, 20+600/1.8, 20)/0.0254, 0.0605, 0.0002)
	near(t, "stroke, in", PushrodStrokeM(2*0.0254, 0.04*0.0254)/0.0254, 2.5, 1e-9)
	near(t, "colder than cold", DrumGrowthM(0.42, 10, 20), 0, 0)
}

// The highest torque of a band lies inside it where the curve peaks there: 100 kW at
// 1,500 rpm are 636.6 Nm, more than 90 kW at 1,400 (613.9) or at 1,700 rpm (505.5). Between points the torque is
// linear where that gives more.
func TestTheHighestTorqueOfABand(t *testing.T) {
	c := Curve{{1000, 5e4}, {1400, 9e4}, {1500, 1e5}, {1700, 9e4}, {2100, 8e4}}
	perRPM := 30 / math.Pi
	for _, k := range []struct{ from, to, want float64 }{
		{1400, 1700, 1e5 / 1500 * perRPM}, {1500, 1700, 1e5 / 1500 * perRPM}, {1550, 1700, (0.75*1e5/1500 + 0.25*9e4/1700) * perRPM}, {1700, 2100, 9e4 / 1700 * perRPM}, {500, 900, 5e4 / 1000 * perRPM}, {2200, 2500, 8e4 / 2100 * perRPM},
	} {
		near(t, "torque, Nm", c.mostTorqueNm(k.from, k.to), k.want, 0.003*k.want)
	}
	if got := (Curve{}).mostTorqueNm(1000, 2000); got != 0 {
		t.Errorf("no curve: %g", got)
	}
}

// What a file leaves out is told with its figure and unit; a driveline retarder is as strong
// as its file says, an engine brake up to 15 % stronger.
func TestDefaultsOfRetardersAndDiscs(t *testing.T) {
	text := Template(catalog.Metric)
	from := strings.Index(text, "[[class.truck.retarder]]")
	to := from + 1 + strings.Index(text[from+1:], "\n[")
	text = text[:from] + "[[class.truck.retarder]]\nkind = \"engine\"\npower_w_by_rpm = [[1000, 100000], [2200, 300000]]\n[[class.truck.retarder]]\nkind = \"driveline\"\ntorque_limit_nm = 3000\nsustained_power_w = 300000\n" + text[to:]
	if i := strings.Index(text, "[class.truck.service_brakes]"); i < 0 {
		t.Fatal("the template has no service brakes")
	} else {
		text = text[:i] + "[class.truck.service_brakes]\nkind = \"disc\"\n"
	}
	classes, defaults, err := ParseClasses("f", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	k := classes[0].Truck
	near(t, "the engine brake's strongest, %", k.Retarders[0].StrongestPct, 115, 1e-9)
	near(t, "the driveline retarder's, %", k.Retarders[1].StrongestPct, 100, 1e-9)
	near(t, "cooling", k.Retarders[1].CoolingTempC, 40, 1e-9)
	near(t, "cooling, rpm", k.Retarders[1].CoolingRPM, k.EngineMaxRPM, 1e-9)
	near(t, "disc, m", k.ServiceBrakes.DiscDiameterM, 0.43, 1e-9)
	near(t, "disc, kg", k.ServiceBrakes.DiscMassKg, 33, 1e-9)
	told := map[string]string{}
	for _, d := range defaults {
		told[d.Figure] = d.Value
	}
	for key, want := range map[string]string{"truck.retarder[1].cooling_temp_c": "40 °C", "truck.retarder[1].cooling_rpm": "2100 rpm", "truck.service_brakes.disc_mass_kg": "33 kg", "truck.retarder[0].stage_share_pct": "100 %"} {
		if told[key] != want {
			t.Errorf("%s is told as %q, want %q", key, told[key], want)
		}
	}
	labels := k.LeversAt(1)
	if len(labels) != 2 || labels[0].Retarder != "engine brake" || labels[1].Retarder != "driveline retarder" {
		t.Errorf("%+v", labels)
	}
	k.Retarders[0].Name = "Brake A"
	if got := k.LeversAt(1)[0].Retarder; got != "Brake A" {
		t.Errorf("%q", got)
	}
}

// Of the holds of a descent those are stale whose class has other figures now; a class that
// is not known now is not judged.
func TestWhichHoldsAreStale(t *testing.T) {
	now := map[string]string{"a": "1", "b": "2", "d": "2:9"}
	for _, k := range []struct {
		holds []catalog.Hold
		says  string
	}{
		{[]catalog.Hold{{Class: "a", ClassFigures: "1"}, {Class: "b", ClassFigures: "2"}}, ""},
		{[]catalog.Hold{{Class: "a", ClassFigures: "0"}, {Class: "b", ClassFigures: "2"}}, "weight class a has now"},
		{[]catalog.Hold{{Class: "a", ClassFigures: "0"}, {Class: "b", ClassFigures: "0"}}, "weight class a, b has now"},
		{[]catalog.Hold{{Class: "c", ClassFigures: "0"}}, ""},
		{[]catalog.Hold{{Class: "d", ClassFigures: "2:9"}}, ""},
		{[]catalog.Hold{{Class: "d", ClassFigures: "9"}}, "weight class d was made under other rules"},
		{[]catalog.Hold{{Class: "d", ClassFigures: "3:9"}}, "weight class d was made under other rules"},
		{[]catalog.Hold{{Class: "d", ClassFigures: "2:8"}}, "weight class d has now"},
		{[]catalog.Hold{{Class: "d", ClassFigures: ""}}, "weight class d has now"},
	} {
		if got := WhyAnyStale(k.holds, now); (got == "") != (k.says == "") || !strings.Contains(got, k.says) {
			t.Errorf("%+v: %q", k.holds, got)
		}
	}
}
