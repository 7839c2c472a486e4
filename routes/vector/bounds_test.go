package vector

import (
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"google.golang.org/protobuf/encoding/protowire"

	"gradeline/routes"
)

// A box lies within 180° and 90°.
func TestWhatABoxIs(t *testing.T) {
	for _, k := range []struct {
		west, south, east, north float64
		ok                       bool
	}{{-180, -90, 180, 90, true}, {-181, 0, 0, 1, false}, {0, 0, 181, 1, false}, {0, -91, 1, 0, false}, {0, 0, 1, 91, false}, {1, 0, 1, 1, false}, {0, 1, 1, 1, false}, {2, 0, 1, 1, false}, {0, 2, 1, 1, false}} {
		if err := checkBox(&orb.Bound{Min: orb.Point{k.west, k.south}, Max: orb.Point{k.east, k.north}}); (err == nil) != k.ok {
			t.Errorf("%+v: %v", k, err)
		}
	}
}

// A block's header has 64 KiB at most (fileformat.proto of OpenStreetMap's PBF), and an
// extract's date lies before the year 2242.
func TestLimitsOfABinaryExtract(t *testing.T) {
	for _, headB := range []int{64 << 10, 64<<10 + 1} {
		b := crossing().pbf()
		size := int(binary.BigEndian.Uint32(b))
		head := message(b[4 : 4+size])
		pad := headB - size - 4 // tag and a length of three bytes
		head = append(head[:size:size], message{}.bytes(2, make([]byte, pad))...)
		b = append(append(binary.BigEndian.AppendUint32(nil, uint32(len(head))), head...), b[4+size:]...)
		if got := readExtract(inFile(t, "a.osm.pbf", b), Options{}); len(head) != headB || (got.err == nil) != (headB == 64<<10) {
			t.Errorf("a header of %d bytes: %v", len(head), got.err)
		}
	}
	for seconds, want := range map[uint64]string{1767225600: "2026-01-01T00:00:00Z", 1<<33 - 1: "2242-03-16T12:56:31Z", 1 << 33: "", 0: ""} {
		var m madeOSM
		b := m.block("OSMHeader", message{}.bytes(4, []byte("OsmSchema-V0.6")).bytes(4, []byte("DenseNodes")).num(32, seconds))
		rest := timedPBF(nil, 0) // one road without a time
		n := 4 + int(binary.BigEndian.Uint32(rest))
		var dataB uint64
		if err := fields(rest[4:n], func(num protowire.Number, v uint64, _ []byte) error {
			if num == 3 {
				dataB = v
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		if got := readExtract(inFile(t, "a.osm.pbf", append(b, rest[n+int(dataB):]...)), Options{}); got.info.AsOf != want {
			t.Errorf("%d s: as of %q, want %q; %v", seconds, got.info.AsOf, want, got.err)
		}
	}
}

// Of one reason twenty features are named, the rest is counted; of more than two hundred
// reasons the rest is counted together.
func TestWhatIsSkippedIsSummedUp(t *testing.T) {
	var l skipLog
	for i := range 25 {
		l.add(fmt.Sprint("feature ", i), "no line")
	}
	for i := range 230 {
		l.add(fmt.Sprint("other ", i), fmt.Sprint("reason ", i))
	}
	got := l.list()
	// 20 and 199 of their own, 20 of various reasons, and two sums.
	if len(got) != 20+199+20+2 || got[len(got)-2] != (routes.Skipped{Where: "5 more, the last feature 24", Why: "no line"}) ||
		got[len(got)-1] != (routes.Skipped{Where: "11 more, the last other 229", Why: "various reasons"}) {
		t.Errorf("%d: %v", len(got), got[len(got)-2:])
	}
	b := recorder{file: "f"}
	for i := range 25 {
		b.skip(i, "it has no time")
	}
	if len(b.out.Skipped) != 20 || b.untold != 5 || b.out.LeftOut != 25 {
		t.Errorf("%d told, %d not", len(b.out.Skipped), b.untold)
	}
}

// A feature has a thousand properties at most, a line ten thousand structures.
func TestLimitsOfProperties(t *testing.T) {
	for n, ok := range map[int]bool{1000: true, 1001: false} {
		var props []string
		for i := range n {
			props = append(props, fmt.Sprintf(`"k%d":"v"`, i))
		}
		if fs, _, err := readText(t, feat("{"+strings.Join(props, ",")+"}", line)); (err == nil) != ok || ok && len(fs[0].Tags) != n {
			t.Errorf("%d properties: %v", n, err)
		}
	}
	for n, ok := range map[int]bool{10_000: true, 10_001: false} {
		list := strings.Repeat(`,{"kind":"bridge","from_m":1,"to_m":2}`, n)[1:]
		if fs, _, err := readText(t, feat(`{"structures":[`+list+`]}`, line)); err != nil || len(fs[0].Structures) > 0 != ok {
			t.Errorf("%d structures: %d, %v", n, len(fs[0].Structures), err)
		}
	}
	deep := func(n int) string {
		return `{"type":"Feature","x":` + strings.Repeat("[", n) + strings.Repeat("]", n) + `,"properties":{},"geometry":` + line + `}`
	}
	// A feature is one level, so 63 more may stand within each other.
	for n, ok := range map[int]bool{63: true, 64: false, 70: false} {
		if _, _, err := readText(t, deep(n)); (err == nil) != ok {
			t.Errorf("%d deep: %v", n, err)
		}
	}
	// What stands in the place of a feature is the third level, so it may go 62 deep.
	for n, ok := range map[int]bool{62: true, 63: false} {
		if _, _, err := readText(t, coll(feat(`{}`, line), strings.Repeat("[", n)+strings.Repeat("]", n))); (err == nil) != ok {
			t.Errorf("%d deep for a feature: %v", n, err)
		}
	}
}

// Limits of a recording: speeds to 100 m/s, heights to 9,000 m, pressures between 226 and
// 1,200 hPa, gears 1 to 30, years 1900 to 2200, 200 columns, 64 elements within each other.
func TestLimitsOfARecording(t *testing.T) {
	for _, k := range []struct {
		columns, good, bad string
	}{
		{"speed_mps", "100", "100.1"}, {"speed_mps", "0", "-0.1"}, {"baro_m", "9000", "9001"}, {"baro_m", "-9000", "-9001"},
	} {
		read := func(v string) bool {
			rec, err := ReadRecording("f", strings.NewReader("time_s,lon,lat,"+k.columns+"\n0,1,2,"+v+"\n1,1,2,"+k.good+"\n2,1,2,"+k.good+"\n"))
			return err == nil && len(rec.Fixes) == 3
		}
		if !read(k.good) || read(k.bad) {
			t.Errorf("%s: %s is read %t, %s %t", k.columns, k.good, read(k.good), k.bad, read(k.bad))
		}
	}
	for gear, want := range map[string]int{"1": 1, "30": 30, "31": 0, "1.5": 0, "-1": 0, "2": 2} { // 0 is unknown
		rec, err := ReadRecording("f", strings.NewReader("time_s,lon,lat,gear\n0,1,2,"+gear+"\n1,1,2,5\n"))
		if err != nil || rec.Fixes[0].Gear != want || rec.Fixes[0].IsNeutral {
			t.Errorf("gear %s is %d, %v", gear, rec.Fixes[0].Gear, err)
		}
	}
	for text, ok := range map[string]bool{"1901-01-01T00:00:00Z": true, "1900-12-31T00:00:00Z": false, "2199-12-31T00:00:00Z": true, "2200-01-01T00:00:00Z": false, "2026-05-04": false} {
		if at, got := momentOf(text); got != ok || ok && at.Format("2006-01-02") != text[:10] {
			t.Errorf("%s: %v, %t", text, at, got)
		}
	}
	for n, ok := range map[int]bool{200: true, 201: false} {
		head := "time_s,lon,lat" + strings.Repeat(",x", n-3)
		row := "1,2" + strings.Repeat(",", n-3)
		if _, err := ReadRecording("f", strings.NewReader(head+"\n0,"+row+"\n1,"+row+"\n")); (err == nil) != ok {
			t.Errorf("%d columns: %v", n, err)
		}
	}
	for n, ok := range map[int]bool{63: true, 64: false} { // within the root
		text := strings.Replace(gpxText, "<trk>", strings.Repeat("<a>", n)+strings.Repeat("</a>", n)+"<trk>", 1)
		if _, err := ReadRecording("f", strings.NewReader(text)); (err == nil) != ok {
			t.Errorf("%d elements deep: %v", n, err)
		}
	}
	for ele, known := range map[string]bool{"8999": true, "9001": false, "-8999": true, "-9001": false} {
		rec, err := ReadRecording("f", strings.NewReader(strings.Replace(gpxText, "1500.5", ele, 1)))
		if err != nil || math.IsNaN(rec.Fixes[0].HeightM) == known {
			t.Errorf("a height of %s m: %g, %v", ele, rec.Fixes[0].HeightM, err)
		}
	}
	// Seconds count from 1970 from 300 million on, from a recorder's own start below.
	for startS, noClock := range map[float64]bool{2.99e8: true, 3.01e8: false} {
		rec, err := ReadRecording("f", strings.NewReader(fmt.Sprintf("time_s,lon,lat\n%.0f,1,2\n%.0f,1,2\n", startS, startS+1)))
		if err != nil || rec.NoClock != noClock {
			t.Errorf("%g s: no clock %t, %v", startS, rec.NoClock, err)
		}
	}
	for s, ok := range map[float64]bool{9e9: true, 9.01e9: false, -9.01e9: false} {
		rec, err := ReadRecording("f", strings.NewReader(fmt.Sprintf("time_s,lon,lat\n0,1,2\n1,1,2\n%.0f,1,2\n", s)))
		if err != nil || len(rec.Skipped) == 0 != ok {
			t.Errorf("%g s: %v, %v", s, rec.Skipped, err)
		}
	}
	for hPa, ok := range map[float64]bool{226.1: true, 225.9: false, 1199: true, 1201: false} {
		if got := HeightFromPressureM(hPa); math.IsNaN(got) == ok {
			t.Errorf("%g hPa: %g m", hPa, got)
		}
	}
	if got := HeightFromPressureM(226.5); math.Abs(got-10994) > 10 { // 226.32 hPa at 11,000 m, from memory
		t.Errorf("226.5 hPa: %.0f m", got)
	}
}

// What OpenStreetMap implies of the direction of travel; what is said stays.
func TestImpliedDirections(t *testing.T) {
	for _, k := range []struct{ junction, highway, said, want string }{
		{"", "primary", "", ""}, {"roundabout", "primary", "", "yes"}, {"circular", "primary", "", "yes"}, {"", "motorway", "", "yes"}, {"", "motorway_link", "", ""},
		{"roundabout", "primary", "no", "no"}, {"", "motorway", "-1", "-1"}, {"filter", "trunk", "", ""},
	} {
		tags := map[string]string{"junction": k.junction, "highway": k.highway}
		if k.said != "" {
			tags["oneway"] = k.said
		}
		implied(tags)
		if tags["oneway"] != k.want {
			t.Errorf("%+v: oneway %q", k, tags["oneway"])
		}
	}
}
