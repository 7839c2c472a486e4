package vehicle

import (
	"math"
	"slices"
	"strings"
	"testing"

	"gradeline/catalog"
)

func templateClass(t *testing.T) Class {
	t.Helper()
	classes, _, err := ParseClasses("template", strings.NewReader(Template(catalog.Metric)))
	if err != nil {
		t.Fatal(err)
	}
	return classes[0]
}

// Each figure of a class is taken up to its stated ends and refused two per cent beyond:
// beyond them it is a slip of the pen.
func TestFiguresAreRefusedJustBeyondTheirEnds(t *testing.T) {
	for _, k := range []struct {
		name   string
		set    func(c *Class, v float64)
		lo, hi float64 // 0: that end is another check's
	}{
		{"speed_max_mps", func(c *Class, v float64) { c.SpeedMaxMPS = v }, 5, 40},
		{"rollover_share", func(c *Class, v float64) { c.RolloverShare = v }, 0.15, 1},
		{"final_drive", func(c *Class, v float64) { c.Truck.FinalDrive = v }, 1, 15},
		{"rolling_radius_m", func(c *Class, v float64) { c.Truck.RollingRadiusM = v }, 0.25, 0.8},
		{"driveline_efficiency", func(c *Class, v float64) { c.Truck.DrivelineEfficiency = v }, 0.7, 1},
		{"rolling_resistance", func(c *Class, v float64) { c.Truck.RollingResistance = v }, 0.002, 0.02},
		{"drag_area_m2", func(c *Class, v float64) { c.Truck.DragAreaM2 = v }, 1, 15},
		{"reserve_pct", func(c *Class, v float64) { c.Truck.ReservePct = v }, 5, 60},
		{"altitude_full_m", func(c *Class, v float64) { c.Truck.AltitudeFullM = v }, 0, 6000},
		{"altitude_loss", func(c *Class, v float64) { c.Truck.AltitudeLossPctPerKM = v }, 0, 30},
		{"strongest_pct", func(c *Class, v float64) { c.Truck.Retarders[0].StrongestPct = v }, 100, 200},
		{"adjusted_stroke_m", func(c *Class, v float64) { c.Truck.ServiceBrakes.AdjustedStrokeM = v }, 0.01, 2.5 * catalog.InchM},
		{"drum_diameter_m", func(c *Class, v float64) { c.Truck.ServiceBrakes.DrumDiameterM = v }, 0.2, 0.6},
		{"drum_mass_kg", func(c *Class, v float64) { c.Truck.ServiceBrakes.DrumMassKg = v }, 10, 120},
		{"disc_mass_kg", func(c *Class, v float64) {
			c.Truck.ServiceBrakes = ServiceBrakes{Count: 10, Kind: DiscBrakes, DiscDiameterM: 0.43, DiscMassKg: v}
		}, 10, 120},
		{"disc_diameter_m", func(c *Class, v float64) {
			c.Truck.ServiceBrakes = ServiceBrakes{Count: 10, Kind: DiscBrakes, DiscDiameterM: v, DiscMassKg: 33}
		}, 0.2, 0.6},
		{"brakes", func(c *Class, v float64) { c.Truck.ServiceBrakes.Count = int(math.Round(v)) }, 2, 64},
		{"least power of a curve", func(c *Class, v float64) { c.Truck.Retarders[0].Stages[0][0].PowerW = v }, 1000, 0},
		{"most power of a curve", func(c *Class, v float64) { k := c.Truck.Retarders[0].Stages[2]; k[len(k)-1].PowerW = v }, 0, 1e6},
		{"torque_limit_nm", func(c *Class, v float64) {
			c.Truck.Retarders = []Retarder{{Kind: DrivelineRetarder, TorqueLimitNm: v, SustainedPowerW: 2e5, CoolingTempC: 40, StageSharePct: []float64{100}}}
		}, 100, 20000},
		{"sustained_power_w", func(c *Class, v float64) {
			c.Truck.Retarders = []Retarder{{Kind: DrivelineRetarder, TorqueLimitNm: 3000, SustainedPowerW: v, CoolingTempC: 40, StageSharePct: []float64{100}}}
		}, 5000, 800000},
	} {
		check := func(v float64, isTaken bool) {
			c := templateClass(t)
			k.set(&c, v)
			if err := c.Validate(); (err == nil) != isTaken {
				t.Errorf("%s of %g: %v", k.name, v, err)
			}
		}
		if k.lo > 0 {
			check(k.lo, true)
			check(math.Min(k.lo*0.98, k.lo-wholeStep(k.name == "brakes")), false)
		}
		if k.hi > 0 {
			check(k.hi, true)
			check(math.Max(k.hi*1.02, k.hi+wholeStep(k.name == "brakes")), false)
		}
	}
}

// wholeStep is one whole thing where a figure counts things.
func wholeStep(isCount bool) float64 {
	if isCount {
		return 1
	}
	return 0
}

// What a stage puts on the driven wheels, by hand: 351 kW at 2,100 rpm in gear 6 of the
// template's truck, 15 % more for the strongest of the class, over 95 % of the driveline:
// F = P/v. A driveline retarder adds its torque times the final drive over the radius.
func TestAppliedForceByHand(t *testing.T) {
	c := templateClass(t)
	k := c.Truck
	v := k.SpeedFromRPM(6, 2100)
	want := 351000 * 1.15 / 0.95 / v
	near(t, "top stage, N", k.AppliedForce(3, 6, v, v, Air{}).DrivenN, want, 0.001*want)
	near(t, "a third, N", k.AppliedForce(1, 6, v, v, Air{}).DrivenN, 0.33*want, 0.001*want)
	near(t, "off", k.AppliedForce(0, 6, v, v, Air{}).DrivenN, 0, 0)
	near(t, "no such gear", k.AppliedForce(3, 11, v, v, Air{}).DrivenN, 0, 0)
	near(t, "the higher torque of a band", k.AppliedForce(3, 6, v/2, v, Air{}).DrivenN, want, 0.001*want)
	k.Retarders = append(slices.Clone(k.Retarders), Retarder{Kind: DrivelineRetarder, TorqueLimitNm: 3000, SustainedPowerW: 2e5, CoolingTempC: 40, StageSharePct: []float64{50, 100}})
	near(t, "with a driveline retarder, N", k.AppliedForce(5, 6, v, v, Air{}).DrivenN, want+3000*3.55/k.RollingRadiusM/0.95, 0.001*want)
	if got := k.LeversAt(4); len(got) != 2 || got[0].Stage != 3 || got[1].Stage != 1 || got[1].Stages != 2 {
		t.Errorf("levers at the fourth stage: %+v", got)
	}
	// Between the loads of the empty and the full truck, beyond them in proportion.
	for massKg, want := range map[float64]float64{15000: 5900, 36287: 15422, 25643.5: 10661, 7500: 2950} {
		near(t, "load on the driven axles, kg", k.RetardedLoadKg(massKg), want, 0.001*want)
	}
}

// The names on the usual boxes' levers (from memory).
func TestUsualGearNames(t *testing.T) {
	for gears, want := range map[int]string{
		9: "Lo 1 2 3 4 5 6 7 8", 10: "1 2 3 4 5 6 7 8 9 10", 13: "Lo 1 2 3 4 5L 5H 6L 6H 7L 7H 8L 8H",
		18: "LoL LoH 1L 1H 2L 2H 3L 3H 4L 4H 5L 5H 6L 6H 7L 7H 8L 8H", 12: "1 2 3 4 5 6 7 8 9 10 11 12",
	} {
		if got := strings.Join(UsualGearNames(gears), " "); got != want {
			t.Errorf("%d gears: %s", gears, got)
		}
	}
}

// Chambers: area times 100 psi up to the adjustment limit of 49 CFR 393.47 (type 30
// published, others from memory), half at the rated stroke, nothing beyond.
func TestChambersByType(t *testing.T) {
	for name, k := range map[string]struct{ lbf, limitIn, ratedIn float64 }{
		"16": {1600, 1.75, 2.25}, "20": {2000, 1.75, 2.25}, "24": {2400, 1.75, 2.25}, "24L": {2400, 2, 2.5}, "30": {3000, 2, 2.5}, "30L": {3000, 2.5, 3},
	} {
		near(t, name+" at its limit, lbf", ChamberForceN(name, k.limitIn*0.0254)/poundForceN, k.lbf, 1e-6*k.lbf)
		near(t, name+" half way, lbf", ChamberForceN(name, (k.limitIn+k.ratedIn)/2*0.0254)/poundForceN, 0.75*k.lbf, 1e-6*k.lbf)
		near(t, name+" at its rated stroke, lbf", ChamberForceN(name, k.ratedIn*0.0254)/poundForceN, k.lbf/2, 1e-6*k.lbf)
		near(t, name+" beyond, lbf", ChamberForceN(name, k.ratedIn*0.0254*1.001), 0, 0)
	}
}

// What a drum gives off, by hand from the textbook figures that the balance states:
// Nu = 0.1·Re^⅔, air .030 W/(m·K) and 2.3e-5 m²/s, emissivity .8, 5.670374e-8 W/(m²·K⁴),
// .22 m wide. A drum of .42 m at 300 °C in air of 30 °C at 15 m/s.
func TestDrumLossByHand(t *testing.T) {
	d := RotorBalance{MassKg: 45, DiameterM: 0.42}
	area := math.Pi*0.42*0.22 + math.Pi/4*0.42*0.42
	h := 0.1 * 0.030 / 0.42 * math.Pow(15*0.42/2.3e-5, 2.0/3)
	want := area * (h*270 + 0.8*5.670374e-8*(math.Pow(573.15, 4)-math.Pow(303.15, 4)))
	near(t, "loss, W", d.LossW(300, 30, 15), want, 0.001*want)
	near(t, "heat capacity, J/K", d.HeatCapacityJPerK(), 22500, 1e-9)
	near(t, "a second with 10 kW, °C", d.TempC(300, 30, 10000, 15, 1)-300, (0.95*10000-want)/22500, 0.001)
}

// Side friction by AASHTO's design tables (second-hand): on a radius at which the table's
// own speed is the answer, v² = f·g·R.
func TestCurveSpeedsOfTheTable(t *testing.T) {
	for kmh, f := range map[float64]float64{40: .17, 50: .16, 60: .15, 70: .145, 80: .14, 90: .13, 100: .12, 110: .11} {
		v := kmh / 3.6
		got, byRollover := CurveSpeedMPS(v*v/(f*9.80665), 1)
		if byRollover {
			t.Errorf("%g km/h: by rollover", kmh)
		}
		near(t, "curve speed, km/h", got*3.6, kmh, 1e-6)
	}
	// Half of a threshold of .2 g: v² = .1·g·R.
	got, byRollover := CurveSpeedMPS(100, 0.2)
	if !byRollover {
		t.Error("a tank truck is not limited by rollover")
	}
	near(t, "half the threshold, m/s", got, math.Sqrt(0.1*9.80665*100), 1e-9)
}

// Names for some gears, and empty loads for some axles, are refused; none at all are not.
func TestNamesAndLoadsAreAllOrNone(t *testing.T) {
	for name, k := range map[string]struct {
		change  func(c *Class)
		isTaken bool
	}{
		"as it is":          {func(*Class) {}, true},
		"no names":          {func(c *Class) { c.Truck.GearNames = nil }, true},
		"nine of ten":       {func(c *Class) { c.Truck.GearNames = c.Truck.GearNames[:9] }, false},
		"no empty loads":    {func(c *Class) { c.Truck.Axles[0].EmptyKg, c.Truck.Axles[1].EmptyKg, c.Truck.Axles[2].EmptyKg = 0, 0, 0 }, true},
		"one empty load":    {func(c *Class) { c.Truck.Axles[1].EmptyKg, c.Truck.Axles[2].EmptyKg = 0, 0 }, false},
		"two empty loads":   {func(c *Class) { c.Truck.Axles[2].EmptyKg = 0 }, false},
		"stroke past 2½ in": {func(c *Class) { c.Truck.ServiceBrakes.AdjustedStrokeM = 0.064 }, false},
	} {
		c := templateClass(t)
		k.change(&c)
		if err := c.Validate(); (err == nil) != k.isTaken {
			t.Errorf("%s: %v", name, err)
		}
	}
	if ColdestC != -50 || HottestC != 60 || mostCurve != 64 || mostRetards != 4 || LowestM != -500 || HighestM != 6000 {
		t.Error("an end of what may be asked has changed")
	}
}
