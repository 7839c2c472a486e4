package catalog

import (
	"math"
	"testing"
)

// Factors as NIST Special Publication 811 (2008), appendix B.8, gives them (from memory),
// apart from ours.
func TestDimensionsReadDataSheets(t *testing.T) {
	for _, c := range []struct {
		d    Dimension
		text string
		want float64
	}{
		{DimensionMassKg, "80,000 lb", 36287.3896}, {DimensionMassKg, "44 t", 44000}, {DimensionMassKg, "7500kg", 7500}, {DimensionMassKg, "40 st", 36287.3896},
		{DimensionSpeedMPS, "65 mph", 29.0576}, {DimensionSpeedMPS, "90 km/h", 25},
		{DimensionLengthM, "16.5 in", 0.4191}, {DimensionLengthM, "430 mm", 0.43}, {DimensionLengthM, "43cm", 0.43}, {DimensionLengthM, "0.5 m", 0.5},
		{DimensionHeightM, "5000 ft", 1524}, {DimensionHeightM, "0 m", 0},
		{DimensionAreaM2, "54 ft2", 5.01676}, {DimensionAreaM2, "5.2 m²", 5.2},
		{DimensionPowerW, "500 hp", 372849.9}, {DimensionPowerW, "680 PS", 500139}, {DimensionPowerW, "380 kW", 380000}, {DimensionPowerW, "900 W", 900},
		{DimensionTorqueNm, "2200 lbft", 2982.80}, {DimensionTorqueNm, "2200 lb-ft", 2982.80}, {DimensionTorqueNm, "4,100 Nm", 4100},
		{DimensionPowerW, "500 bhp", 372849.9}, {DimensionTorqueNm, "2200 ft-lb", 2982.80}, {DimensionTorqueNm, "2200 lb ft", 2982.80}, {DimensionTorqueNm, "4100 N·m", 4100}, {DimensionVolumeL, "6.7 litres", 6.7}, {DimensionVolumeL, "6374 cm3", 6.374},
		{DimensionEnergyWh, "540 kWh", 540000}, {DimensionVolumeL, "781 in3", 12.79831}, {DimensionVolumeL, "12.8 l", 12.8}, {DimensionVolumeL, "6374 cc", 6.374},
	} {
		f, err := c.d.Read(c.text)
		if err != nil || math.Abs(f.SI/c.want-1) > 2e-6 && math.Abs(f.SI-c.want) > 1e-9 {
			t.Errorf("%s: %v, %v, want %v", c.text, f.SI, err, c.want)
		}
	}
	for _, bad := range []string{"", "12", "12 parsec", "-3 in", "0 in", "46,5 in", "1e3 in", "NaN in", "in"} {
		if f, err := DimensionLengthM.Read(bad); err == nil {
			t.Errorf("%q reads as %v", bad, f.SI)
		}
	}
}

// A bound is shown in the unit that was written.
func TestFiguresAreShownInTheirUnit(t *testing.T) {
	lb, _ := DimensionMassKg.Read("80000 lb")
	in, _ := DimensionLengthM.Read("2 in")
	for got, want := range map[string]string{lb.Show(200000): "440,925 lb", in.Show(0.0635): "2.5 in", DimensionPowerW.One("hp").Show(1000): "1.341 hp", Figure{}.Show(12.5): "12.5"} {
		if got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}

func TestChargeIsAPercentage(t *testing.T) {
	for text, want := range map[string]float64{"70%": 70, "0 %": 0, "100%": 100} {
		if got, err := ChargePct(text); err != nil || got != want {
			t.Errorf("%s: %v, %v", text, got, err)
		}
	}
	for _, bad := range []string{"70", "101%", "-5%", "full"} {
		if got, err := ChargePct(bad); err == nil {
			t.Errorf("%q reads as %v", bad, got)
		}
	}
}
