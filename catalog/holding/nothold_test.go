package holding

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// Not held is a result: by grip, and by power.
func TestNotHeld(t *testing.T) {
	h := advise(t, PlainHill(13, 3000), mustClass(t, "ca-btrain"), Options{})
	if h.Holds || h.LimitedBy != catalog.LimitFriction || h.HeaviestMassKg >= h.MassKg || h.FrictionNeeded < vehicle.DryFriction() || h.MissingPowerW <= 0 || len(h.SurfacesOut) != 4 {
		t.Errorf("13 %% under a B-train: %+v", h)
	}
	// What the tyres don't take, the service brakes of all axles must.
	if h.ServiceBrakeTempC == nil || *h.ServiceBrakeTempC < catalog.CFromF(150)+20 {
		t.Errorf("the service brakes stay cool: %v", h.ServiceBrakeTempC)
	}
	c := mustClass(t, "us-5axle")
	c.Truck.Retarders = []vehicle.Retarder{{Kind: vehicle.EngineRetarder, Stages: []vehicle.Curve{{{RPM: 1000, PowerW: 4000}, {RPM: 2100, PowerW: 12000}}}}}
	h = advise(t, PlainHill(8, 3*catalog.MileM), c, Options{})
	if h.Holds || h.LimitedBy != catalog.LimitNothing || h.MissingPowerW <= 0 || h.ServiceBrakeTempC == nil || len(h.Heat) == 0 {
		t.Fatalf("an engine that hardly retards: %+v", h)
	}
	// The missing power by hand, in first gear at its lowest band speed and up.
	least := math.Inf(1)
	for mph := 1; mph < 60; mph++ {
		v := float64(mph) * catalog.MilePerHourMPS
		for g := range c.Truck.GearRatios {
			if c.Truck.HasEngineSpeed(g+1, v) {
				least = math.Min(least, demandW(c.View(), h.MassKg, 8, PlainAltitudeM, v)-0.85*haveW(c.View(), c.Truck.GearRatios[g], v, PlainAltitudeM, PlainAltitudeM))
			}
		}
	}
	if math.Abs(h.MissingPowerW-least) > 0.01*least {
		t.Errorf("missing %.0f W, by hand %.0f W", h.MissingPowerW, least)
	}
	if !strings.Contains(h.Words.US, "where least is missing, it lacks ") || !strings.Contains(h.Words.Metric, "km/h, where least is missing") {
		t.Errorf("where the power is missing is not said: %s", h.Words.US)
	}
	if h.HeaviestMassKg <= 0 || h.HeaviestMassKg >= h.MassKg {
		t.Errorf("heaviest %.0f kg", h.HeaviestMassKg)
	}
	if !strings.Contains(h.Words.US, "No gear holds") || !strings.Contains(h.Words.US, "°F") || !strings.Contains(h.Words.Metric, "°C") {
		t.Errorf("words: %s | %s", h.Words.US, h.Words.Metric)
	}
}

// Not held because a ceiling lies under first gear's crawl: said so, no power missing.
func TestCeilingUnderACrawl(t *testing.T) {
	h := advise(t, WithPosted(PlainHill(6, 3000), 1), mustClass(t, "us-5axle"), Options{})
	if h.Holds || h.LimitedBy != catalog.LimitPosted || h.MissingPowerW != 0 || !strings.Contains(h.Words.Metric, "No gear is slow enough") {
		t.Errorf("%+v", h)
	}
}

// One gear higher, by hand: a driveline retarder at its torque limit pushes back
// with one force F, so v² = v0² + 2·(A − F/m)·x, and the governed speed is passed
// where v is its speed in that gear. Drag, at the least area, is left out: 3 %.
func TestOneGearUpByHand(t *testing.T) {
	c := mustClass(t, "us-5axle")
	c.Truck.DragAreaM2 = 1
	c.Truck.Retarders = []vehicle.Retarder{{Kind: vehicle.DrivelineRetarder, TorqueLimitNm: 2000, SustainedPowerW: 700e3, CoolingTempC: 40, StageSharePct: []float64{100}}}
	h := PlainHill(8, 20000)
	p, err := newProblem(&h, &c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	const gear, v0 = 6, 6.0
	force := 2000 * c.Truck.FinalDrive / c.Truck.RollingRadiusM
	a := vehicle.PullMPS2(8, c.Truck.RollingResistance) - force/c.MassMaxKg
	most := c.Truck.SpeedFromRPM(gear, c.Truck.EngineMaxRPM)
	want := (most*most - v0*v0) / (2 * a)
	fast, at, passed := p.runDown(gear, v0)
	if !passed || math.Abs(fast-most) > 1e-9 || math.Abs(at-want) > 0.03*want+25 {
		t.Errorf("passed %v at %.0f m and %.2f m/s, by hand %.0f m and %.2f m/s", passed, at, fast, want, most)
	}
}

// Friction by hand: retarding force over the load on the driven tandem.
func TestFrictionByHand(t *testing.T) {
	c := mustClass(t, "us-5axle")
	h := advise(t, PlainHill(6, 5000), c, Options{})
	theta := math.Atan(0.06)
	force := demandW(c.View(), h.MassKg, 6, PlainAltitudeM, h.SpeedMPS) / h.SpeedMPS
	want := force / (15422 * vehicle.GravityMPS2 * math.Cos(theta))
	if math.Abs(h.FrictionNeeded-want) > 1e-4 {
		t.Errorf("%.4f, by hand %.4f", h.FrictionNeeded, want)
	}
	// At its full mass the force at the wheels is far within a wet road's; see grip_test.go
	// for what the stage puts on when it is switched on.
	if h.FrictionNeeded > 0.35*2/3 {
		t.Errorf("needs %.3f", h.FrictionNeeded)
	}
}
