package vector

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"gradeline/routes"
	"gradeline/terrain"
)

// csvColumns are the columns of a recording and their conversion to SI.
var csvColumns = map[string]float64{
	"time": 1, "time_s": 1, "lon_deg": 1, "lat_deg": 1, "lon": 1, "lat": 1,
	"speed_kmh": routes.KilometrePerHourMPS, "speed_mph": routes.MilePerHourMPS, "speed_mps": 1, "engine_rpm": 1, "gear": 1, "service_brake": 1,
	"baro_m": 1, "pressure_hpa": 1, "gnss_m": 1, "air_temp_c": 1, "temp_c": 1,
}

// needsUnit are names without a unit.
var needsUnit = map[string]string{
	"speed": "speed_kmh, speed_mph or speed_mps", "velocity": "speed_kmh, speed_mph or speed_mps",
	"rpm": "engine_rpm", "timestamp": "time (as 2026-05-04T09:30:00Z) or time_s", "longitude": "lon_deg", "latitude": "lat_deg",
}

const (
	maxCSVColumns = 200
	mostTimeS     = 9e9 // a Duration holds 9.2e9 s, which are 292 years
	leastClockS   = 3e8 // time_s from here on counts from 1970; below, from a recorder's own start
)

func (b *recorder) csv(in io.Reader) error {
	r := csv.NewReader(in)
	r.ReuseRecord, r.FieldsPerRecord, r.TrimLeadingSpace, r.LazyQuotes = true, -1, true, false
	head, err := r.Read()
	if err == io.EOF {
		return b.fault(0, "is empty", recordingFix)
	}
	if err != nil {
		return b.csvFault(err)
	}
	at, err := b.columns(head)
	if err != nil {
		return err
	}
	for {
		row, err := r.Read()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return b.csvFault(err)
		}
		line, _ := r.FieldPos(0)
		fix, why, err := b.fixFrom(line, row, at)
		switch {
		case err != nil:
			return err
		case why != "":
			b.skip(line, why)
		default:
			if fix.HeightM, err = b.heightFrom(line, row, at); err != nil {
				return err
			}
			if err := b.add(fix); err != nil {
				return err
			}
		}
	}
}

func (b *recorder) csvFault(err error) error {
	var bad *csv.ParseError
	if !errors.As(err, &bad) {
		return &routes.Fault{Kind: terrain.ErrRead, File: b.file, Err: err, Fix: "check the file"}
	}
	return b.fault(bad.Line, "not well-formed CSV: "+bad.Err.Error(), "separate columns by commas, quote text that holds any")
}

// columns finds the columns, and refuses a header without units.
func (b *recorder) columns(head []string) (map[string]int, error) {
	if len(head) > maxCSVColumns {
		return nil, b.fault(1, fmt.Sprintf("%d columns", len(head)), "keep time, lon_deg, lat_deg and the other columns of the drive")
	}
	if len(head) == 1 && strings.ContainsAny(head[0], ";\t") {
		return nil, b.fault(1, "its columns are separated by semicolons or tabs", "save it with commas, and points in the numbers")
	}
	at := map[string]int{}
	speeds := 0
	for i, h := range head {
		name := strings.ToLower(strings.TrimSpace(strings.TrimPrefix(h, "\uFEFF")))
		if fix, ok := needsUnit[name]; ok {
			return nil, b.fault(1, fmt.Sprintf("the column %q does not say its unit", short(name)), "call it "+fix)
		}
		if _, ok := csvColumns[name]; !ok {
			if name == "brake" || name == "brakes" || name == "brake_switch" {
				return nil, b.fault(1, fmt.Sprintf("the column %q does not say which brakes", short(name)), "call it service_brake, or give it another name if it is the retarder's")
			}
			continue // a recorder's own column
		}
		switch name {
		case "lon", "lat":
			name += "_deg"
		case "speed_kmh", "speed_mph", "speed_mps":
			speeds++
		}
		if _, twice := at[name]; twice || speeds > 1 {
			return nil, b.fault(1, fmt.Sprintf("the column %q occurs twice, or speed in two units", name), "keep one")
		}
		at[name] = i
	}
	_, clock := at["time"]
	_, count := at["time_s"]
	_, lon := at["lon_deg"]
	_, lat := at["lat_deg"]
	if clock == count || !lon || !lat {
		return nil, b.fault(1, "the header lacks time (or time_s), lon_deg or lat_deg", "begin with a line such as: time,lon_deg,lat_deg,speed_kmh")
	}
	return at, nil
}

// csvRow is one row of a recording, with its first error.
type csvRow struct {
	b     *recorder
	line  int
	cells []string
	at    map[string]int // columns by name
	err   error
}

func (r *csvRow) has(name string) bool { _, ok := r.at[name]; return ok }

func (r *csvRow) cell(name string) string {
	if i, ok := r.at[name]; ok && i < len(r.cells) {
		return strings.TrimSpace(r.cells[i])
	}
	return ""
}

// number is a cell's figure in the column's SI unit; NaN where it is empty.
func (r *csvRow) number(name string) float64 {
	s := r.cell(name)
	if s == "" {
		return math.NaN()
	}
	v, ok := decimal(s)
	if !ok {
		if r.err == nil {
			r.err = r.b.fault(r.line, fmt.Sprintf("%s %q is not a number", name, short(s)), "write figures as 12.5")
		}
		return math.NaN()
	}
	return v * csvColumns[name]
}

// fixFrom reads a row, or says why it is left out. A figure that cannot be read is an error: a
// recording that is half misread is useless.
func (b *recorder) fixFrom(line int, row []string, at map[string]int) (f routes.Fix, why string, err error) {
	f = unknownFix(line, 0)
	r := &csvRow{b: b, line: line, cells: row, at: at}
	f.LonDeg, f.LatDeg, f.EngineRPM = r.number("lon_deg"), r.number("lat_deg"), r.number("engine_rpm")
	for _, name := range []string{"speed_kmh", "speed_mph", "speed_mps"} {
		if r.has(name) {
			f.SpeedMPS = r.number(name)
		}
	}
	if f.TempC = r.number("temp_c"); r.has("air_temp_c") {
		f.TempC, b.out.IsAirTemp = r.number("air_temp_c"), true
	}
	r.readGear(&f)
	if f.ServiceBrake, err = r.serviceBrake(); err != nil {
		return f, "", err
	}
	if r.has("time_s") {
		f.At, why = r.counted()
		return f, why, r.err
	}
	t, ok := momentOf(r.cell("time"))
	if !ok && r.cell("time") != "" {
		return f, "", b.fault(line, fmt.Sprintf("time %q is not a time", short(r.cell("time"))), "write it as 2026-05-04T09:30:00Z, or seconds in a column time_s")
	}
	if !ok {
		b.undated++
		return f, "it has no time", r.err
	}
	f.At = t
	return f, "", r.err
}

func (r *csvRow) readGear(f *routes.Fix) {
	switch strings.ToLower(r.cell("gear")) {
	case "n", "neutral":
		f.IsNeutral = true
		return
	}
	switch g := r.number("gear"); {
	case g == 0:
		f.IsNeutral = true
	case g >= 1 && g <= 30 && g == math.Trunc(g):
		f.Gear = int(g)
	}
}

// serviceBrake is whether the service brakes are applied; nil where unknown.
func (r *csvRow) serviceBrake() (*bool, error) {
	on, off := true, false
	switch strings.ToLower(r.cell("service_brake")) {
	case "":
		return nil, nil
	case "1", "true", "on", "yes":
		return &on, nil
	case "0", "false", "off", "no":
		return &off, nil
	}
	return nil, r.b.fault(r.line, fmt.Sprintf("service_brake %q is neither 0 nor 1", short(r.cell("service_brake"))), "write 1 where they are applied, 0 where not")
}

// counted is the moment of a row whose time is a count of seconds, or why it has none.
func (r *csvRow) counted() (at time.Time, why string) {
	s := r.number("time_s")
	switch {
	case math.IsNaN(s):
		r.b.undated++
		return at, "it has no time"
	case math.Abs(s) > mostTimeS:
		return at, "its time_s is not a number of seconds"
	}
	r.b.count = true
	return time.Unix(0, 0).UTC().Add(time.Duration(s * float64(time.Second))), ""
}

// short shortens a text that is quoted from a file.
func short(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}

// decimal reads a plain finite number.
func decimal(s string) (float64, bool) {
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsInf(v, 0) && !math.IsNaN(v) && !strings.ContainsAny(s, "xXpP_")
}

// degrees reads a coordinate; NaN for other text.
func degrees(s string) float64 {
	if v, ok := decimal(strings.TrimSpace(s)); ok {
		return v
	}
	return math.NaN()
}
