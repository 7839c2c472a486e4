package grade

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
)

// The air's temperature scales a barometer's heights: a pressure height of the standard atmosphere
// (ISO 2533:1975, 288.15 K at sea level, 6.5 K/km) rises by its own temperature over that of the air
// for each metre (hypsometric equation). At 20 K more than standard that is 7 %.
const (
	standardSeaK       = 288.15
	standardLapseKPerM = 0.0065
	zeroCelsiusK       = 273.15

	// Common practice without a source: a vehicle's thermometer is near its engine, road or cab, and
	// nothing shows it. Twelve kelvins are so many that bounds hold with one that is 15 K too warm.
	airSensorSDK = 12.0

	// Air outside cools by 5 to 10 K/km where it is mixed (9.8 K/km for dry air: gravity over specific
	// heat). A cab does not, and degrees Fahrenheit cool 1.8 times as fast.
	airLeastReliefM  = 150.0
	airLeastLapse    = 0.003
	airMostLapse     = 0.0105
	airMostDepartK   = 25.0 // from the standard; more is a fault or another unit
	airLeastReadings = 30
)

// driveAir is what the temperature recorded on a drive says of its height scale.
type driveAir struct {
	isUsed bool
	scale  float64 // expected of the heights, drawn towards none by the sensor's own error
	sd     float64 // of the scale's part that all drives of a season share
}

// airOf reads the temperatures of a drive. Without a credible one the scale of the weather is unknown;
// why says what is wrong with the temperatures, and is empty where none was recorded.
func airOf(d *Drive) (a driveAir, why string) {
	unknown := driveAir{sd: driveCommonScale}
	var heights, temps []float64
	for i, c := range d.TempC {
		if h := d.HeightM[i]; !math.IsNaN(c) && !math.IsNaN(h) {
			heights, temps = append(heights, h), append(temps, c)
		}
	}
	if len(temps) == 0 {
		return unknown, ""
	}
	if len(temps) < airLeastReadings {
		return unknown, fmt.Sprintf("%d temperatures are too few", len(temps))
	}
	meanM, sdM := stat.MeanStdDev(heights, nil)
	if reliefM := sdM * math.Sqrt(12); reliefM < airLeastReliefM {
		return unknown, fmt.Sprintf("over %.0f m of height nothing shows that its temperature is that of the air outside", reliefM)
	}
	_, slope := stat.LinearRegression(heights, temps, nil, false)
	if lapse := -slope; !(lapse >= airLeastLapse && lapse <= airMostLapse) {
		return unknown, fmt.Sprintf("its temperature changes by %+.1f K for 1,000 m of height; the air outside cools by %.0f to %.1f K: a cab, or degrees Fahrenheit?", 1000*slope, 1000*airLeastLapse, 1000*airMostLapse)
	}
	standardK := standardSeaK - standardLapseKPerM*meanM
	airK := stat.Mean(temps, nil) + zeroCelsiusK
	if math.Abs(airK-standardK) > airMostDepartK {
		return unknown, fmt.Sprintf("its temperature is %+.0f K from the standard atmosphere; over %.0f K is another unit or a fault", airK-standardK, airMostDepartK)
	}
	// Weather without a thermometer and the thermometer's error are two independent normal errors.
	sensor := airSensorSDK / airK
	share := driveCommonScale * driveCommonScale / (driveCommonScale*driveCommonScale + sensor*sensor)
	return driveAir{isUsed: true, scale: share * (standardK/airK - 1), sd: driveCommonScale * math.Sqrt(1-share)}, ""
}
