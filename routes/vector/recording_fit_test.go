package vector

import (
	"bytes"
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/muktihari/fit/encoder"
	"github.com/muktihari/fit/profile/mesgdef"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/proto"

	"gradeline/routes"
	"gradeline/terrain"
)

// fitFile writes records with the library's encoder.
func fitFile(t testing.TB, records []*mesgdef.Record) []byte {
	t.Helper()
	file := proto.FIT{Messages: []proto.Message{mesgdef.NewFileId(nil).SetType(typedef.FileActivity).SetManufacturer(typedef.ManufacturerDevelopment).ToMesg(nil)}}
	for _, r := range records {
		file.Messages = append(file.Messages, r.ToMesg(nil))
	}
	var b bytes.Buffer
	if err := encoder.New(&b).Encode(&file); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The figures of the FIT profile by hand: 2^31 semicircles are 180 degrees, speeds are mm/s,
// altitudes fifths of a metre above -500 m; pressures Pa, by the standard atmosphere
// (ISO 2533:1975: 898.75 hPa at 1,000 m, 954.61 hPa at 500 m).
func TestFITRecording(t *testing.T) {
	start := time.Date(2026, 5, 4, 8, 0, 0, 0, time.UTC)
	var list []*mesgdef.Record
	for i := range 3 {
		r := mesgdef.NewRecord(nil).SetTimestamp(start.Add(time.Duration(i) * time.Second)).SetPositionLat(1 << 29).SetPositionLong(-(1 << 30) + int32(i)*100)
		list = append(list, r.SetEnhancedSpeed(12500).SetEnhancedAltitude((500+812)*5))
	}
	rec, err := ReadRecording("a.fit", bytes.NewReader(fitFile(t, list)))
	if err != nil || len(rec.Fixes) != 3 || rec.Heights != routes.HeightUnknown {
		t.Fatalf("%+v, %v", rec, err)
	}
	f := rec.Fixes[0]
	if f.LatDeg != 45 || f.LonDeg != -90 || f.SpeedMPS != 12.5 || f.HeightM != 812 || !math.IsNaN(f.TempC) || !f.At.Equal(start) {
		t.Errorf("%+v", f)
	}
	list[0].SetAbsolutePressure(89875).SetTemperature(-7)
	list[2].SetAbsolutePressure(95461)
	list = append(list, mesgdef.NewRecord(nil).SetTimestamp(start.Add(time.Minute)))
	rec, err = ReadRecording("b.fit", bytes.NewReader(fitFile(t, list)))
	if err != nil || rec.Heights != routes.HeightBarometric || math.Abs(rec.Fixes[0].HeightM-1000) > 1 || !math.IsNaN(rec.Fixes[1].HeightM) || math.Abs(rec.Fixes[2].HeightM-500) > 1 {
		t.Errorf("%+v, %v", rec, err)
	}
	if rec.Fixes[0].TempC != -7 || !math.IsNaN(rec.Fixes[2].TempC) || rec.IsAirTemp {
		t.Errorf("temperatures %g and %g °C", rec.Fixes[0].TempC, rec.Fixes[2].TempC)
	}
	if len(rec.Skipped) != 1 || !strings.Contains(rec.Skipped[0].Where, "record 4") {
		t.Errorf("a record without a place: %+v", rec.Skipped)
	}
	for name, b := range map[string][]byte{"cut": fitFile(t, list)[:60], "no records": fitFile(t, nil), "changed": append(fitFile(t, list[:2])[:50], 1, 2, 3, 4, 5, 6, 7, 8, 9)} {
		if _, err := ReadRecording(name+".fit", bytes.NewReader(b)); !errors.Is(err, terrain.ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// The library's copy of the protocol's own example: an activity, with what its makers' tool lists in
// Activity.csv.
func TestFITExampleOfTheProtocol(t *testing.T) {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/muktihari/fit").Output()
	if err != nil {
		t.Skip("the module's folder is not known")
	}
	folder := filepath.Join(strings.TrimSpace(string(out)), "testdata", "from_official_sdk")
	b, err := os.ReadFile(filepath.Join(folder, "Activity.fit"))
	if err != nil {
		t.Skip(err)
	}
	text, err := os.ReadFile(filepath.Join(folder, "Activity.csv"))
	if err != nil {
		t.Fatal(err)
	}
	records := 0
	for _, line := range strings.Split(string(text), "\n") {
		if p := strings.Split(line, ","); len(p) > 2 && p[0] == "Data" && p[2] == "record" && strings.Contains(line, "position_lat") {
			records++
		}
	}
	rec, err := ReadRecording("Activity.fit", bytes.NewReader(b))
	if err != nil || len(rec.Fixes)+rec.LeftOut != records || records < 100 {
		t.Fatalf("%d fixes and %d left out of %d records, %v", len(rec.Fixes), rec.LeftOut, records, err)
	}
}
