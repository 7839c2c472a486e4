package holding

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// calm is no wind.
var calm = new(float64)

// checkUntil checks a property over sets of drawn cases until enough of them count: a short
// run draws few cases in a set, and a mass that is found by grip is one case of eighty.
func checkUntil(t *testing.T, enough func() bool, property func(t *rapid.T)) {
	for range 100 {
		rapid.Check(t, property)
		if enough() || t.Failed() {
			return
		}
	}
	t.Error("too few of the drawn cases counted")
}

// genClass draws a truck of any kind: 5 to 18 gears, an engine brake whose power
// goes as some n^p, a driveline retarder or both, light or heavy. A failure
// prints rapid's seed, and -rapid.seed replays it.
func genClass(t *rapid.T) vehicle.Class {
	c := vehicle.Class{ID: "drawn", Name: "drawn truck", MassMinKg: 5000, Legal: catalog.Source{Document: "drawn", Status: "default"},
		SpeedMaxMPS: rapid.Float64Range(10, 32).Draw(t, "speed max"), RolloverShare: rapid.Float64Range(0.2, 0.6).Draw(t, "rollover")}
	if rapid.Bool().Draw(t, "us") {
		c.Units = catalog.US
	}
	c.MassMaxKg = rapid.Float64Range(8000, 80000).Draw(t, "mass max")
	k := &c.Truck
	gears := rapid.IntRange(5, 18).Draw(t, "gears")
	first, last := rapid.Float64Range(6, 17).Draw(t, "first"), rapid.Float64Range(0.7, 1).Draw(t, "last")
	for i := range gears {
		k.GearRatios = append(k.GearRatios, first*math.Pow(last/first, float64(i)/float64(gears-1)))
	}
	k.FinalDrive = rapid.Float64Range(2.2, 5).Draw(t, "final")
	k.RollingRadiusM = rapid.Float64Range(0.45, 0.55).Draw(t, "radius")
	k.DrivelineEfficiency = rapid.Float64Range(0.85, 1).Draw(t, "efficiency")
	k.EngineMinRPM = rapid.Float64Range(900, 1300).Draw(t, "rpm min")
	k.EngineMaxRPM = rapid.Float64Range(1800, 2400).Draw(t, "rpm max")
	k.RollingResistance = rapid.Float64Range(0.004, 0.008).Draw(t, "Crr")
	k.DragAreaM2 = rapid.Float64Range(3, 8).Draw(t, "CdA")
	k.ReservePct = rapid.Float64Range(5, 30).Draw(t, "reserve")
	k.AltitudeFullM = rapid.Float64Range(0, 2000).Draw(t, "full to")
	k.AltitudeLossPctPerKM = rapid.Float64Range(0, 12).Draw(t, "loss")
	drive := rapid.Float64Range(0.2, 0.7).Draw(t, "driven share")
	k.Axles = []vehicle.AxleGroup{
		{Name: "driven", Axles: 2, LoadKg: drive * c.MassMaxKg, Driven: true, Retarded: true, Brakes: 4},
		{Name: "others", Axles: 3, LoadKg: (1 - drive) * c.MassMaxKg, Brakes: 6},
	}
	k.ServiceBrakes = vehicle.ServiceBrakes{Count: 10, Chamber: "30", AdjustedStrokeM: 0.045, DrumDiameterM: 0.42, DrumMassKg: 45, PoorLining: true}
	kind := rapid.IntRange(0, 2).Draw(t, "retarders")
	if kind != 1 {
		top, p := rapid.Float64Range(80e3, 450e3).Draw(t, "engine W"), rapid.Float64Range(0, 2).Draw(t, "exponent")
		var curve vehicle.Curve
		for n := 800.0; n <= 2400; n += 100 {
			curve = append(curve, vehicle.CurvePoint{RPM: n, PowerW: top * math.Pow(n/2400, p)})
		}
		k.Retarders = append(k.Retarders, vehicle.Retarder{Kind: vehicle.EngineRetarder, Stages: []vehicle.Curve{curve.Scaled(0.4), curve}})
	}
	if kind != 0 {
		k.Retarders = append(k.Retarders, vehicle.Retarder{Kind: vehicle.DrivelineRetarder, CoolingTempC: 40, StageSharePct: []float64{50, 100},
			TorqueLimitNm:   rapid.Float64Range(500, 4000).Draw(t, "torque"),
			SustainedPowerW: rapid.Float64Range(50e3, 350e3).Draw(t, "sustained")})
	}
	if err := c.Validate(); err != nil {
		t.Fatalf("the drawn class is impossible: %v", err)
	}
	return c
}

// genHill draws a hill of 1 to 40 intervals with benches, counter-grades and
// pitches. With heights it lies between 0 and 4,500 m.
func genHill(t *rapid.T, heights bool) Hill {
	n := rapid.IntRange(1, 40).Draw(t, "intervals")
	h := Hill{StationM: []float64{0}, LocalErrPct: rapid.Float64Range(0, 1).Draw(t, "local bound"), GradeErrPct: rapid.Float64Range(0, 0.3).Draw(t, "bound")}
	for i := range n {
		h.StationM = append(h.StationM, h.StationM[i]+rapid.Float64Range(20, 900).Draw(t, "length"))
		g := rapid.Float64Range(2, 9).Draw(t, "grade")
		switch rapid.IntRange(0, 7).Draw(t, "kind") {
		case 0:
			g = rapid.Float64Range(-3, 2).Draw(t, "bench")
		case 1:
			g = rapid.Float64Range(9, 13).Draw(t, "pitch")
		}
		h.DowngradePct = append(h.DowngradePct, g)
	}
	if heights {
		h.ElevationM = heightsFrom(h, rapid.Float64Range(2000, 4500).Draw(t, "crest"))
	}
	if rapid.Bool().Draw(t, "curves") {
		for range h.StationM {
			h.RadiusM = append(h.RadiusM, rapid.Float64Range(30, 3000).Draw(t, "radius"))
		}
	}
	return h
}

func heightsFrom(h Hill, crestM float64) []float64 {
	z := []float64{crestM}
	for i, g := range h.DowngradePct {
		z = append(z, z[i]-g/100*(h.StationM[i+1]-h.StationM[i]))
	}
	return z
}

func genOptions(t *rapid.T, c vehicle.Class) Options {
	o := Options{MassKg: rapid.Float64Range(c.MassMinKg, c.MassMaxKg).Draw(t, "mass")}
	if rapid.Bool().Draw(t, "warm") {
		temp := rapid.Float64Range(-20, 55).Draw(t, "temp")
		o.TempC = &temp
	}
	if rapid.Bool().Draw(t, "sight known") {
		o.SightM = rapid.Float64Range(40, 400).Draw(t, "sight")
	}
	o.StopAtFoot = rapid.Bool().Draw(t, "foot stop")
	return o
}

// advise fails the test on an error.
func advise(t rapid.TB, h Hill, c vehicle.Class, o Options) catalog.Hold {
	t.Helper()
	out, err := Advise(h, c, o)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return out
}

// slower reports a fault unless b is no faster and no better than a.
func slower(t rapid.TB, what string, a, b catalog.Hold) {
	t.Helper()
	if a.LimitedBy == catalog.LimitFriction {
		return // its wheels would lock: a lighter truck can be slower for that
	}
	if b.SpeedMPS > a.SpeedMPS || b.Holds && !a.Holds {
		t.Fatalf("%s: %v at %.3f m/s, before %v at %.3f m/s", what, b.Holds, b.SpeedMPS, a.Holds, a.SpeedMPS)
	}
}
