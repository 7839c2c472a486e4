package vehicle

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
)

// Counts, names and engine speeds are taken up to their ends and refused just beyond: a
// line of the file is wrong, not the truck.
func TestCountsAndNamesAreRefusedJustBeyondTheirEnds(t *testing.T) {
	falling := func(n int, first, last float64) (out []float64) {
		for i := range n {
			out = append(out, first*math.Pow(last/first, float64(i)/float64(max(1, n-1))))
		}
		return out
	}
	curve := func(from, to float64) Curve { return Curve{{RPM: from, PowerW: 1e5}, {RPM: to, PowerW: 2e5}} }
	for _, k := range []struct {
		name string
		set  func(c *Class)
		says string // "" where it is taken
	}{
		{"24 gears", func(c *Class) { c.Truck.GearRatios, c.Truck.GearNames = falling(24, 20, 1), nil }, ""},
		{"25 gears", func(c *Class) { c.Truck.GearRatios, c.Truck.GearNames = falling(25, 20, 1), nil }, "25 gears"},
		{"ratios from 40 to .2", func(c *Class) { c.Truck.GearRatios = falling(10, 40, 0.2) }, ""},
		{"a ratio of 41", func(c *Class) { c.Truck.GearRatios = falling(10, 41, 1) }, "not a possible ratio"},
		{"a ratio of .19", func(c *Class) { c.Truck.GearRatios = falling(10, 12, 0.19) }, "not a possible ratio"},
		{"two gears alike", func(c *Class) { c.Truck.GearRatios[4] = c.Truck.GearRatios[3] }, "is not below"},
		{"a name of 12 letters", func(c *Class) { c.Truck.GearNames[0] = strings.Repeat("l", 12) }, ""},
		{"a name of 13 letters", func(c *Class) { c.Truck.GearNames[0] = strings.Repeat("l", 13) }, "not a name on a lever"},
		{"400 rpm", func(c *Class) {
			c.Truck.EngineMinRPM, c.Truck.Retarders = 400, []Retarder{{Kind: EngineRetarder, Stages: []Curve{curve(400, 2100)}}}
		}, ""},
		{"390 rpm", func(c *Class) {
			c.Truck.EngineMinRPM, c.Truck.Retarders = 390, []Retarder{{Kind: EngineRetarder, Stages: []Curve{curve(390, 2100)}}}
		}, "engine_rpm_min"},
		{"3,990 to 4,000 rpm", func(c *Class) {
			c.Truck.EngineMinRPM, c.Truck.EngineMaxRPM, c.Truck.Retarders = 3990, 4000, []Retarder{{Kind: EngineRetarder, Stages: []Curve{curve(3990, 4000)}}}
		}, ""},
		{"to 4,050 rpm", func(c *Class) {
			c.Truck.EngineMaxRPM, c.Truck.Retarders = 4050, []Retarder{{Kind: EngineRetarder, Stages: []Curve{curve(1100, 4050)}}}
		}, "engine_rpm_max"},
		{"from 4,050 rpm", func(c *Class) {
			c.Truck.EngineMinRPM, c.Truck.EngineMaxRPM, c.Truck.Retarders = 4050, 4100, []Retarder{{Kind: EngineRetarder, Stages: []Curve{curve(4050, 4100)}}}
		}, "engine_rpm_min"},
		{"up to 395 rpm", func(c *Class) {
			c.Truck.EngineMinRPM, c.Truck.EngineMaxRPM, c.Truck.Retarders = 390, 395, []Retarder{{Kind: EngineRetarder, Stages: []Curve{curve(390, 395)}}}
		}, "engine_rpm_max"},
		{"an engine with no band", func(c *Class) { c.Truck.EngineMinRPM = c.Truck.EngineMaxRPM }, "not above"},
		{"a curve that begins too late", func(c *Class) { c.Truck.Retarders[0].Stages[0] = curve(1150, 2100) }, "extend the curve"},
		{"a curve that ends too early", func(c *Class) { c.Truck.Retarders[0].Stages[0] = curve(1100, 2090) }, "extend the curve"},
		{"a curve of one point", func(c *Class) { c.Truck.Retarders[0].Stages[0] = curve(1100, 2100)[:1] }, "two points"},
		{"a curve that stands still", func(c *Class) { c.Truck.Retarders[0].Stages[0] = curve(2100, 2100) }, "don't rise"},
		{"six axles in a group", func(c *Class) { c.Truck.Axles[1].Axles = 6 }, ""},
		{"seven axles in a group", func(c *Class) { c.Truck.Axles[1].Axles = 7 }, "a group of 7 axles"},
		{"no axle in a group", func(c *Class) { c.Truck.Axles[1].Axles, c.Truck.Axles[1].Brakes = 0, 0 }, "a group of 0 axles"},
		{"two brakes an axle", func(c *Class) { c.Truck.Axles[1].Brakes = 4 }, ""},
		{"five brakes on two axles", func(c *Class) { c.Truck.Axles[1].Brakes = 5 }, "5 service brakes on 2 axles"},
		{"no brake on a group", func(c *Class) { c.Truck.Axles[1].Brakes = 0 }, ""},
		{"16 axle groups", func(c *Class) { c.Truck.Axles = groups(16, c.MassMaxKg) }, ""},
		{"17 axle groups", func(c *Class) { c.Truck.Axles = groups(17, c.MassMaxKg) }, "17 axle groups"},
		{"loads .4 % short", func(c *Class) { c.Truck.Axles[2].LoadKg -= 0.004 * c.MassMaxKg }, ""},
		{"loads .51 % short", func(c *Class) { c.Truck.Axles[2].LoadKg -= 0.0051 * c.MassMaxKg }, "the groups carry"},
		{"loads .4 % over", func(c *Class) { c.Truck.Axles[2].LoadKg += 0.004 * c.MassMaxKg }, ""},
		{"loads .52 % over", func(c *Class) { c.Truck.Axles[2].LoadKg += 0.0052 * c.MassMaxKg }, "the groups carry"},
		{"empty loads 4.8 % over", func(c *Class) { c.Truck.Axles[1].EmptyKg += 0.048 * c.MassMinKg }, ""},
		{"empty loads 5.2 % over", func(c *Class) { c.Truck.Axles[1].EmptyKg += 0.052 * c.MassMinKg }, "kg empty"},
		{"empty heavier than full", func(c *Class) { c.Truck.Axles[0].EmptyKg = c.Truck.Axles[0].LoadKg + 1 }, "loaded"},
		{"retarded but not driven", func(c *Class) { c.Truck.Axles[0].Retarded = true }, "isn't driven"},
		{"driven but not retarded", func(c *Class) { c.Truck.Axles[1].Retarded = false }, "no driven group is retarded"},
		{"an id of 40 letters", func(c *Class) { c.ID = strings.Repeat("a", 40) }, ""},
		{"an id of 41 letters", func(c *Class) { c.ID = strings.Repeat("a", 41) }, "is not an id"},
		{"an id with a to z, 0 to 9", func(c *Class) { c.ID = "az-09" }, ""},
		{"an id with a letter before a", func(c *Class) { c.ID = "a`" }, "is not an id"},
		{"an id with a letter after z", func(c *Class) { c.ID = "a{" }, "is not an id"},
		{"an id with a sign before 0", func(c *Class) { c.ID = "a/" }, "is not an id"},
		{"an id with a sign after 9", func(c *Class) { c.ID = "a:" }, "is not an id"},
		{"a name of 3 letters", func(c *Class) { c.Name = "abc" }, ""},
		{"a name of 2 letters", func(c *Class) { c.Name = "ab" }, "name"},
		{"a name of 120 letters", func(c *Class) { c.Name = strings.Repeat("a", 120) }, ""},
		{"a name of 121 letters", func(c *Class) { c.Name = strings.Repeat("a", 121) }, "name"},
		{"1,000 kg empty", func(c *Class) { c.MassMinKg = 1000; clearEmpty(c) }, ""},
		{"999 kg empty", func(c *Class) { c.MassMinKg = 999; clearEmpty(c) }, "mass_min_kg"},
		{"200 t", func(c *Class) { heavy(c, 200000) }, ""},
		{"200.1 t", func(c *Class) { heavy(c, 200100) }, "mass_max_kg"},
		{"60 sources", func(c *Class) { c.Sources = sources(60) }, ""},
		{"61 sources", func(c *Class) { c.Sources = sources(61) }, "too many"},
		{"four retarders", func(c *Class) { c.Truck.Retarders = retarders(4) }, ""},
		{"five retarders", func(c *Class) { c.Truck.Retarders = retarders(5) }, "5 retarders"},
		{"air of 60 °C for the cooling", func(c *Class) { c.Truck.Retarders = retarders(1); c.Truck.Retarders[0].CoolingTempC = 60 }, ""},
		{"air of 62 °C for the cooling", func(c *Class) { c.Truck.Retarders = retarders(1); c.Truck.Retarders[0].CoolingTempC = 62 }, "cooling_temp_c"},
		{"shares to 99 %", func(c *Class) {
			c.Truck.Retarders = retarders(1)
			c.Truck.Retarders[0].StageSharePct = []float64{50, 99}
		}, "must rise"},
		{"a share of 0", func(c *Class) {
			c.Truck.Retarders = retarders(1)
			c.Truck.Retarders[0].StageSharePct = []float64{0, 100}
		}, "must rise"},
		{"two shares alike", func(c *Class) {
			c.Truck.Retarders = retarders(1)
			c.Truck.Retarders[0].StageSharePct = []float64{50, 50, 100}
		}, "must rise"},
		{"a stroke of 85 mm in an unknown chamber", func(c *Class) {
			c.Truck.ServiceBrakes.Chamber, c.Truck.ServiceBrakes.AdjustedStrokeM = "36", 0.082
		}, "0.082 m is impossible"},
	} {
		c := templateClass(t)
		k.set(&c)
		err := c.Validate()
		if k.says == "" && err != nil || k.says != "" && (err == nil || !strings.Contains(allOf(err), k.says)) {
			t.Errorf("%s: %v", k.name, err)
		}
	}
}

func allOf(err error) string {
	var all []string
	for _, f := range err.(Faults) {
		all = append(all, f.Error())
	}
	return strings.Join(all, "\n")
}

func groups(n int, massKg float64) []AxleGroup {
	out := make([]AxleGroup, n)
	for i := range out {
		out[i] = AxleGroup{Name: fmt.Sprint("group ", i), Axles: 1, LoadKg: massKg / float64(n), Brakes: 2, Driven: i == 1, Retarded: i == 1}
	}
	return out
}

func sources(n int) []FigureSource {
	out := make([]FigureSource, n)
	for i := range out {
		out[i] = FigureSource{Figure: "mass", Source: "weighed", Status: Statuses[0]}
	}
	return out
}

func retarders(n int) []Retarder {
	out := make([]Retarder, n)
	for i := range out {
		out[i] = Retarder{Kind: DrivelineRetarder, TorqueLimitNm: 3000, SustainedPowerW: 2e5, CoolingTempC: 40, StageSharePct: []float64{100}}
	}
	return out
}

func clearEmpty(c *Class) {
	for i := range c.Truck.Axles {
		c.Truck.Axles[i].EmptyKg = 0
	}
}

func heavy(c *Class, massKg float64) {
	c.MassMaxKg = massKg
	c.Truck.Axles = groups(8, massKg)
}

// Lever settings of 12 stages and curves of 64 points are read, more are refused.
func TestStagesAndPointsOfAFile(t *testing.T) {
	share := func(n int) string {
		s := make([]string, n)
		for i := range s {
			s[i] = fmt.Sprint(100 * (i + 1) / n)
		}
		return "stage_share_pct = [" + strings.Join(s, ", ") + "]"
	}
	points := func(n int) string {
		s := make([]string, n)
		for i := range s {
			s[i] = fmt.Sprintf("[%g, %d]", 1000+1200*float64(i)/float64(n-1), 100000+1000*i)
		}
		return "power_w_by_rpm = [" + strings.Join(s, ", ") + "]"
	}
	for _, k := range []struct {
		stages, points int
		says           string
	}{{12, 64, ""}, {13, 64, "over 12 stages"}, {12, 65, "65 points"}} {
		text := Template(catalog.Metric)
		from := strings.Index(text, "[[class.truck.retarder]]")
		to := from + 1 + strings.Index(text[from+1:], "\n[")
		text = text[:from] + "[[class.truck.retarder]]\nkind = \"engine\"\n" + points(k.points) + "\n" + share(k.stages) + "\n" + text[to:]
		_, _, err := ParseClasses("f", strings.NewReader(text))
		if k.says == "" && err != nil || k.says != "" && (err == nil || !strings.Contains(allOf(err), k.says)) {
			t.Errorf("%d stages, %d points: %v", k.stages, k.points, err)
		}
	}
}

// A file holds at most 200 classes and tells at most 50 faults.
func TestHowMuchAFileMayHold(t *testing.T) {
	for n, says := range map[int]string{200: "is missing", 201: "holds 201 classes"} {
		_, _, err := ParseClasses("f", strings.NewReader(strings.Repeat("[[class]]\n", n)))
		if err == nil || !strings.Contains(allOf(err), says) || n == 200 && len(err.(Faults)) != 50 {
			t.Errorf("%d classes: %v", n, err)
		}
	}
}

// A tyre's size is refused beyond what trucks have.
func TestSizesThatAreNoTruckTyres(t *testing.T) {
	for size, ok := range map[string]bool{
		"150/75R22.5": true, "148/75R22.5": false, "500/75R22.5": true, "505/75R22.5": false,
		"295/30R22.5": true, "295/29R22.5": false, "295/110R22.5": true, "295/112R22.5": false,
		"295/75R12": true, "295/75R11.5": false, "295/75R26": true, "295/75R26.5": false,
		"295/75": false, "R22.5": false, "x/75R22.5": false, "295/xR22.5": false, "295/75Rx": false,
	} {
		if r, err := RollingRadiusMFromTyreSize(size); (err == nil) != ok || ok && !(r > 0.1) {
			t.Errorf("%s: %g, %v", size, r, err)
		}
	}
}

// An engine speed is in its band to a rounding error at both ends, and gears below the
// lowest, above the highest, or stages of nothing give no power.
func TestTheBandOfAnEngine(t *testing.T) {
	k := templateClass(t).Truck
	for _, c := range []struct {
		rpm float64
		in  bool
	}{{1100, true}, {1099.9, false}, {2100, true}, {2100.1, false}} {
		v := k.SpeedFromRPM(6, c.rpm)
		if k.HasEngineSpeed(6, v) != c.in || (k.WheelPower(1, 6, v, Air{}).EngineW > 0) != c.in {
			t.Errorf("%g rpm: in the band %t", c.rpm, k.HasEngineSpeed(6, v))
		}
	}
	v := k.SpeedFromRPM(6, 1500)
	for _, c := range [][2]int{{0, 6}, {-1, 6}, {1, 0}, {1, 11}} {
		if w := k.WheelPower(c[0], c[1], v, Air{}); w != (WheelPower{}) {
			t.Errorf("stage %d, gear %d: %+v", c[0], c[1], w)
		}
	}
}

// A driveline retarder by hand: its torque times the shaft's speed up to its sustained
// power; in air above its stated temperature that in proportion to what is left to 100 °C, and
// to the density of the air.
func TestADrivelineRetarderByHand(t *testing.T) {
	k := Truck{GearRatios: []float64{2, 1}, FinalDrive: 3, RollingRadiusM: 0.5, DrivelineEfficiency: 0.9, EngineMinRPM: 500, EngineMaxRPM: 2500,
		Retarders: []Retarder{{Kind: DrivelineRetarder, TorqueLimitNm: 3000, SustainedPowerW: 250000, CoolingTempC: 30, StageSharePct: []float64{50, 100}}}}
	air := func(c float64) *float64 { return &c }
	for _, c := range []struct {
		stage    int
		speedMPS float64
		tempC    *float64
		want     float64
		isBound  bool
	}{
		{1, 10, nil, 0.5 * 3000 * 60, false}, {2, 10, nil, 3000 * 60, false}, {2, 15, nil, 250000, true}, {1, 15, nil, 0.5 * 3000 * 90, false},
		{2, 15, air(30), 250000, true}, {2, 15, air(44), 200000 * 303.15 / 317.15, true}, {2, 15, air(65), 125000 * 303.15 / 338.15, true}, {2, 15, air(100), 0, true}, {2, 15, air(110), 0, true},
	} {
		w := k.WheelPower(c.stage, 2, c.speedMPS, AirAt(0, c.tempC))
		near(t, "driveline, W", w.DrivelineW, c.want, 1e-6*c.want)
		if w.SustainedBound != c.isBound || w.EngineW != 0 {
			t.Errorf("%+v: %+v", c, w)
		}
		near(t, "with the engine's share", WheelPower{EngineW: 1000, DrivelineW: w.DrivelineW}.AtW(0.8), 800+w.DrivelineW, 1e-9)
	}
	if k.StageCount() != 2 {
		t.Errorf("%d stages", k.StageCount())
	}
	// An engine brake with half of the driveline's losses, by hand: 100 kW·(1 + ½·0.1).
	k.Retarders = append(k.Retarders, Retarder{Kind: EngineRetarder, Stages: []Curve{{{500, 1e5}, {2500, 1e5}}}})
	w := k.WheelPower(3, 2, 10, Air{})
	near(t, "engine, W", w.EngineW, 105000, 1e-6)
	near(t, "driveline at its top, W", w.DrivelineW, 180000, 1e-6)
	if k.StageCount() != 3 || k.WheelPower(1, 2, 10, Air{}).DrivelineW != 0 {
		t.Errorf("%d stages", k.StageCount())
	}
}

// Where drum linings and disc pads begin to fade, and where they work without loss: 600,
// 200 and 400 °F (common practice); 500 and 400 °C for pads (from memory). What poor
// linings keep: two thirds.
func TestWhereLiningsFade(t *testing.T) {
	drum, disc := ServiceBrakes{Kind: DrumBrakes, PoorLining: true}, ServiceBrakes{Kind: DiscBrakes, PoorLining: true}
	near(t, "drum fades from", drum.FadeFromC(), 315.5556, 1e-3)
	near(t, "disc fades from", disc.FadeFromC(), 500, 1e-9)
	near(t, "drum works from", WorkingFromC, 93.3333, 1e-3)
	near(t, "drum works to", drum.WorkingToC(), 204.4444, 1e-3)
	near(t, "disc works to", disc.WorkingToC(), 400, 1e-9)
	for _, k := range []struct {
		b     ServiceBrakes
		tempC float64
		want  float64
	}{{drum, 315, 1}, {drum, 316, 0.66667}, {disc, 499, 1}, {disc, 500, 0.66667}, {ServiceBrakes{}, 600, 1}} {
		near(t, "lining", k.b.LiningShare(k.tempC), k.want, 1e-5)
	}
}

// A disc of .43 m cools on both faces of the ring from .55 of its diameter outward and as
// much again in its vents: twice 2·π/4·.43²·(1 − .55²). Snubs by hand: from 20 to 17 m/s
// with 36 t are 2 MJ.
func TestDiscsAndSnubsByHand(t *testing.T) {
	d := RotorBalance{MassKg: 33, DiameterM: 0.43, IsDisc: true}
	near(t, "area, m²", d.areaM2(), 2*2*math.Pi/4*0.43*0.43*(1-0.3025), 1e-9)
	kinetic := 0.5 * 36000 * (400.0 - 289)
	s := d.SnubOf(36000, 20, 3, 100000, 10)
	near(t, "period, s", s.PeriodS, kinetic/100000, 1e-9)
	near(t, "rise, °C", s.RiseC, 0.95*kinetic/10/(33*500), 1e-9)
	near(t, "mean, W", s.MeanW, 10000, 1e-9)
	if got := d.SnubOf(36000, 20, 3, 0, 10); got != (Snub{}) {
		t.Errorf("nothing to take: %+v", got)
	}
}
