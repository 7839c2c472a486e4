package holding

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// bareClass is the default class without any retarder.
func bareClass(t testing.TB, id string, displacementL float64) vehicle.Class {
	c := mustClass(t, id)
	c.Truck.Retarders = nil
	c.Truck.EngineDrag = vehicle.EngineDragFromDisplacement(displacementL, c.Truck.EngineMinRPM, c.Truck.EngineMaxRPM)
	return c
}

// The balance of a truck without a retarder, worked out here from its drag alone: the
// advised speed holds in some gear, and no gear holds one more.
func TestWithoutARetarderEngineDragAloneHolds(t *testing.T) {
	c := bareClass(t, "us-5axle", 12.8)
	k := &c.Truck
	drag := func(rpm float64) float64 { return (75e3 + 48*rpm) * 12.8e-3 * rpm / 120 }
	holds := func(pct, mph float64) bool {
		v := mph * 0.44704
		theta := math.Atan(pct / 100)
		need := (36287.39*9.80665*(math.Sin(theta)-0.0053*math.Cos(theta)) - 0.5*vehicle.AirDensityKgM3(1500, nil)*5*v*v) * v
		for g := 1; g <= k.GearCount(); g++ {
			rpm := k.RPMFromSpeed(g, v)
			gains := 9.80665 * (math.Sin(theta) - 0.0053*math.Cos(theta)) // in the second in which nothing works
			if rpm >= 1100 && k.RPMFromSpeed(g, v+gains) <= 2110 && 0.85*drag(rpm)*(1+0.5*0.05) >= need {
				return true
			}
		}
		return false
	}
	held := 0
	for _, pct := range []float64{0.8, 1, 1.2, 1.5, 2, 2.5, 3, 4, 6, 8} {
		h, err := Advise(PlainHill(pct, 3000), c, Options{})
		if err != nil {
			t.Fatal(err)
		}
		mph := 0.0
		if h.Holds {
			held++
			mph = math.Round(h.SpeedMPS / 0.44704)
			if !holds(pct, mph) {
				t.Errorf("%g %%: %g mph advised, and the drag does not hold it", pct, mph)
			}
			if !strings.Contains(h.Words.US, "this truck has no retarder") || h.StageWords() != "no retarder: foot off the fuel, engine drag alone" {
				t.Errorf("%g %%: %q, %q", pct, h.Words.US, h.StageWords())
			}
		} else if !strings.Contains(h.Words.US, "This truck has no retarder, and engine drag alone holds it in no gear") {
			t.Errorf("%g %%: %q", pct, h.Words.US)
		}
		if holds(pct, mph+1) && mph < 64 {
			t.Errorf("%g %%: %g mph advised, one more holds", pct, mph)
		}
		if !hasCaution(&h, "No retarder: engine drag alone is counted") {
			t.Errorf("%g %%: %q", pct, h.Cautions)
		}
	}
	if held < 4 || held > 8 {
		t.Errorf("%d of 10 held", held)
	}
}

func hasCaution(h *catalog.Hold, part string) bool {
	return strings.Contains(strings.Join(h.Cautions, "\n"), part)
}

// An engine maker's operator manual gives, as its example of a control speed, 10 mph on 6 %
// without the engine brake and 25 mph with it (Detroit DD platform operator manual,
// "Operating down a long, steep grade", published; the mass is not said, the legal 80,000 lb
// taken). Ours may be slower than the manual without the brake, never faster; with the
// 500 hp that the trade press gives for that engine (Truck News, published) it is at least
// as fast.
func TestControlSpeedsOfAnOperatorManual(t *testing.T) {
	bare, err := Advise(PlainHill(6, 5000), bareClass(t, "us-5axle", 14.8), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if bare.SpeedMPS > 10*0.44704 {
		t.Errorf("without an engine brake: %s", catalog.US.Speed(bare.SpeedMPS))
	}
	c := mustClass(t, "us-5axle")
	top := vehicle.CurvePoint{RPM: 2100, PowerW: 500 * 745.7}
	var curve vehicle.Curve
	for rpm := 1100.0; rpm <= 2100; rpm += 100 {
		curve = append(curve, vehicle.CurvePoint{RPM: rpm, PowerW: top.PowerW * rpm * rpm / top.RPM / top.RPM})
	}
	c.Truck.Retarders[0].Stages = []vehicle.Curve{curve.Scaled(1. / 3), curve.Scaled(2. / 3), curve}
	braked, err := Advise(PlainHill(6, 5000), c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if mph := braked.SpeedMPS / 0.44704; mph < 24.9 {
		t.Errorf("with 500 hp: %.0f mph", mph)
	}
}

// electricClass is an electric truck of the masses of a default class.
func electricClass(t testing.TB, crestPct float64) vehicle.Class {
	c := mustClass(t, "eu-5axle")
	c.Truck.GearRatios, c.Truck.GearNames = []float64{8, 4}, []string{"L", "H"}
	c.Truck.FinalDrive, c.Truck.EngineMinRPM, c.Truck.EngineMaxRPM = 4.11, 300, 9000
	c.Truck.Retarders = []vehicle.Retarder{{Kind: vehicle.Recuperation, TorqueLimitNm: 1500, SustainedPowerW: 400e3, StageSharePct: []float64{25, 50, 75, 100}, StrongestPct: 100,
		Battery: vehicle.Battery{CapacityWh: 540e3, CrestPct: crestPct, FullPct: 90}}}
	return c
}

// The energy is that of the endurance-braking test: 40 t, 7 %, 6 km is 228.9 kW at 30 km/h
// before road load, 164.8 MJ (UN Regulation 13 Annex 4, Type-IIA; figures computed), less
// the class's rolling resistance of .0053 in 7 %. The charge that is asked for at the crest
// follows from it, and one per cent more is not counted.
func TestRecuperationAsksForTheRoomOfTheWholeHill(t *testing.T) {
	hill := PlainHill(7, 6000)
	wantJ := 164.8e6 * (1 - 0.0053/0.07)
	mostPct := math.Floor(90 - 100*wantJ/(540e3*3600))
	for _, crestPct := range []float64{20, mostPct - 1, mostPct, mostPct + 2, 90, 100} {
		c := electricClass(t, crestPct)
		h, err := Advise(hill, c, Options{})
		if err != nil {
			t.Fatal(err)
		}
		k := h.Charge
		if k == nil || math.Abs(k.EnergyJ/wantJ-1) > 0.005 || math.Abs(k.MostAtCrestPct-mostPct) > 1 {
			t.Fatalf("at %g %%: %+v, want %.1f MJ and %g %%", crestPct, k, wantJ/1e6, mostPct)
		}
		if want := crestPct <= k.MostAtCrestPct; h.Holds != want || k.IsCounted != want || want == (k.FullBelowCrestM != nil) {
			t.Errorf("at %g %%: holds %v, %+v", crestPct, h.Holds, k)
		}
		if h.Holds && !hasCaution(&h, "Only with the battery at") || !h.Holds && !hasCaution(&h, "friction brakes would have to do the work") {
			t.Errorf("at %g %%: %q", crestPct, h.Cautions)
		}
		if !h.Holds && (h.ServiceBrakeTempC == nil || *h.ServiceBrakeTempC < 150) {
			t.Errorf("at %g %%: the service brakes stay cool", crestPct)
		}
		if k.FullBelowCrestM != nil && crestPct < 90 {
			if want := k.RoomJ / k.EnergyJ * 6000; *k.FullBelowCrestM > want || *k.FullBelowCrestM < want-101 {
				t.Errorf("at %g %%: full %.0f m below the crest, want %.0f", crestPct, *k.FullBelowCrestM, want)
			}
		}
	}
	atCrest := 85.0
	h, err := Advise(hill, electricClass(t, 20), Options{ChargePct: &atCrest})
	if err != nil || h.Charge.IsCounted || h.Charge.AtCrestPct != 85 {
		t.Errorf("%v, asked for 85 %%: %+v", err, h.Charge)
	}
	if _, err := Advise(hill, mustClass(t, "us-5axle"), Options{ChargePct: &atCrest}); err == nil {
		t.Error("a diesel truck has a charge")
	}
	cold := -0.5
	if h, err := Advise(hill, electricClass(t, 20), Options{TempC: &cold}); err != nil || h.Holds || !hasCaution(&h, "air below freezing") {
		t.Errorf("%v, in frost: holds %v, %q", err, h.Holds, h.Cautions)
	}
}

// Down the hill in time steps, the truck never puts more into the battery than was said.
func TestRecuperationNeverPutsInMoreThanSaid(t *testing.T) {
	hill := Hill{StationM: []float64{0, 900, 2000, 3500, 5200}, DowngradePct: []float64{3, 6.5, -1, 5.5}, GradeErrPct: 0.2, LocalErrPct: 0.6}
	c := electricClass(t, 40)
	h, err := Advise(hill, c, Options{})
	if err != nil || !h.Holds {
		t.Fatalf("%v, %+v", err, h.Charge)
	}
	inJ, x, dt := 0.0, 0.0, 0.1
	for x < 5200 {
		i := 0
		for hill.StationM[i+1] <= x {
			i++
		}
		theta := math.Atan((hill.DowngradePct[i] + 0.2) / 100) // the steep end of its mean
		n := c.MassMaxKg*9.80665*(math.Sin(theta)-0.0053*math.Cos(theta)) - 0.5*1.0*5*h.SpeedMPS*h.SpeedMPS
		inJ += math.Max(0, n) * h.SpeedMPS * dt
		x += h.SpeedMPS * dt
	}
	if inJ > h.Charge.EnergyJ || inJ < 0.85*h.Charge.EnergyJ {
		t.Errorf("%.1f MJ in, %.1f said", inJ/1e6, h.Charge.EnergyJ/1e6)
	}
}

// The heaviest mass that holds is between those with and without the battery's help: at the
// charge of the crest it is what the battery has room for.
func TestHeaviestMassOfAnElectricTruckFitsTheBattery(t *testing.T) {
	h, err := Advise(PlainHill(7, 6000), electricClass(t, 85), Options{})
	if err != nil || h.Holds {
		t.Fatalf("%v, holds %v", err, h.Holds)
	}
	want := 0.05 * 540e3 * 3600 / (h.Charge.EnergyJ / h.MassKg)
	if math.Abs(h.HeaviestMassKg-want) > 1 {
		t.Errorf("%.0f kg, the battery has room for %.0f", h.HeaviestMassKg, want)
	}
}

// A trailer's retarder holds more, is named with its own lever, and its axles' grip counts.
func TestTrailerRetarderHoldsMoreAndItsAxlesMustGrip(t *testing.T) {
	with := func(torqueNm float64) vehicle.Class {
		c := mustClass(t, "eu-5axle")
		c.Truck.Retarders = append(c.Truck.Retarders[:1:1], vehicle.Retarder{Kind: vehicle.TrailerRetarder, Name: "trailer retarder", TorqueLimitNm: torqueNm, SustainedPowerW: 120e3, CoolingTempC: 40, StageSharePct: []float64{50, 100}})
		axles := append([]vehicle.AxleGroup{}, c.Truck.Axles...)
		axles[len(axles)-1].Retarded = true
		c.Truck.Axles = axles
		return c
	}
	alone := mustClass(t, "eu-5axle")
	alone.Truck.Retarders = alone.Truck.Retarders[:1]
	hill := PlainHill(7, 6000)
	before, err := Advise(hill, alone, Options{MassKg: 40000})
	if err != nil {
		t.Fatal(err)
	}
	after, err := Advise(hill, with(8000), Options{MassKg: 40000})
	if err != nil {
		t.Fatal(err)
	}
	if !after.Holds || after.SpeedMPS <= before.SpeedMPS || after.HeaviestMassKg < before.HeaviestMassKg {
		t.Errorf("%.1f m/s without, %.1f m/s with", before.SpeedMPS, after.SpeedMPS)
	}
	if len(after.Levers) != 2 || after.Levers[1].Retarder != "trailer retarder" || after.Levers[1].Stage == 0 || !hasCaution(&after, "the trailer swings out") {
		t.Errorf("%v, %q", after.Levers, after.Cautions)
	}
	c := with(8000)
	k := &c.Truck
	need := 8000 * float64(after.Levers[1].Stage) / 2 / k.RollingRadiusM / (k.TrailerLoadKg(40000) * 9.80665 * math.Cos(math.Atan(0.07)))
	if after.FrictionApplied < need-1e-9 {
		t.Errorf("a friction of %.3f said, the trailer's axles need %.3f", after.FrictionApplied, need)
	}
	// A torque that takes the empty trailer's grip is not advised at that mass.
	slides, err := Advise(hill, with(60000), Options{MassKg: 15000})
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range slides.Levers {
		if l.Kind == string(vehicle.TrailerRetarder) && l.Stage > 0 {
			t.Errorf("an empty trailer is braked by %v", l)
		}
	}
}

// A part-full tanker goes slower through a curve, and says why and how sure that is.
func TestPartFullTankerIsSlowerInTheCurveAndSaysSo(t *testing.T) {
	hill := PlainHill(3, 3000)
	hill.RadiusM = []float64{60, math.Inf(1)}
	c := mustClass(t, "us-5axle")
	full, err := Advise(hill, c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	c.PartFullTank, c.SurgeShare = true, 0.5
	part, err := Advise(hill, c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if part.LimitedBy != catalog.LimitCurve || part.SpeedMPS > math.Sqrt(0.5*0.5*0.35*9.80665*60) || part.SpeedMPS >= full.SpeedMPS {
		t.Errorf("%s by %s, full %s", catalog.US.Speed(part.SpeedMPS), part.LimitedBy, catalog.US.Speed(full.SpeedMPS))
	}
	if !hasCaution(&part, "liquid surges forward") || !hasCaution(&part, "50 % of the full tank's rollover threshold (from memory)") || hasCaution(&full, "surges") {
		t.Errorf("%q", part.Cautions)
	}
}
