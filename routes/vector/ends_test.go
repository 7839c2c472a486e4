package vector

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/airbusgeo/godal"
)

// What a recording's figures may be, just within and just beyond.
func TestEndsOfARecordingsFigures(t *testing.T) {
	header := func(more string) string { return "time_s,lon_deg,lat_deg" + more + "\n" }
	for _, k := range []struct {
		name, text string
		fixes      int    // 0 where it is refused
		says       string // of the fault, or of what is left out
	}{
		{"100 m/s", header(",speed_mps") + "0,1,2,100\n1,1,2,0\n", 2, ""},
		{"101 m/s", header(",speed_mps") + "0,1,2,101\n1,1,2,10\n2,1,2,10\n", 2, "impossible for a truck"},
		{"a negative speed", header(",speed_kmh") + "0,1,2,-1\n1,1,2,10\n2,1,2,10\n", 2, "impossible for a truck"},
		{"9,000 m", header(",gnss_m") + "0,1,2,9000\n1,1,2,-9000\n", 2, ""},
		{"9,001 m", header(",gnss_m") + "0,1,2,9001\n1,1,2,5\n", 0, "not a possible height"},
		{"310 hPa", header(",pressure_hpa") + "0,1,2,310\n1,1,2,1199\n", 2, ""},
		{"305 hPa, over 9,000 m", header(",pressure_hpa") + "0,1,2,305\n1,1,2,1013\n", 0, "not a possible height"},
		{"1,201 hPa", header(",pressure_hpa") + "0,1,2,1201\n1,1,2,1013\n", 0, "not a possible height"},
		{"nine thousand million seconds", header("") + "8.999e9,1,2\n9e9,1,2\n", 2, ""},
		{"more than these", header("") + "0,1,2\n1,1,2\n9.01e9,1,2\n", 2, "not a number of seconds"},
		{"200 columns", "time_s,lon_deg,lat_deg" + strings.Repeat(",x", 197) + "\n0,1,2\n1,1,2\n", 2, ""},
		{"201 columns", "time_s,lon_deg,lat_deg" + strings.Repeat(",x", 198) + "\n0,1,2\n1,1,2\n", 0, "201 columns"},
		{"the year 1901", "time,lon_deg,lat_deg\n1901-01-01T00:00:00Z,1,2\n2199-12-31T00:00:00Z,1,2\n", 2, ""},
		{"the year 1900", "time,lon_deg,lat_deg\n1900-06-01T00:00:00Z,1,2\n2026-01-01T00:00:00Z,1,2\n", 0, "is not a time"},
		{"the year 2200", "time,lon_deg,lat_deg\n2026-01-01T00:00:00Z,1,2\n2200-01-01T00:00:00Z,1,2\n", 0, "is not a time"},
		{"one point", header("") + "0,1,2\n", 0, "the drive has 1 point"},
		{"both kinds of time", "time,time_s,lon_deg,lat_deg\n", 0, "lacks time"},
		{"speed in two units", header(",speed_kmh,speed_mph") + "0,1,2,3,4\n", 0, "twice"},
		{"a column twice", header(",lon") + "0,1,2,1\n", 0, "twice"},
	} {
		rec, err := ReadRecording("d.csv", strings.NewReader(k.text))
		if k.fixes == 0 {
			if err == nil || !strings.Contains(err.Error(), k.says) {
				t.Errorf("%s: %v", k.name, err)
			}
			continue
		}
		if err != nil || len(rec.Fixes) != k.fixes || (len(rec.Skipped) > 0) != (k.says != "") || k.says != "" && !strings.Contains(rec.Skipped[0].Why, k.says) {
			t.Errorf("%s: %d fixes, %v, %v", k.name, len(rec.Fixes), rec.Skipped, err)
		}
	}
}

// Gears of 1 to 30 are gears, 0 and N are neutral; a count of seconds from 300 million on is
// a clock; of the points left out twenty are named.
func TestGearsClocksAndWhatIsNamed(t *testing.T) {
	text := "time_s,lon_deg,lat_deg,gear\n"
	for i, g := range []string{"1", "30", "31", "0", "n", "Neutral", "2.5", ""} {
		text += fmt.Sprintf("%d,1,2,%s\n", i, g)
	}
	rec, err := ReadRecording("d.csv", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []struct {
		gear    int
		neutral bool
	}{{1, false}, {30, false}, {0, false}, {0, true}, {0, true}, {0, true}, {0, false}, {0, false}} {
		if f := rec.Fixes[i]; f.Gear != want.gear || f.IsNeutral != want.neutral {
			t.Errorf("fix %d: gear %d, neutral %t", i, f.Gear, f.IsNeutral)
		}
	}
	for start, noClock := range map[string]bool{"299999999": true, "300000000": false, "310000000": false, "0": true} {
		rec, err := ReadRecording("d.csv", strings.NewReader("time_s,lon_deg,lat_deg\n"+start+",1,2\n1e9,1,2\n"))
		if err != nil || rec.NoClock != noClock {
			t.Errorf("%s: no clock %t, %v", start, rec.NoClock, err)
		}
	}
	for bad, want := range map[int]int{20: 20, 21: 21, 30: 21} { // the last says how many more
		text := "time_s,lon_deg,lat_deg\n0,1,2\n1,1,2\n"
		for i := range bad {
			text += fmt.Sprintf("%d,181,2\n", 2+i)
		}
		rec, err := ReadRecording("d.csv", strings.NewReader(text))
		if err != nil || len(rec.Skipped) != want || rec.LeftOut != bad {
			t.Errorf("%d bad points: %d named, %d left out, %v", bad, len(rec.Skipped), rec.LeftOut, err)
		}
		if bad == 30 && !strings.HasPrefix(rec.Skipped[20].Why, "10 more points") {
			t.Errorf("%+v", rec.Skipped[20])
		}
	}
}

// Heights by ISO 2533: 898.746 hPa at 1,000 m, 795.014 at 2,000 m, 1,013.25 at the sea.
func TestHeightsOfTheStandardAtmosphere(t *testing.T) {
	for hPa, want := range map[float64]float64{1013.25: 0, 898.746: 1000, 795.014: 2000, 540.199: 5000} {
		if got := HeightFromPressureM(hPa); math.Abs(got-want) > 1 {
			t.Errorf("%g hPa: %.2f m, want %g", hPa, got, want)
		}
	}
	for hPa, known := range map[float64]bool{226: false, 227: true, 1199: true, 1200: false, 0: false, -5: false} {
		if got := HeightFromPressureM(hPa); math.IsNaN(got) == known {
			t.Errorf("%g hPa: %g m", hPa, got)
		}
	}
}

// Four ways to write one moment, without a zone in UTC.
func TestMomentsWithoutAZone(t *testing.T) {
	want := time.Date(2026, 5, 4, 9, 30, 0, 250e6, time.UTC)
	for _, s := range []string{"2026-05-04T09:30:00.25Z", "2026-05-04T11:30:00.25+02:00", "2026-05-04T09:30:00.25", "2026-05-04 09:30:00.25", "2026-05-04 11:30:00.25+02:00"} {
		if got, ok := momentOf(s); !ok || !got.Equal(want) {
			t.Errorf("%s: %v, %t", s, got, ok)
		}
	}
}

// The types of OGC Simple Features that may hold lines: unknown, line, multi-line,
// collection, circular string, compound curve, multi-curve and curve; with Z, M or both.
func TestWhichTypesMayHoldLines(t *testing.T) {
	holds := map[int]bool{0: true, 2: true, 5: true, 7: true, 8: true, 9: true, 11: true, 13: true}
	for n := range 18 {
		for _, add := range []uint32{0, 1000, 2000, 3000, 0x80000000} {
			if got := mayHoldLines(godal.GeometryType(uint32(n) + add)); got != holds[n] {
				t.Errorf("type %d + %d: %t", n, add, got)
			}
		}
	}
}
