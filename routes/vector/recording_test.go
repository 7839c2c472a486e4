package vector

import (
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/tkrajina/gpxgo/gpx"
	"pgregory.net/rapid"

	"gradeline/routes"
	"gradeline/terrain"
)

// gpxText is a track of two segments as a recorder writes it, GPX 1.1.
const gpxText = `<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="http://example.org/x">
 <metadata><desc>INVENTED</desc><time>2026-05-04T09:00:00Z</time></metadata>
 <wpt lat="1" lon="2"><time>2026-05-04T08:00:00Z</time></wpt>
 <trk><name>Morning &amp; drive</name>
  <trkseg>
   <trkpt lat="46.0001" lon="11.0002"><ele>1500.5</ele><time>2026-05-04T09:30:00Z</time></trkpt>
   <trkpt lat="46.0003" lon="11.0004"><time>2026-05-04T09:30:01.5Z</time><extensions><x:speed>99</x:speed></extensions></trkpt>
  </trkseg>
  <trkseg>
   <trkpt lon="-11.25" lat="-46.125"><time>2026-05-04T11:31:00+02:00</time></trkpt>
   <trkpt lat="46.2" lon="11.3"/>
   <trkpt lat="46.2" lon="11.3"><time>2026-05-04T09:30:30Z</time></trkpt>
   <trkpt lat="46.2" lon="11.3"><time>2026-05-04T09:32:00Z</time><speed>12.5</speed></trkpt>
  </trkseg>
 </trk>
</gpx>
`

// OGR reads the same file: its layer track_points, field time, geometry. What we
// leave out (a point without a time, one whose time falls) we name.
func TestGPXAsOGRReadsIt(t *testing.T) {
	file := filepath.Join(t.TempDir(), "drive.gpx")
	if err := os.WriteFile(file, []byte(gpxText), 0o644); err != nil {
		t.Fatal(err)
	}
	script := `
import sys, calendar
from osgeo import ogr
ogr.UseExceptions()
source = ogr.Open(sys.argv[1])
for f in source.GetLayerByName("track_points"):
    if f.IsFieldSetAndNotNull("time"):
        y, mo, d, h, mi, s, z = f.GetFieldAsDateTime("time")
        at = calendar.timegm((y, mo, d, h, mi, 0)) + s - (0 if z < 2 else (z - 100) * 900)
        g = f.geometry()
        print(repr(g.GetX()), repr(g.GetY()), repr(round(at, 3)), f.GetField("track_seg_id"))
`
	out, err := exec.Command("/usr/bin/python3", "-c", script, file).Output()
	if err != nil {
		t.Fatal(err)
	}
	type point struct {
		lon, lat, at float64
		part         int
	}
	var want []point
	for _, l := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		var p point
		if _, err := fmt.Sscan(l, &p.lon, &p.lat, &p.at, &p.part); err != nil {
			t.Fatalf("%q: %v", l, err)
		}
		if len(want) == 0 || p.at > want[len(want)-1].at {
			want = append(want, p)
		}
	}
	rec, err := ReadRecording(file, strings.NewReader(gpxText))
	if err != nil {
		t.Fatal(err)
	}
	if len(rec.Fixes) != len(want) || len(want) != 4 {
		t.Fatalf("%d fixes, OGR has %d", len(rec.Fixes), len(want))
	}
	for i, f := range rec.Fixes {
		w := want[i]
		if f.LonDeg != w.lon || f.LatDeg != w.lat || f.Part != w.part || math.Abs(float64(f.At.UnixNano())/1e9-w.at) > 1e-3 {
			t.Errorf("fix %d is %+v, OGR's %+v", i, f, w)
		}
	}
	if rec.Name != "Morning & drive" || rec.Note != "INVENTED" {
		t.Errorf("name %q, note %q", rec.Name, rec.Note)
	}
	if !math.IsNaN(rec.Fixes[1].SpeedMPS) || rec.Fixes[3].SpeedMPS != 12.5 {
		t.Errorf("speeds %v and %v: an extension's has no unit that a standard sets", rec.Fixes[1].SpeedMPS, rec.Fixes[3].SpeedMPS)
	}
	if len(rec.Skipped) != 2 || !strings.Contains(rec.Skipped[0].Where, "line 12") || !strings.Contains(rec.Skipped[1].Why, "out of order") {
		t.Errorf("left out: %v", rec.Skipped)
	}
}

// github.com/tkrajina/gpxgo, which shares no code with this reader or OGR, reads the same track: all its
// points with a rising time, with their heights.
func TestGPXAsAnotherLibraryReadsIt(t *testing.T) {
	text := strings.NewReplacer("09:30:01.5Z", "09:30:01Z", "11:31:00+02:00", "09:31:00Z").Replace(gpxText) // gpxgo reads whole seconds in UTC
	text = strings.Replace(text, "<trkpt lat=\"46.0003\" lon=\"11.0004\">", "<trkpt lat=\"46.0003\" lon=\"11.0004\"><ele>-12.25</ele>", 1)
	doc, err := gpx.ParseString(text)
	if err != nil {
		t.Fatal(err)
	}
	rec, err := ReadRecording("d.gpx", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	k := 0
	var last time.Time
	for part, segment := range doc.Tracks[0].Segments {
		for _, p := range segment.Points {
			if !p.Timestamp.After(last) {
				continue
			}
			last = p.Timestamp
			if k == len(rec.Fixes) {
				t.Fatalf("gpxgo has more points than our %d", k)
			}
			f := rec.Fixes[k]
			k++
			height := math.NaN()
			if p.Elevation.NotNull() {
				height = p.Elevation.Value()
			}
			if f.LonDeg != p.Longitude || f.LatDeg != p.Latitude || !f.At.Equal(p.Timestamp) || f.Part != part || f.HeightM != height && !math.IsNaN(f.HeightM+height) || math.IsNaN(f.HeightM) != math.IsNaN(height) {
				t.Errorf("%+v, gpxgo %+v", f, p)
			}
		}
	}
	if k != len(rec.Fixes) || k != 4 || rec.Name != doc.Tracks[0].Name {
		t.Errorf("%d of our %d fixes; name %q, gpxgo %q", k, len(rec.Fixes), rec.Name, doc.Tracks[0].Name)
	}
}

// OGR's CSV driver reads the same columns.
func TestCSVAsOGRReadsIt(t *testing.T) {
	file := filepath.Join(t.TempDir(), "drive.csv")
	var b strings.Builder
	b.WriteString("time_s,lat_deg,lon_deg,speed_kmh,engine_rpm,note,baro_m,air_temp_c\n")
	for i := range 50 {
		fmt.Fprintf(&b, "%g,%.7f,%.7f,%.1f,%d,\"a, \"\"b\"\"\",%.2f,%.1f\n", 1.7e9+1.5*float64(i), 46+1e-4*float64(i), -11-2e-4*float64(i), 30+.3*float64(i), 1500+i, 812.5-.25*float64(i), 7+.1*float64(i))
	}
	if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("/usr/bin/python3", "-c", `
import sys
from osgeo import gdal
gdal.UseExceptions()
source = gdal.OpenEx(sys.argv[1], open_options=["AUTODETECT_TYPE=YES"])
for f in source.GetLayer(0):
    print(*[repr(f.GetField(n)) for n in ("time_s", "lon_deg", "lat_deg", "speed_kmh", "engine_rpm", "baro_m", "air_temp_c")])
`, file).Output()
	if err != nil {
		t.Fatal(err)
	}
	rec, err := ReadRecording(file, strings.NewReader(b.String()))
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if err != nil || len(lines) != 50 || len(rec.Fixes) != 50 || !rec.IsAirTemp {
		t.Fatalf("%d lines, %d fixes, %v", len(lines), len(rec.Fixes), err)
	}
	for i, f := range rec.Fixes {
		var at, lon, lat, kmh, rpm, m, c float64
		if _, err := fmt.Sscan(lines[i], &at, &lon, &lat, &kmh, &rpm, &m, &c); err != nil {
			t.Fatalf("%q: %v", lines[i], err)
		}
		if math.Abs(float64(f.At.UnixMilli())/1e3-at) > 1e-6 || f.LonDeg != lon || f.LatDeg != lat || math.Abs(f.SpeedMPS*3.6-kmh) > 1e-9 || f.EngineRPM != rpm || f.HeightM != m || f.TempC != c {
			t.Errorf("%+v, OGR %s", f, lines[i])
		}
	}
}

func TestCSVRecording(t *testing.T) {
	text := "\uFEFFtime,lat_deg,lon_deg,speed_mph,engine_rpm,gear,service_brake,comment\r\n" +
		"2026-05-04T09:30:00Z,46.1,11.2,30,1800,6,0,\"a, b\"\r\n" +
		"2026-05-04 09:30:01,46.2,11.3,,,N,1,\n" +
		",46.2,11.3,,,,,\n"
	if _, err := ReadRecording("d.csv", strings.NewReader(strings.Replace(text, ",N,", ",R,", 1))); err == nil || !strings.Contains(err.Error(), `line 3: gear "R" is not a number`) {
		t.Errorf("a gear that is no number is guessed: %v", err)
	}
	rec, err := ReadRecording("d.csv", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	a, b := rec.Fixes[0], rec.Fixes[1]
	if math.Abs(a.SpeedMPS-30*0.44704) > 1e-12 || a.EngineRPM != 1800 || a.Gear != 6 || *a.ServiceBrake || a.LatDeg != 46.1 || a.LonDeg != 11.2 {
		t.Errorf("%+v", a)
	}
	if !math.IsNaN(b.SpeedMPS) || !math.IsNaN(b.EngineRPM) || b.Gear != 0 || !b.IsNeutral || a.IsNeutral || !*b.ServiceBrake || b.At.Sub(a.At) != time.Second {
		t.Errorf("%+v", b)
	}
	if len(rec.Skipped) != 1 || rec.Skipped[0].Why != "it has no time" {
		t.Errorf("%v", rec.Skipped)
	}
	rec, err = ReadRecording("s.csv", strings.NewReader("time_s,lon,lat\n0,1,2\n0.5,1,2\n"))
	if err != nil || rec.Fixes[1].At.Sub(rec.Fixes[0].At) != time.Second/2 || !rec.NoClock {
		t.Errorf("seconds: %v %v", rec, err)
	}
}

// One wild time costs one point, whichever way it is off; gear 0 is neutral; a
// time_s that no clock counts, or beyond what a Duration holds, is named.
func TestOneWildTimeCostsOnePoint(t *testing.T) {
	for _, wild := range []string{"1900000000", "100", "-9.3e9", "1.7e12"} {
		text := "time_s,lon,lat,gear\n"
		for i := range 10 {
			if at := strconv.Itoa(1700000000 + i); i == 4 {
				text += wild + ",1,2,0\n"
			} else {
				text += at + ",1,2,0\n"
			}
		}
		rec, err := ReadRecording("d.csv", strings.NewReader(text))
		if err != nil || len(rec.Fixes) != 9 || rec.LeftOut != 1 || len(rec.Skipped) != 1 || !strings.Contains(rec.Skipped[0].Where, "line 6") || !rec.Fixes[0].IsNeutral || rec.NoClock {
			t.Errorf("%s: %d fixes, %v, %v", wild, len(rec.Fixes), rec.Skipped, err)
		}
	}
}

func TestBadRecordingsSayWhereAndWhat(t *testing.T) {
	gpx := func(body string) string { return `<gpx version="1.1">` + "\n" + body + `</gpx>` }
	for _, c := range []struct{ text, says string }{
		{"", "is empty"},
		{"time,lon_deg\n1,2\n", "lacks time"},
		{"time,lon_deg,lat_deg,speed\n", "speed_kmh, speed_mph or speed_mps"},
		{"time,longitude,latitude\n", "lon_deg"},
		{"time,lon_deg,lat_deg,speed_kmh,speed_mph\n", "twice, or speed in two units"},
		{"time;lon_deg;lat_deg\n", "semicolons"},
		{"time\tlon_deg\tlat_deg\n", "tabs"},
		{"\xff\xd8\xff\xe0\x00\x10JFIF", "not a text"},
		{"\xff\xfet\x00i\x00m\x00e\x00", "not a text"},
		{"time_s,lon_deg,lat_deg\n1777887000000,1,2\n1777887002000,1,2\n", "of 2 left out the first: its time_s is not a number of seconds"},
		{"time,lon_deg,lat_deg\nnoon,1,2\n", `line 2: time "noon" is not a time`},
		{"time,lon_deg,lat_deg\n2026-05-04T09:30:00Z,eleven,2\n", "line 2: lon_deg"},
		{"time,lon_deg,lat_deg,service_brake\n2026-05-04T09:30:00Z,1,2,maybe\n", "neither 0 nor 1"},
		{"time,lon_deg,lat_deg\n2026-05-04T09:30:00Z,1,2\n", "the drive has 1 point"},
		{"time,lon_deg,lat_deg\n\"2026", "not well-formed CSV"},
		{"<kml></kml>", "<kml>, not <gpx>"},
		{gpx("<trk><trkseg><trkpt lat='1' lon='2'/><trkpt lat='1' lon='3'/></trkseg></trk>"), "none of its points has a time"},
		{gpx("<trk><trkseg><trkpt lat='1' lon='2'>"), "not well-formed GPX"},
		{"<gpx>\n<trk>", "line 2"},
		{gpx(""), "the drive has 0 point"},
		{gpx(strings.Repeat("<a>", 100)), "deeper"},
	} {
		_, err := ReadRecording("f", strings.NewReader(c.text))
		var fault *routes.Fault
		if !errors.As(err, &fault) || !errors.Is(err, terrain.ErrInput) || !strings.Contains(err.Error(), c.says) || fault.Fix == "" {
			t.Errorf("%.60q: %v, want %q", c.text, err, c.says)
		}
	}
	if _, err := ReadRecording("f", iotest.ErrReader(errors.New("disk"))); !errors.Is(err, terrain.ErrRead) {
		t.Errorf("a failing disk: %v", err)
	}
}

// What is written comes back, and times always rise.
func TestRecordingsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 30).Draw(t, "n")
		var csvOut, gpxOut strings.Builder
		csvOut.WriteString("time,lon_deg,lat_deg\n")
		gpxOut.WriteString("<gpx><trk><trkseg>")
		var at []time.Time
		var lon []float64
		moment := time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)
		for i := range n {
			moment = moment.Add(time.Duration(rapid.IntRange(1, 5000).Draw(t, "ms")) * time.Millisecond)
			x := rapid.Float64Range(-180, 180).Draw(t, "lon")
			at, lon = append(at, moment), append(lon, x)
			s := strconv.FormatFloat(x, 'g', -1, 64)
			fmt.Fprintf(&csvOut, "%s,%s,%d\n", moment.Format(time.RFC3339Nano), s, i)
			fmt.Fprintf(&gpxOut, "<trkpt lat='%d' lon='%s'><time>%s</time></trkpt>", i, s, moment.Format(time.RFC3339Nano))
		}
		gpxOut.WriteString("</trkseg></trk></gpx>")
		for _, text := range []string{csvOut.String(), gpxOut.String()} {
			rec, err := ReadRecording("f", strings.NewReader(text))
			if err != nil || len(rec.Fixes) != n || len(rec.Skipped) != 0 {
				t.Fatalf("%d of %d, %v", len(rec.Fixes), n, err)
			}
			for i, f := range rec.Fixes {
				if !f.At.Equal(at[i]) || f.LonDeg != lon[i] || f.LatDeg != float64(i) {
					t.Fatalf("fix %d: %+v", i, f)
				}
			}
		}
	})
}

func FuzzReadGPXRecording(f *testing.F) {
	f.Add(gpxText)
	f.Add("<gpx><trk><trkseg><trkpt lat='1' lon='2'><time>2026-05-04T09:30:00</time>")
	f.Fuzz(func(t *testing.T, text string) { soundRecording(t, "<gpx>"+strings.TrimPrefix(text, "<gpx>")) })
}

func FuzzReadCSVRecording(f *testing.F) {
	f.Add("time_s,lon_deg,lat_deg,speed_kmh,engine_rpm,gear,service_brake\n0,1,2,30,1500,5,1\n1,1,2,30,1500,5,0\n")
	f.Add("time,lon,lat\n2026-05-04T09:30:00Z,1,2\n")
	f.Fuzz(soundRecording)
}

// soundRecording reads a text: a typed fault, or fixes that are places with rising times.
func soundRecording(t *testing.T, text string) {
	rec, err := ReadRecording("f", strings.NewReader(text))
	if err != nil {
		var fault *routes.Fault
		if !errors.As(err, &fault) {
			t.Fatalf("untyped error %v", err)
		}
		return
	}
	for i, x := range rec.Fixes {
		if !(terrain.Point{LonDeg: x.LonDeg, LatDeg: x.LatDeg}).Valid() || i > 0 && !x.At.After(rec.Fixes[i-1].At) || x.SpeedMPS < 0 || x.Gear < 0 {
			t.Fatalf("fix %d: %+v", i, x)
		}
	}
}
