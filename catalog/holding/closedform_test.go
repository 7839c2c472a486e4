package holding

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// A plain grade agrees with the closed form. With nothing but a driveline
// retarder at its sustained power P, the highest speed v solves the cubic
// ½ρCdA·v³ − m·A·v + (1 − r)·P = 0: the smaller of its two positive roots.
func TestPlainGradeAgreesWithTheClosedForm(t *testing.T) {
	compared := 0
	checkUntil(t, func() bool { return compared >= 10 }, func(t *rapid.T) {
		c := genClass(t)
		P := rapid.Float64Range(60e3, 300e3).Draw(t, "P")
		c.Truck.Retarders = []vehicle.Retarder{{Kind: vehicle.DrivelineRetarder, CoolingTempC: 40, StageSharePct: []float64{100}, TorqueLimitNm: 8000, SustainedPowerW: P}}
		c.SpeedMaxMPS = 40
		P *= math.Pow(1-2.25577e-5*PlainAltitudeM, 5.25588) // what thin air leaves of the cooling
		g := rapid.Float64Range(3, 9).Draw(t, "grade")
		c.Truck.Axles[0].LoadKg, c.Truck.Axles[1].LoadKg = 0.99*c.MassMaxKg, 0.01*c.MassMaxKg // grip is another test's
		theta := math.Atan(g / 100)
		mA := c.MassMaxKg * 9.80665 * (math.Sin(theta) - c.Truck.RollingResistance*math.Cos(theta))
		B := vehicle.AirDensityKgM3(PlainAltitudeM, nil) / 2 * c.Truck.DragAreaM2
		q := (1 - c.Truck.ReservePct/100) * P
		// v³ − 3a²·v + 2b = 0, a² = mA/3B, 2b = q/B: v = 2a·cos((arccos(−b/a³) + 4π)/3).
		a := math.Sqrt(mA / (3 * B))
		if q/(2*B) >= a*a*a {
			return // the drag and the retarder hold it at any speed
		}
		third := math.Acos(-q/(2*B)/(a*a*a)) / 3
		v := 2 * a * math.Cos(third+4*math.Pi/3)
		if 2*a*math.Cos(third) < 45 {
			return // beyond the largest root drag alone holds it again
		}
		top := c.Truck.SpeedFromRPM(len(c.Truck.GearRatios), c.Truck.EngineMaxRPM)
		low := c.Truck.SpeedFromRPM(1, c.Truck.EngineMinRPM)
		torqueV := P / (8000 * c.Truck.FinalDrive / c.Truck.RollingRadiusM) // above it the power is the sustained one
		u := c.Units.SpeedUnitMPS()
		want := math.Floor(v/u) * u
		if v > top || v > 40 || want < math.Max(low, torqueV)+u || math.Abs(v/u-math.Round(v/u)) < 1e-6 {
			return
		}
		// Between two gears whose bands don't meet nothing can be held.
		held := false
		for i := range c.Truck.GearRatios {
			// Nor where the second in which the stage begins to work passes the governed speed.
			gains := vehicle.PullMPS2(g, c.Truck.RollingResistance) - B*want*want/c.MassMaxKg
			held = held || c.Truck.HasEngineSpeed(i+1, want) && want+gains*1 <= c.Truck.SpeedFromRPM(i+1, c.Truck.EngineMaxRPM)
			// And then, seen a tenth of a second late, the whole of it still holds: faster, the same power pushes back less.
			late := math.Min(want+1.1*vehicle.PullMPS2(g, c.Truck.RollingResistance), c.Truck.SpeedFromRPM(i+1, c.Truck.EngineMaxRPM))
			if mA-B*late*late > P/late {
				return
			}
		}
		h := advise(t, PlainHill(g, 5000), c, Options{TailwindMPS: calm})
		if h.LimitedBy == catalog.LimitFriction {
			return
		}
		for _, l := range h.Limits {
			if l.SpeedMPS < want {
				return
			}
		}
		compared++
		if held && math.Abs(h.SpeedMPS-want) > 1e-9 {
			t.Fatalf("%.4f m/s, closed form %.4f rounded down to %.4f", h.SpeedMPS, v, want)
		}
	})
}
