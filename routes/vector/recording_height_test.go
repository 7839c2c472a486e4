package vector

import (
	"math"
	"strings"
	"testing"

	"gradeline/routes"
)

// ISO 2533:1975 (the ICAO standard atmosphere has the same), table of pressure by
// geopotential height, from memory.
func TestHeightFromPressure(t *testing.T) {
	for _, c := range []struct{ heightM, hPa float64 }{{0, 1013.25}, {1000, 898.746}, {2000, 794.952}, {3000, 701.085}, {5000, 540.199}} {
		if got := HeightFromPressureM(c.hPa); !(math.Abs(got-c.heightM) <= .15) {
			t.Errorf("%.2f hPa: %.2f m, table %.0f", c.hPa, got, c.heightM)
		}
	}
	for _, hPa := range []float64{0, -5, math.NaN(), 5000, 29.92} {
		if got := HeightFromPressureM(hPa); !math.IsNaN(got) {
			t.Errorf("%g hPa gives %g m", hPa, got)
		}
	}
}

// Altitude (feet) and absolute pressure (psi) of the U.S. Standard Atmosphere 1976 as tabulated at
// engineeringtoolbox.com/standard-atmosphere-d_604.html: .001 psi are .6 m at sea level and 1.5 m at
// 30,000 ft. The altitudes are geometric: the geopotential ones, of the standard's formula, follow with
// its radius of the earth, 6,356,766 m (crnslab.org/util/atmo.php), and are 13 m less at 30,000 ft. The top of the lowest layer, 11 km, has 22,632.1 Pa (fxsolver.com/solve/preset/table/1).
func TestHeightFromPressureAsPublished(t *testing.T) {
	const psiHPa = 68.94757 // NIST Special Publication 811, appendix B.8
	for _, c := range []struct{ altitudeFt, psi float64 }{{0, 14.696}, {5000, 12.228}, {10000, 10.108}, {15000, 8.297}, {20000, 6.759}, {25000, 5.461}, {30000, 4.373}} {
		slackM := .00055 * psiHPa * 100 / (1.225 * 9.81) * math.Pow(14.696/c.psi, .81) // by the air's density
		geometricM := .3048 * c.altitudeFt
		wantM := geometricM * 6356766 / (6356766 + geometricM)
		if got := HeightFromPressureM(c.psi * psiHPa); !(math.Abs(got-wantM) <= slackM) {
			t.Errorf("%.3f psi: %.2f m, table %.2f ± %.2f", c.psi, got, wantM, slackM)
		}
	}
	if got := HeightFromPressureM(226.321); !(math.Abs(got-11000) <= .1) {
		t.Errorf("11 km: %.2f m", got)
	}
}

// The temperature of Garmin's TrackPointExtension (degrees Celsius) is the recorder's; a CSV file says
// whether it is that of the air outside. None is none, not 0 °C.
func TestTemperatureOfARecording(t *testing.T) {
	for _, c := range []struct {
		text  string
		isAir bool
		tempC float64
	}{
		{"<gpx><trk><trkseg><trkpt lat='2' lon='1'><time>2026-05-04T09:30:00Z</time><extensions><x:TrackPointExtension xmlns:x='http://www.garmin.com/xmlschemas/TrackPointExtension/v1'><x:atemp>21.5</x:atemp></x:TrackPointExtension></extensions></trkpt><trkpt lat='2' lon='1'><time>2026-05-04T09:30:01Z</time></trkpt></trkseg></trk></gpx>", false, 21.5},
		{"time_s,lon,lat,temp_c\n0,1,2,21.5\n1,1,2,\n", false, 21.5},
		{"time_s,lon,lat,temp_c,air_temp_c\n0,1,2,21.5,-3\n1,1,2,21.5,\n", true, -3},
	} {
		rec, err := ReadRecording("f", strings.NewReader(c.text))
		if err != nil || rec.IsAirTemp != c.isAir || rec.Fixes[0].TempC != c.tempC || !math.IsNaN(rec.Fixes[1].TempC) {
			t.Errorf("%q: %+v, %v", c.text, rec, err)
		}
	}
}

func TestHeightsOfARecording(t *testing.T) {
	for _, c := range []struct {
		name, text string
		kind       routes.HeightKind
		firstM     float64
	}{
		{"barometer", "time_s,lon,lat,gnss_m,baro_m\n0,1,2,900,812.5\n1,1,2,901,812\n", routes.HeightBarometric, 812.5},
		{"pressure", "time_s,lon,lat,pressure_hpa\n0,1,2,898.746\n1,1,2,\n", routes.HeightBarometric, 1000},
		{"satellite", "time_s,lon,lat,gnss_m\n0,1,2,900\n1,1,2,901\n", routes.HeightSatellite, 900},
		{"gpx", "<gpx><trk><trkseg><trkpt lat='2' lon='1'><ele>700.5</ele><time>2026-05-04T09:30:00Z</time></trkpt><trkpt lat='2' lon='1'><time>2026-05-04T09:30:01Z</time></trkpt></trkseg></trk></gpx>", routes.HeightUnknown, 700.5},
	} {
		rec, err := ReadRecording("f", strings.NewReader(c.text))
		if err != nil || rec.Heights != c.kind || !(math.Abs(rec.Fixes[0].HeightM-c.firstM) <= .15) {
			t.Errorf("%s: %+v, %v", c.name, rec, err)
		}
	}
	for _, bad := range []string{"900 m", "1e9", "nan"} {
		if _, err := ReadRecording("f", strings.NewReader("time_s,lon,lat,baro_m\n0,1,2,"+bad+"\n1,1,2,5\n")); err == nil || !strings.Contains(err.Error(), "line 2") || !strings.Contains(err.Error(), "baro_m") {
			t.Errorf("%q: %v", bad, err)
		}
	}
}
