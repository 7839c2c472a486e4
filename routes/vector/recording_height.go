package vector

import (
	"fmt"
	"math"
	"strings"

	"gradeline/routes"
	"gradeline/terrain"
)

// heightColumns are the columns of heights, best first, with the kind of each.
var heightColumns = []struct {
	name string
	kind routes.HeightKind
}{{"baro_m", routes.HeightBarometric}, {"pressure_hpa", routes.HeightBarometric}, {"gnss_m", routes.HeightSatellite}}

// mostHeightM is above any road; a height in another unit is likely beyond it.
const mostHeightM = 9000.0

// heightFrom reads the height of a row from the best column in the file.
func (b *recorder) heightFrom(line int, row []string, at map[string]int) (float64, error) {
	for _, c := range heightColumns {
		i, ok := at[c.name]
		if !ok {
			continue
		}
		b.out.Heights = c.kind
		text := ""
		if i < len(row) {
			text = strings.TrimSpace(row[i])
		}
		if text == "" {
			return math.NaN(), nil
		}
		v, ok := decimal(text)
		if ok && c.name == "pressure_hpa" {
			v = HeightFromPressureM(v)
		}
		if !ok || math.IsNaN(v) || math.Abs(v) > mostHeightM {
			return 0, b.fault(line, fmt.Sprintf("%s %q is not a possible height of a road", c.name, short(text)), "write figures as 812.5; a pressure in hPa")
		}
		return v, nil
	}
	return math.NaN(), nil
}

// HeightFromPressureM is the height in the standard atmosphere at which the air has a
// pressure, hectopascals (ISO 2533:1975: 1013.25 hPa, 288.15 K and -6.5 K/km at sea
// level). The weather of a day moves it by a hundred metres and its scale by several per
// cent. NaN for a pressure outside the range below 11 km.
func HeightFromPressureM(hPa float64) float64 {
	const (
		seaLevelHPa = 1013.25
		lapseKPerM  = 0.0065
		seaLevelK   = 288.15
		exponent    = 287.05287 * lapseKPerM / terrain.GravityMPS2
	)
	if !(hPa > 226 && hPa < 1200) {
		return math.NaN()
	}
	return seaLevelK / lapseKPerM * (1 - math.Pow(hPa/seaLevelHPa, exponent))
}
