package vehicle

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
)

// classOf is the one class of a text; it must parse.
func classOf(t testing.TB, text string) Class {
	t.Helper()
	classes, _, err := ParseClasses("trucks.toml", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return classes[0]
}

// bareTruck is the template without its engine brake.
func bareTruck(t testing.TB, engine string) string {
	text := Template(catalog.Metric)
	from, to := strings.Index(text, "[[class.truck.retarder]]\nkind = \"engine\""), strings.Index(text, "# A driveline retarder")
	if from < 0 || to < from {
		t.Fatal("the template has no engine brake")
	}
	return strings.Replace(text[:from]+text[to:], "final_drive = 3.55", engine+"\nfinal_drive = 3.55", 1)
}

// Heywood, Internal Combustion Engine Fundamentals, section 13.6, direct-injection diesel,
// from memory: motoring mean pressure 75 + 48·N/1000 + 0.4·S² kPa, S the mean piston speed
// in m/s. For the 14 L, 152 mm stroke engine of the 1980s at 2,100 rpm that is the 73 hp of
// the grade-severity model, which is another source. Ours leaves the last term out.
func TestEngineDragIsTheLowEndOfTwoSources(t *testing.T) {
	const litres, strokeM, rpm = 14.0, 0.152, 2100.0
	S := 2 * strokeM * rpm / 60
	heywoodW := (75 + 48*rpm/1000 + 0.4*S*S) * 1e3 * litres / 1e3 * rpm / 120
	near(t, "Heywood for the model's engine, hp", heywoodW/HorsepowerW, 73, 2)
	c := EngineDragFromDisplacement(litres, 1000, rpm)
	near(t, "ours at 2,100 rpm, W", c.PowerW(rpm), (75e3+48e3*2.1)*0.014*17.5, 1)
	near(t, "ours at 1,000 rpm, W", c.PowerW(1000), (75e3+48e3)*0.014*1000/120, 1)
	if share := c.PowerW(rpm) / heywoodW; share > 0.95 || share < 0.7 {
		t.Errorf("ours is %.2f of it", share)
	}
	if high := DragHighShare * c.PowerW(rpm); high < 1.1*heywoodW {
		t.Errorf("the high end, %.0f W, is not over it", high)
	}
	for _, bad := range [][3]float64{{0, 1000, 2000}, {math.NaN(), 1000, 2000}, {14, 0, 2000}, {14, 2000, 1000}, {14, 1000, math.Inf(1)}} {
		if c := EngineDragFromDisplacement(bad[0], bad[1], bad[2]); c != nil {
			t.Errorf("%v: %v", bad, c)
		}
	}
}

// Without an engine brake the drag counts at every stage; with one it is in the curves.
func TestEngineDragCountsOnlyWithoutAnEngineBrake(t *testing.T) {
	c := classOf(t, bareTruck(t, "engine_displacement_l = 14"))
	k := &c.Truck
	v := k.SpeedFromRPM(5, 2000)
	want := (75e3 + 48e3*2) * 0.014 * 2000 / 120 * (1 + 0.5*0.05)
	near(t, "drag alone, W", k.WheelPower(0, 5, v, Air{}).AtW(1), want, 0.001*want)
	if k.StageCount() != 0 || len(k.LeversAt(0)) != 1 || k.LeversAt(0)[0] != catalog.EngineDragLever() {
		t.Errorf("%d stages, levers %v", k.StageCount(), k.LeversAt(0))
	}
	force := k.AppliedForce(0, 5, v, v, Air{}).DrivenN
	near(t, "high end of the drag on the wheels, N", force, 1.5*(75e3+48e3*2)*0.014*2000/120/0.95/v, 0.001*force)
	d := classOf(t, Template(catalog.Metric))
	if w := d.Truck.WheelPower(0, 5, v, Air{}); w.AtW(1) != 0 {
		t.Errorf("with an engine brake, off: %v", w)
	}
	for name, text := range map[string]string{
		"neither retarder nor drag": bareTruck(t, ""),
		"drag beside a curve":       edit(t, "final_drive = 3.55", "final_drive = 3.55\nengine_drag_w_by_rpm = [[1100, 8000], [2100, 19000]]"),
		"a litre bottle":            bareTruck(t, "engine_displacement_l = 0.5"),
	} {
		if _, _, err := ParseClasses("x", strings.NewReader(text)); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
}

const trailerBlock = `
[[class.truck.retarder]]
kind = "trailer"
torque_limit_nm = 8000
sustained_power_w = 100000
cooling_temp_c = 40
`

// A trailer's own retarder takes torque times wheel speed, held back by its cooling, in any
// gear, and its force is the trailer's axles to bear.
func TestTrailerRetarderActsOnItsOwnAxles(t *testing.T) {
	text := edit(t, "brakes = 4                              #", "retarded = true #")
	at := strings.Index(text, "# The service brakes")
	text = text[:at] + trailerBlock + text[at:]
	c := classOf(t, text)
	k := &c.Truck
	if k.StageCount() != 3+1 {
		t.Fatalf("%d stages", k.StageCount())
	}
	for gear, v := range map[int]float64{4: 5, 5: 6} {
		with, without := k.WheelPower(4, gear, v, Air{}), k.WheelPower(3, gear, v, Air{})
		near(t, "the trailer's part, W", with.AtW(1)-without.AtW(1), 8000/k.RollingRadiusM*v, 1)
	}
	fast := k.WheelPower(4, 10, 25, Air{})
	near(t, "held back by its cooling, W", fast.DrivelineW, 100e3, 1)
	if !fast.SustainedBound {
		t.Error("and nothing says so")
	}
	hot := 70.0
	near(t, "half of it in hot air, W", k.WheelPower(4, 10, 25, AirAt(0, &hot)).DrivelineW, 50e3*313.15/343.15, 1)
	f := k.AppliedForce(4, 5, 6, 6, Air{})
	near(t, "on the trailer's axles, N", f.TrailerN, 8000/k.RollingRadiusM, 1)
	near(t, "on the driven axles as before, N", f.DrivenN, k.AppliedForce(3, 5, 6, 6, Air{}).DrivenN, 1e-6)
	near(t, "their load, kg", k.TrailerLoadKg(36287.39), 15422, 1)
	near(t, "the driven axles' load, kg", k.RetardedLoadKg(36287.39), 15422, 1)
	levers := k.LeversAt(4)
	if len(levers) != 2 || levers[1].Words() != "trailer retarder at stage 1 of 1" {
		t.Errorf("%v", levers)
	}
	if _, _, err := ParseClasses("x", strings.NewReader(strings.Replace(text, "retarded = true #", "#", 1))); err == nil {
		t.Error("a trailer retarder on no axle is taken")
	}
}

// electric is the template as an electric truck.
func electric(t testing.TB, battery string) string {
	text := bareTruck(t, "")
	text = strings.Replace(text, "engine_rpm_min = 1100", "engine_rpm_min = 300", 1)
	text = strings.Replace(text, "engine_rpm_max = 2100", "engine_rpm_max = 9000", 1)
	at := strings.Index(text, "# The service brakes")
	return text[:at] + "[[class.truck.retarder]]\nkind = \"recuperation\"\ntorque_limit = \"850 Nm\"\nsustained_power = \"150 kW\"\nstage_share_pct = [50, 100]\n" + battery + "\n" + text[at:]
}

func TestRecuperationTakesTorqueUpToThePowerOfTheBattery(t *testing.T) {
	c := classOf(t, electric(t, "battery = \"300 kWh\"\ncharge_at_crest_pct = 60\ncharge_full_pct = 90"))
	k := &c.Truck
	if !k.IsElectric() || k.StageCount() != 2 {
		t.Fatalf("electric %v, %d stages", k.IsElectric(), k.StageCount())
	}
	v := k.SpeedFromRPM(5, 1000)
	near(t, "by torque at 1,000 rpm, W", k.WheelPower(2, 5, v, Air{}).RecuperationW, 850*1000*math.Pi/30, 1)
	near(t, "half of it, W", k.WheelPower(1, 5, v, Air{}).RecuperationW, 425*1000*math.Pi/30, 1)
	fast := k.WheelPower(2, 5, k.SpeedFromRPM(5, 5000), Air{})
	near(t, "by the battery at 5,000 rpm, W", fast.RecuperationW, 150e3, 1)
	if !fast.SustainedBound || fast.EngineW != 0 {
		t.Errorf("%+v", fast)
	}
	near(t, "all of its torque on the wheels, N", k.AppliedForce(2, 5, v, v, Air{}).DrivenN, 850*3.58*3.55/k.RollingRadiusM/0.95, 1)
	b, ok := k.Battery()
	near(t, "room from 60 to 90 % of 300 kWh, J", b.RoomJ(60), 0.3*300e3*3600, 1)
	if !ok || b.RoomJ(95) != 0 || b.RoomJ(b.CrestPct) != b.RoomJ(60) {
		t.Errorf("%v %+v", ok, b)
	}
}

// A charge that is not given is a full battery, and the file's reader is told.
func TestAnUnknownChargeIsAFullBattery(t *testing.T) {
	classes, defaults, err := ParseClasses("x", strings.NewReader(electric(t, "battery_wh = 300000")))
	if err != nil {
		t.Fatal(err)
	}
	b, _ := classes[0].Truck.Battery()
	near(t, "full from, %", b.FullPct, 90, 0)
	if b.RoomJ(b.CrestPct) != 0 {
		t.Errorf("%+v has room", b)
	}
	if len(defaults) != 2 || !strings.Contains(defaults[1].String(), "recuperation is not counted") {
		t.Errorf("%v", defaults)
	}
}

// Part-full tankers keep half of their rollover threshold unless the carrier knows better:
// the curve speed falls by the square root where the threshold sets it.
func TestPartFullTankLowersTheCurveSpeed(t *testing.T) {
	full := classOf(t, Template(catalog.Metric))
	part := classOf(t, edit(t, "# part_full_tank = true ", "part_full_tank = true "))
	near(t, "share of the threshold", part.CurveRolloverShare()/full.CurveRolloverShare(), 0.5, 1e-9)
	vFull, _ := CurveSpeedMPS(100, full.CurveRolloverShare())
	vPart, byRollover := CurveSpeedMPS(100, part.CurveRolloverShare())
	near(t, "in a curve of 100 m, m/s", vPart, math.Sqrt(0.5*0.175*GravityMPS2*100), 0.001)
	if !byRollover || vPart > 0.8*vFull {
		t.Errorf("%.2f m/s full, %.2f m/s part-full, by rollover %v", vFull, vPart, byRollover)
	}
	if full.Fingerprint() == part.Fingerprint() {
		t.Error("one fingerprint for both")
	}
	if _, _, err := ParseClasses("x", strings.NewReader(edit(t, "# surge_share = 0.5 ", "surge_share = 0.5 "))); err == nil {
		t.Error("a surge without a tank is taken")
	}
}

// One figure of a data sheet is taken down as the square of the engine speed, in power or
// torque and in either unit system.
func TestOneFigureOfADataSheetMakesACurve(t *testing.T) {
	const curve = "power_w_by_rpm = [[1100, 113000], [1300, 151500], [1500, 194500], [1700, 242000], [1900, 294500], [2100, 351000]]"
	for key, atTopW := range map[string]float64{
		"power_kw_by_rpm = [[2100, 373]]": 373e3, "power_hp_by_rpm = [[2100, 500]]": 372.85e3,
		"torque_nm_by_rpm = [[2100, 1696]]": 1696 * 2100 * math.Pi / 30, "torque_lbft_by_rpm = [[2100, 1251]]": 1251 * 1.3558179 * 2100 * math.Pi / 30,
	} {
		c := classOf(t, edit(t, curve, key))
		top := c.Truck.Retarders[0].Stages[2]
		near(t, key+" at the top, W", top.PowerW(2100), atTopW, 0.001*atTopW)
		near(t, key+" at 1,500 rpm, W", top.PowerW(1500), atTopW*(15.0/21)*(15.0/21), 0.002*atTopW)
		if len(c.Defaults) != 1 || !strings.Contains(c.Defaults[0].String(), "square") {
			t.Errorf("%s: %v", key, c.Defaults)
		}
	}
}
