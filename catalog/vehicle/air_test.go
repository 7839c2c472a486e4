package vehicle

import (
	"math"
	"testing"
)

// Pressure over that at sea level at 1,500, 3,000 and 4,500 m: 84.56, 70.12 and 57.75 kPa of
// 101.325 (US Standard Atmosphere 1976; from memory). A cooler carries off that share, and
// at half of its engine speed half of it.
func TestCoolingFallsWithThinAirAndEngineSpeed(t *testing.T) {
	k := Truck{GearRatios: []float64{1}, FinalDrive: 3, RollingRadiusM: 0.5, DrivelineEfficiency: 0.95, EngineMinRPM: 500, EngineMaxRPM: 2400,
		Retarders: []Retarder{{Kind: DrivelineRetarder, TorqueLimitNm: 20000, SustainedPowerW: 200e3, CoolingTempC: 40, CoolingRPM: 2000, StageSharePct: []float64{100}}}}
	for _, c := range []struct{ rpm, heightM, want float64 }{
		{2000, 0, 200e3}, {2400, 0, 200e3}, {2400, -400, 200e3}, {2000, 1500, 166.9e3}, {2000, 3000, 138.4e3}, {2000, 4500, 114.0e3},
		{1000, 0, 100e3}, {1900, 0, 190e3}, {1000, 3000, 69.2e3},
	} {
		w := k.TopWheelPower(1, k.SpeedFromRPM(1, c.rpm), AirAt(c.heightM, nil))
		near(t, "cooling, W", w.DrivelineW, c.want, 0.002*c.want)
		if !w.SustainedBound {
			t.Errorf("%.0f rpm at %.0f m: nothing says that cooling holds it back", c.rpm, c.heightM)
		}
	}
	near(t, "at its best, W", k.TopWheelPower(1, k.SpeedFromRPM(1, 1000), AirAtBest()).DrivelineW, 200e3, 1)
	k.Retarders[0].CoolingRPM = 0
	near(t, "cooled by itself, W", k.TopWheelPower(1, k.SpeedFromRPM(1, 1000), Air{}).DrivelineW, 200e3, 1)
}

// Density altitude is the standard atmosphere's inverse, and rises by about 120 ft for each
// degree Celsius over the standard temperature (Federal Aviation Administration's rule for pilots;
// from memory).
func TestDensityAltitude(t *testing.T) {
	for _, m := range []float64{-400, 0, 1500, 3000, 5500} {
		near(t, "of standard air, m", DensityAltitudeM(AirDensityKgM3(m, nil)), m, 0.5)
	}
	for _, c := range []struct{ heightM, tempC float64 }{{0, 40}, {1500, 40}, {2500, 30}} {
		warm := c.tempC - (15 - 0.0065*c.heightM)
		near(t, "of hot air, m", DensityAltitudeM(AirDensityKgM3(c.heightM, &c.tempC))-c.heightM, warm*120*0.3048, 0.1*warm*120*0.3048)
	}
}

// In cold air an engine brake gives more, in proportion to the density, and the cold
// driveline's losses count twice: 1.185·(1 − .05)/(1 − .10) at −30 °C.
func TestColdAirAppliesMore(t *testing.T) {
	c := templateClass(t)
	k := &c.Truck
	k.DrivelineEfficiency = 0.95
	v := k.SpeedFromRPM(3, 1800)
	force := func(tempC float64) float64 { return k.AppliedForce(k.StageCount(), 3, v, v, AirAt(0, &tempC)).DrivenN }
	mild := k.AppliedForce(k.StageCount(), 3, v, v, Air{}).DrivenN
	near(t, "at 15 °C", force(15)/mild, 1, 1e-9)
	near(t, "in hot air no less", force(45)/mild, 1, 1e-9)
	near(t, "at 0 °C", force(0)/mild, 288.15/273.15, 1e-9)
	near(t, "at −30 °C", force(-30)/mild, 288.15/243.15*0.95/0.90, 1e-9)
	if math.IsNaN(mild) || mild <= 0 {
		t.Fatal("no force")
	}
}
