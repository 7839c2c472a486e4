package vector

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/adrianmo/go-nmea"

	"gradeline/routes"
	"gradeline/terrain"
)

// nmeaHead is a sentence at the start of a line of a log, perhaps after what the logger wrote there.
var nmeaHead = regexp.MustCompile(`(?m)^[^\n$]{0,64}\$([A-Z]{2}(RMC|GGA|ZDA|GLL|GNS|VTG|GSA|GSV|GST|TXT|MDA|XDR|HDT|HDG)|P[A-Z]{3,}[0-9]*),`)

// isNMEA reports whether a file begins as a log of NMEA 0183.
func isNMEA(head []byte) bool { return nmeaHead.Match(head) }

const (
	maxNMEABytes   = 1024 // of a line; the standard has 82
	nmeaOldestYear = 80   // two-digit years from here on are of the last century
	nmeaLeastHPa   = 500.0
	nmeaMostHPa    = 1100.0
	nmeaPressure   = 10 * time.Second // a pressure holds for so long
	nmeaSameDeg    = 0.0005           // two receivers in one truck
)

// nmeaKinds are the sentences that are read; a fault in another one costs nothing.
var nmeaKinds = []string{nmea.TypeRMC, nmea.TypeGGA, nmea.TypeZDA, nmea.TypeMDA, nmea.TypeXDR}

// nmeaLog collects the sentences of a log.
type nmeaLog struct {
	b             *recorder
	parser        nmea.SentenceParser
	rmc, gga      []*nmeaTalker // in the order of the file
	clock         time.Time     // of the latest dated sentence; zero before the first
	latest        *nmea.GGA
	noFix         int // sentences that say that there was no fix
	noDate        int
	pressureM     float64 // as a height, of the latest pressure
	pressureSince time.Time
	airTempC      float64
	hasPressure   bool
}

// nmeaTalker is a talker id with its fixes.
type nmeaTalker struct {
	id        string
	line      int // its first
	fixes     []routes.Fix
	pressureM []float64
}

// nmea reads a log of NMEA 0183 sentences: RMC (place, speed, time, date) with the height of the GGA
// of the same moment; without RMC the places of GGA, dated by ZDA. Where two receivers write into one
// file, the talker with the most fixes counts. Sentences without a check sum, or with a wrong one, are
// left out. Heights are those of a barometer where MDA or XDR has its pressure, else of the satellites.
func (b *recorder) nmea(in io.Reader) error {
	l := &nmeaLog{b: b, pressureM: math.NaN(), airTempC: math.NaN()}
	r := bufio.NewReaderSize(in, maxNMEABytes)
	for line := 1; ; line++ {
		text, err := readNMEALine(r)
		if err != nil && err != io.EOF {
			return &routes.Fault{Kind: terrain.ErrRead, File: b.file, Err: err, Fix: "check the file"}
		}
		if fault := l.read(line, text); fault != nil {
			return fault
		}
		if err == io.EOF {
			return l.end()
		}
	}
}

// readNMEALine is the next line; of one that is too long only its start.
func readNMEALine(r *bufio.Reader) (string, error) {
	text, err := r.ReadSlice('\n')
	out := string(text)
	for err == bufio.ErrBufferFull {
		_, err = r.ReadSlice('\n')
	}
	return out, err
}

// read takes the sentence of a line, if there is one that is of use.
func (l *nmeaLog) read(line int, text string) error {
	at := strings.IndexByte(text, '$')
	if at < 0 || len(text) < at+6 || !slices.Contains(nmeaKinds, text[at+3:at+6]) {
		return nil
	}
	s, err := l.parser.Parse(strings.TrimRight(text[at:], " \t\r\n\x00"))
	if err != nil {
		l.b.skip(line, strings.TrimPrefix(err.Error(), "nmea: "))
		return nil
	}
	switch m := s.(type) {
	case nmea.RMC:
		return l.readRMC(line, &m)
	case nmea.GGA:
		return l.readGGA(line, &m)
	case nmea.ZDA:
		l.readZDA(line, &m)
	case nmea.MDA:
		l.readMDA(&m)
	case nmea.XDR:
		l.readXDR(&m)
	}
	return nil
}

func (l *nmeaLog) readRMC(line int, m *nmea.RMC) error {
	if m.Validity != nmea.ValidRMC || m.Fields[2] == "" || m.Fields[4] == "" {
		l.noFix++
		return nil
	}
	year := 2000 + m.Date.YY
	if m.Date.YY >= nmeaOldestYear {
		year -= 100
	}
	at, ok := nmeaMoment(year, m.Date.MM, m.Date.DD, m.Time)
	switch {
	case !m.Date.Valid || !ok:
		l.b.skip(line, "it has no possible date and time")
		return nil
	case !areMinutes(m.Fields[2], m.Fields[4]):
		l.b.skip(line, "its latitude or longitude has 60 minutes or more")
		return nil
	}
	l.clock = at
	f := unknownFix(line, 0)
	f.At, f.LonDeg, f.LatDeg = at, m.Longitude, m.Latitude
	if m.Fields[6] != "" {
		f.SpeedMPS = m.Speed * routes.KnotMPS
	}
	if g := l.latest; g != nil && g.Time == m.Time && isNear(&f, g) {
		f.HeightM = ggaHeightM(g)
	}
	l.gga = nil
	return l.add(&l.rmc, m.Talker, f)
}

// readGGA keeps the height for the RMC of the same moment, before or after it; the place counts only
// in a log without RMC.
func (l *nmeaLog) readGGA(line int, m *nmea.GGA) error {
	if m.FixQuality == nmea.Invalid || m.Fields[1] == "" || m.Fields[3] == "" || !m.Time.Valid {
		if len(l.rmc) == 0 {
			l.noFix++
		}
		return nil
	}
	l.latest = m
	for _, t := range l.rmc {
		f := &t.fixes[len(t.fixes)-1]
		if clock := f.At.Sub(f.At.Truncate(24 * time.Hour)); math.IsNaN(f.HeightM) && clock == clockOf(m.Time) && isNear(f, m) {
			f.HeightM = ggaHeightM(m)
		}
	}
	switch {
	case len(l.rmc) > 0:
		return nil
	case l.clock.IsZero():
		l.noDate++
		return nil
	case !areMinutes(m.Fields[1], m.Fields[3]):
		l.b.skip(line, "its latitude or longitude has 60 minutes or more")
		return nil
	}
	f := unknownFix(line, 0)
	f.At, f.LonDeg, f.LatDeg, f.HeightM = onDay(l.clock, m.Time), m.Longitude, m.Latitude, ggaHeightM(m)
	l.clock = f.At
	return l.add(&l.gga, m.Talker, f)
}

func (l *nmeaLog) readZDA(line int, m *nmea.ZDA) {
	at, ok := nmeaMoment(int(m.Year), int(m.Month), int(m.Day), m.Time)
	if !ok {
		l.b.skip(line, "it has no possible date and time")
		return
	}
	l.clock = at
}

func (l *nmeaLog) readMDA(m *nmea.MDA) {
	if m.BarsValid && m.Fields[2] != "" {
		l.setPressure(1000 * m.PressureBar)
	}
	if m.AirTempValid && m.Fields[4] != "" {
		l.airTempC, l.b.out.IsAirTemp = m.AirTemp, true
	}
}

// readXDR reads the pressure of transducers that are named as barometers: that of an engine's oil is
// no air.
func (l *nmeaLog) readXDR(m *nmea.XDR) {
	for _, x := range m.Measurements {
		name := strings.ToUpper(x.TransducerName)
		if x.TransducerType != nmea.TransducerPressureXDR || !strings.Contains(name, "BARO") && !strings.Contains(name, "ATMOS") {
			continue
		}
		switch x.Unit {
		case nmea.UnitBars:
			l.setPressure(1000 * x.Value)
		case nmea.UnitPascal:
			l.setPressure(x.Value / 100)
		}
	}
}

func (l *nmeaLog) setPressure(hPa float64) {
	if hPa >= nmeaLeastHPa && hPa <= nmeaMostHPa {
		l.pressureM, l.pressureSince, l.hasPressure = HeightFromPressureM(hPa), l.clock, true
	}
}

// add keeps a fix of a talker, with what the barometer said last.
func (l *nmeaLog) add(to *[]*nmeaTalker, id string, f routes.Fix) error {
	k := slices.IndexFunc(*to, func(t *nmeaTalker) bool { return t.id == id })
	if k < 0 {
		k = len(*to)
		*to = append(*to, &nmeaTalker{id: id, line: f.Line})
	}
	t := (*to)[k]
	if len(t.fixes) >= maxFixes {
		return l.b.fault(f.Line, fmt.Sprintf("more than %d points", maxFixes), "cut the recording to the hill")
	}
	pressureM := math.NaN()
	if age := f.At.Sub(l.pressureSince); age.Abs() <= nmeaPressure {
		pressureM = l.pressureM
	}
	f.TempC = l.airTempC
	t.fixes, t.pressureM = append(t.fixes, f), append(t.pressureM, pressureM)
	return nil
}

// end keeps the talker with the most fixes, and says what is left out.
func (l *nmeaLog) end() error {
	from := l.rmc
	if len(from) == 0 {
		from = l.gga
	}
	var best *nmeaTalker
	for _, t := range from {
		if best == nil || len(t.fixes) > len(best.fixes) {
			best = t
		}
	}
	b := l.b
	if l.noFix > 0 {
		b.out.Skipped = append(b.out.Skipped, routes.Skipped{Where: b.file, Why: fmt.Sprintf("%d sentences say that the receiver had no fix", l.noFix)})
		b.out.LeftOut += l.noFix
	}
	if best == nil {
		if b.undated = l.noDate; l.noDate == 0 && l.noFix > 0 {
			return b.fault(0, "the receiver never had a fix", "record with a view of the sky")
		}
		return nil
	}
	for _, t := range from {
		if t != best {
			b.out.Skipped = append(b.out.Skipped, routes.Skipped{Where: fmt.Sprintf("%s, line %d", b.file, t.line), Why: fmt.Sprintf("the %d fixes of talker %s are another receiver's; those of %s are used", len(t.fixes), t.id, best.id)})
			b.out.LeftOut += len(t.fixes)
		}
	}
	b.out.Heights = routes.HeightSatellite
	if l.hasPressure {
		b.out.Heights = routes.HeightBarometric
	}
	for i, f := range best.fixes {
		if l.hasPressure {
			f.HeightM = best.pressureM[i]
		}
		if err := b.add(f); err != nil {
			return err
		}
	}
	return nil
}

// ggaHeightM is the height above the geoid; NaN where it is not stated in metres.
func ggaHeightM(m *nmea.GGA) float64 {
	if m.Fields[8] == "" || m.Fields[9] != nmea.DistanceUnitMetre || !(math.Abs(m.Altitude) <= mostHeightM) {
		return math.NaN()
	}
	return m.Altitude
}

func isNear(f *routes.Fix, g *nmea.GGA) bool {
	return math.Abs(f.LonDeg-g.Longitude) < nmeaSameDeg && math.Abs(f.LatDeg-g.Latitude) < nmeaSameDeg
}

// areMinutes reports whether coordinates written as dddmm.mm have under 60 minutes.
func areMinutes(fields ...string) bool {
	for _, s := range fields {
		if v, ok := decimal(s); !ok || math.Mod(v, 100) >= 60 {
			return false
		}
	}
	return true
}

// clockOf is a time of day since midnight.
func clockOf(t nmea.Time) time.Duration {
	return time.Duration(t.Hour)*time.Hour + time.Duration(t.Minute)*time.Minute + time.Duration(t.Second)*time.Second + time.Duration(t.Millisecond)*time.Millisecond
}

// nmeaMoment is a moment of the calendar; a leap second counts as the next minute's first.
func nmeaMoment(year, month, day int, t nmea.Time) (time.Time, bool) {
	midnight := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	isDay := midnight.Day() == day && int(midnight.Month()) == month && year > 1900 && year < 2200
	return midnight.Add(clockOf(t)), isDay && t.Valid && t.Hour < 24 && t.Minute < 60 && t.Second <= 60
}

// onDay is the moment with a time of day that is nearest to a clock: past midnight the day is the next.
func onDay(clock time.Time, t nmea.Time) time.Time {
	at := clock.Truncate(24 * time.Hour).Add(clockOf(t))
	switch by := at.Sub(clock); {
	case by < -12*time.Hour:
		return at.Add(24 * time.Hour)
	case by > 12*time.Hour:
		return at.Add(-24 * time.Hour)
	}
	return at
}
