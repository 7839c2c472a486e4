package vector

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/adrianmo/go-nmea"
	"pgregory.net/rapid"

	"gradeline/routes"
)

// sentence adds the check sum: the exclusive or of all characters (NMEA 0183).
func sentence(text string) string {
	var sum byte
	for i := range len(text) {
		sum ^= text[i]
	}
	return fmt.Sprintf("$%s*%02X\r\n", text, sum)
}

// The worked example that explains each field in many receivers' manuals (among them the course notes
// of the University of Hohenheim, "NMEA strings"): fix taken at 12:35:19 UTC on 23 March 1994, latitude
// 48 deg 07.038' N, longitude 11 deg 31.000' E, 22.4 knots, 545.4 m above mean sea level.
func TestNMEAAsItsWorkedExample(t *testing.T) {
	const text = "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n" +
		"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\r\n"
	rec, err := ReadRecording("d.nmea", strings.NewReader(text+sentence("GPRMC,123520,A,4807.038,N,01131.001,E,,084.4,230394,003.1,W")))
	if err != nil || len(rec.Fixes) != 2 || rec.Heights != routes.HeightSatellite {
		t.Fatalf("%+v, %v", rec, err)
	}
	f := rec.Fixes[0]
	if !f.At.Equal(time.Date(1994, 3, 23, 12, 35, 19, 0, time.UTC)) || math.Abs(f.LatDeg-48.1173) > 1e-9 || math.Abs(f.LonDeg-(11+31.0/60)) > 1e-9 || f.HeightM != 545.4 {
		t.Errorf("%+v", f)
	}
	if kmh := f.SpeedMPS * 3.6; math.Abs(kmh-41.4848) > 1e-9 { // 22.4 international knots of 1.852 km/h
		t.Errorf("%.4f km/h", kmh)
	}
	if g := rec.Fixes[1]; !math.IsNaN(g.SpeedMPS) || !math.IsNaN(g.HeightM) || !math.IsNaN(g.TempC) {
		t.Errorf("what is not recorded is %+v", g)
	}
}

// GPSBabel 1.8.0 reads the same log, over midnight and the end of a month: testdata has its output.
// The sentence with a wrong check sum and the one without a fix are left out by name.
func TestNMEAAsGPSBabelReadsIt(t *testing.T) {
	read := func(name string) routes.Recording {
		in, err := os.Open("testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		defer in.Close()
		rec, err := ReadRecording(name, in)
		if err != nil {
			t.Fatal(err)
		}
		return rec
	}
	got, want := read("drive.nmea"), map[time.Time]routes.Fix{}
	for _, f := range read("drive.gpsbabel.gpx").Fixes {
		want[f.At] = f
	}
	if len(got.Fixes) != 22 || len(want) != 23 || got.LeftOut != 2 {
		t.Fatalf("%d fixes, GPSBabel has %d; %d left out", len(got.Fixes), len(want), got.LeftOut)
	}
	for _, f := range got.Fixes {
		w, ok := want[f.At]
		if !ok || math.Abs(f.LonDeg-w.LonDeg) > 1e-8 || math.Abs(f.LatDeg-w.LatDeg) > 1e-8 || f.HeightM != w.HeightM || math.Abs(f.SpeedMPS-w.SpeedMPS) > 1e-5 {
			t.Errorf("%+v, GPSBabel %+v", f, w)
		}
	}
	said := fmt.Sprint(got.Skipped)
	for _, part := range []string{"checksum mismatch", "drive.nmea, line 25", "no fix"} {
		if !strings.Contains(said, part) {
			t.Errorf("%q is not in %s", part, said)
		}
	}
}

// A log of places without RMC takes its date from ZDA, over midnight; of two receivers the one with
// more fixes counts; a barometer's pressure gives the heights.
func TestNMEADatesReceiversAndPressure(t *testing.T) {
	gga := func(clock string) string {
		return sentence("GPGGA," + clock + ",4630.000,N,01115.000,W,1,08,0.9,800.0,M,46.9,M,,")
	}
	rec, err := ReadRecording("d", strings.NewReader(gga("235957")+sentence("GPZDA,235958.00,31,12,2025,00,00")+gga("235958.50")+gga("000001")))
	if err != nil || len(rec.Fixes) != 2 {
		t.Fatalf("%+v, %v", rec, err)
	}
	if a, b := rec.Fixes[0].At.Format(time.RFC3339Nano), rec.Fixes[1].At.Format(time.RFC3339Nano); a != "2025-12-31T23:59:58.5Z" || b != "2026-01-01T00:00:01Z" {
		t.Errorf("%s, %s", a, b)
	}
	rmc := func(talker, clock, lon string) string {
		return sentence(talker + "RMC," + clock + ",A,4630.000,N," + lon + ",W,20.0,,010126,,,A")
	}
	two := rmc("GP", "100000", "01115.000") + rmc("GL", "100000", "01115.009") + rmc("GP", "100001", "01115.001") + rmc("GL", "100001", "01115.008") + rmc("GL", "100002", "01115.007")
	rec, err = ReadRecording("d", strings.NewReader(two))
	if err != nil || len(rec.Fixes) != 3 || rec.LeftOut != 2 || !strings.Contains(fmt.Sprint(rec.Skipped), "2 fixes of talker GP are another receiver's; those of GL are used") {
		t.Errorf("%+v, %v", rec, err)
	}
	pressures := rmc("GP", "100000", "01115.000") + sentence("WIMDA,26.54,I,0.898746,B,7.5,C,,C,,,,C,,T,,M,,N,,M") + rmc("GP", "100001", "01115.000") + sentence("YXXDR,P,0.795,B,Barometer") + sentence("YXXDR,P,3.1,B,OIL") + rmc("GP", "100002", "01115.000") + rmc("GP", "100030", "01115.000")
	rec, err = ReadRecording("d", strings.NewReader(pressures))
	if err != nil || rec.Heights != routes.HeightBarometric || !rec.IsAirTemp || rec.Fixes[1].TempC != 7.5 {
		t.Fatalf("%+v, %v", rec, err)
	}
	// ISO 2533: 898.746 hPa at 1,000 m and 794.95 hPa at 2,000 m
	if a, b, c := rec.Fixes[1].HeightM, rec.Fixes[2].HeightM, rec.Fixes[3].HeightM; math.Abs(a-1000) > .1 || math.Abs(b-1999.5) > 1 || !math.IsNaN(c) {
		t.Errorf("%g, %g, %g m", a, b, c)
	}
}

// What can't be right is never a place, a date or a height.
func TestNMEAFaultsAreNamed(t *testing.T) {
	good := sentence("GPRMC,100000,A,4630.000,N,01115.000,W,20.0,,010126,,,A") + sentence("GPRMC,100001,A,4630.000,N,01115.000,W,20.0,,010126,,,A")
	for _, c := range []struct{ line, says string }{
		{"$GPRMC,100002,A,4630.000,N,01115.000,W,20.0,,010126,,,A\n", "does not contain checksum"},
		{"$GPRMC,100002,A,4630.000,N,01115.000,W,20.0,,010126,,,A*00\n", "checksum mismatch"},
		{sentence("GPRMC,100002,A,4661.000,N,01115.000,W,20.0,,010126,,,A"), "60 minutes"},
		{sentence("GPRMC,100002,A,9630.000,N,01115.000,W,20.0,,010126,,,A"), "latitude"},
		{sentence("GPRMC,100002,A,4630.000,N,01115.000,W,20.0,,310226,,,A"), "no possible date"},
		{sentence("GPRMC,250002,A,4630.000,N,01115.000,W,20.0,,010126,,,A"), "no possible date"},
		{sentence("GPRMC,,A,4630.000,N,01115.000,W,20.0,,010126,,,A"), "no possible date"},
		{sentence("GPRMC,100002,A,4630.000,N,01115.000,W,fast,,010126,,,A"), "speed"},
		{sentence("GPRMC,100002,A,4630.000,N,01115.000,W,900.0,,010126,,,A"), "impossible for a truck"},
	} {
		rec, err := ReadRecording("f", strings.NewReader(good+c.line))
		if err != nil || len(rec.Fixes) != 2 || len(rec.Skipped) != 1 || !strings.Contains(rec.Skipped[0].Why, c.says) || !strings.Contains(rec.Skipped[0].Where, "line 3") {
			t.Errorf("%q: %d fixes, %v, %v; want %q", c.line, len(rec.Fixes), rec.Skipped, err, c.says)
		}
	}
	for text, says := range map[string]string{
		sentence("GPRMC,100002,V,,,,,,,010126,,,N"):                                "never had a fix",
		sentence("GPGGA,100002,4630.0,N,01115.0,W,1,08,0.9,800.0,M,46.9,M,,"):      "none of its points has a time",
		sentence("GPGSV,1,1,02,05,40,083,46,12,17,308,41"):                         "0 point",
		sentence("GPRMC,100000,A,4630.000,N,01115.000,W,20.0,,010126,,,A") + "$GP": "1 point",
	} {
		if _, err := ReadRecording("f", strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, want %q", text, err, says)
		}
	}
}

// Any moment, place and speed that the library writes comes back.
func TestNMEAComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat, lon := rapid.Float64Range(0, 89.99).Draw(t, "lat"), rapid.Float64Range(0, 179.99).Draw(t, "lon")
		at := time.Unix(rapid.Int64Range(315532800, 2840140800).Draw(t, "at"), 0).UTC() // 1980 to 2059
		kn := float64(rapid.IntRange(0, 600).Draw(t, "speed")) / 10
		pad := func(s string, n int) string { return strings.Repeat("0", max(0, n-strings.IndexByte(s, '.'))) + s }
		text := ""
		for i := range 2 {
			now := at.Add(time.Duration(i) * time.Second)
			text += sentence(fmt.Sprintf("GNRMC,%s,A,%s,S,%s,E,%.1f,,%s,,,A", now.Format("150405.00"), pad(nmea.FormatGPS(lat), 4), pad(nmea.FormatGPS(lon), 5), kn, now.Format("020106")))
		}
		rec, err := ReadRecording("f", strings.NewReader(text))
		if err != nil || len(rec.Fixes) != 2 {
			t.Fatalf("%q: %+v, %v", text, rec, err)
		}
		f := rec.Fixes[0]
		if !f.At.Equal(at) || math.Abs(f.LatDeg+lat) > 1e-5 || math.Abs(f.LonDeg-lon) > 1e-5 || math.Abs(f.SpeedMPS-kn*1852/3600) > 1e-9 {
			t.Fatalf("%q: %+v", text, f)
		}
	})
}

func FuzzReadNMEARecording(f *testing.F) {
	if text, err := os.ReadFile("testdata/drive.nmea"); err == nil {
		f.Add(string(text))
	}
	f.Add(sentence("GPGGA,100000,4630.0,N,01115.0,W,1,08,0.9,800.0,M,46.9,M,,") + sentence("GPZDA,100001.00,31,12,2025,00,00") + sentence("WIMDA,26.54,I,0.898746,B,7.5,C,,C,,,,C,,T,,M,,N,,M"))
	f.Fuzz(func(t *testing.T, text string) { soundRecording(t, "$GPRMC,\n"+text) })
}
