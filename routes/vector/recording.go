package vector

import (
	"bufio"
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"sort"
	"time"

	"gradeline/routes"
	"gradeline/terrain"
)

// Caps of a recording, checked while it is read.
const (
	maxRecordingBytes = 256 << 20
	maxFixes          = 500_000 // six days at one a second
	maxTold           = 20      // left-out points that are named one by one
)

// ReadRecording reads a recorded drive: a GPX 1.1 track with times (Topografix, 2004), a FIT file, a
// log of NMEA 0183 sentences, or CSV whose header names its units. The content decides which. Times
// are in UTC unless they state a zone.
// Times must rise: the largest set of points with rising times is kept, the others are left out and
// named. Speeds are metres per second.
//
// GPX: the points of every trkseg of every trk, in file order, each segment a part of
// its own; <speed> as in GPX 1.0 (metres per second), <ele> as a height of unknown
// kind, and of <extensions> only <atemp> (degrees Celsius), since no standard sets the units of others.
//
// FIT (of recorders and watches): the record messages; a place, and where recorded speed,
// absolute_pressure as a barometer's height, else altitude as a height of unknown kind; temperature,
// which is that of the recorder.
//
// NMEA 0183: RMC with the height of GGA, or GGA with the date of ZDA; a barometer's pressure from MDA
// or XDR. Of several receivers in one log the one with the most fixes counts.
//
// CSV: time (RFC 3339) or time_s, lon_deg, lat_deg, and optionally speed_kmh, speed_mph
// or speed_mps, engine_rpm, gear (0 or N is neutral), service_brake (0 or 1), and of
// heights the first of baro_m, pressure_hpa and gnss_m; air_temp_c of the air outside, else temp_c of
// anything. A time_s that starts under 3e8 (1979) is not a clock time.
//
// Errors: terrain.ErrRead where r fails, terrain.ErrInput with the line where the input is not a
// recording.
func ReadRecording(file string, r io.Reader) (routes.Recording, error) {
	in := bufio.NewReaderSize(&capped{r: r, left: maxRecordingBytes}, 1<<16)
	head, err := in.Peek(512)
	if err != nil && err != io.EOF {
		return routes.Recording{}, &routes.Fault{Kind: terrain.ErrRead, File: file, Err: err, Fix: "check the file"}
	}
	head = bytes.TrimPrefix(head, []byte("\xef\xbb\xbf"))
	b := &recorder{file: file}
	b.out.Name = file
	if isFIT(head) {
		err = b.fit(in)
	} else if isNMEA(head) {
		err = b.nmea(in)
	} else if bytes.IndexByte(head, 0) >= 0 {
		err = b.fault(0, "is not a text: a photo, an archive, or a text of two bytes a character", recordingFix)
	} else if bytes.HasPrefix(bytes.TrimLeft(head, " \t\r\n"), []byte("<")) {
		err = b.gpx(in)
	} else {
		err = b.csv(in)
	}
	if err != nil {
		return routes.Recording{}, err
	}
	b.rising()
	if b.untold > 0 {
		b.out.Skipped = append(b.out.Skipped, routes.Skipped{Where: file, Why: fmt.Sprintf("%d more points left out for similar reasons", b.untold)})
	}
	switch n := len(b.out.Fixes); {
	case n == 0 && b.undated > 0:
		return routes.Recording{}, b.fault(0, "none of its points has a time", "record a track with times; a planned route has none")
	case n < 2:
		what := fmt.Sprintf("the drive has %d point(s) and needs at least two", n)
		if len(b.out.Skipped) > 0 {
			what += fmt.Sprintf("; of %d left out the first: %s", b.out.LeftOut, b.out.Skipped[0].Why)
		}
		return routes.Recording{}, b.fault(0, what, recordingFix)
	}
	return b.out, nil
}

// recordingFix says what a recording may be.
const recordingFix = "use a GPX track with times, a FIT file, an NMEA log, or CSV with time, lon_deg, lat_deg"

// ReadRecordings reads the recorded drives of files; "-" is the standard input where the caller gives
// one.
func ReadRecordings(files []string, standardInput io.Reader) ([]routes.Recording, error) {
	out := make([]routes.Recording, len(files))
	for i, file := range files {
		var err error
		if file == "-" && standardInput != nil {
			out[i], err = ReadRecording(file, standardInput)
		} else {
			out[i], err = readRecordingFile(file)
		}
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

func readRecordingFile(file string) (routes.Recording, error) {
	info, err := os.Stat(file)
	if err != nil {
		return routes.Recording{}, notOpened(file, err)
	}
	if info.Mode()&(os.ModeDir|os.ModeDevice|os.ModeCharDevice|os.ModeSocket) != 0 {
		return routes.Recording{}, &routes.Fault{Kind: terrain.ErrInput, File: file, What: "is not a regular file", Fix: recordingFix}
	}
	in, err := os.Open(file)
	if err != nil {
		return routes.Recording{}, notOpened(file, err)
	}
	defer in.Close() // only read
	return ReadRecording(file, in)
}

func notOpened(file string, err error) error {
	if path := (*fs.PathError)(nil); errors.As(err, &path) {
		err = path.Err // the fault names the file
	}
	return &routes.Fault{Kind: terrain.ErrRead, File: file, What: "cannot be opened", Err: err, Fix: recordingFix}
}

// recorder collects fixes.
type recorder struct {
	file            string
	out             routes.Recording
	lineWord        string // what Line counts in this kind of file; empty for lines
	undated, untold int
	count           bool // times are seconds from an unknown moment
}

func (b *recorder) fault(line int, what, fix string) error {
	f := &routes.Fault{Kind: terrain.ErrInput, File: b.file, What: what, Fix: fix}
	if line > 0 {
		f.Feature = fmt.Sprintf("%s %d", cmp.Or(b.lineWord, "line"), line)
	}
	return f
}

func (b *recorder) skip(line int, why string) {
	b.out.LeftOut++
	if len(b.out.Skipped) >= maxTold {
		b.untold++
		return
	}
	b.out.Skipped = append(b.out.Skipped, routes.Skipped{Where: fmt.Sprintf("%s, %s %d", b.file, cmp.Or(b.lineWord, "line"), line), Why: why})
}

// add keeps a fix, or leaves it out and says why.
func (b *recorder) add(f routes.Fix) error {
	n := len(b.out.Fixes)
	switch {
	case n >= maxFixes:
		return b.fault(f.Line, fmt.Sprintf("more than %d points", maxFixes), "cut the recording to the hill")
	case !(terrain.Point{LonDeg: f.LonDeg, LatDeg: f.LatDeg}).Valid():
		b.skip(f.Line, "its longitude and latitude are not a place")
	case f.SpeedMPS < 0 || f.SpeedMPS > 100:
		b.skip(f.Line, "its speed is impossible for a truck")
	default:
		b.out.Fixes = append(b.out.Fixes, f)
	}
	return nil
}

// rising keeps the largest set of fixes whose times rise in file order, so that one wrong time
// costs one point. It is the longest rising subsequence, found from the end, so that of two that
// exclude each other the first in the file is kept.
func (b *recorder) rising() {
	all := b.out.Fixes
	isRising := true
	for i := 1; i < len(all) && isRising; i++ {
		isRising = all[i].At.After(all[i-1].At)
	}
	if !isRising {
		heads := []int{} // the first fix of the best run of each length: the latest possible
		next := make([]int, len(all))
		for i := len(all) - 1; i >= 0; i-- {
			k := sort.Search(len(heads), func(k int) bool { return !all[i].At.Before(all[heads[k]].At) })
			next[i] = -1
			if k > 0 {
				next[i] = heads[k-1]
			}
			if k == len(heads) {
				heads = append(heads, i)
			} else {
				heads[k] = i
			}
		}
		kept := make([]routes.Fix, 0, len(heads))
		at := heads[len(heads)-1]
		for i := range all {
			if i == at {
				kept, at = append(kept, all[i]), next[i]
			} else {
				b.skip(all[i].Line, "its time is out of order: not after that of the point before it, or not before that of the next")
			}
		}
		b.out.Fixes = kept
	}
	b.out.NoClock = b.count && len(b.out.Fixes) > 0 && b.out.Fixes[0].At.Unix() < leastClockS
}

// momentOf reads an RFC 3339 time; one without a zone is UTC, as GPX has it.
func momentOf(s string) (time.Time, bool) {
	for _, layout := range []string{time.RFC3339Nano, "2006-01-02T15:04:05.999999999", "2006-01-02 15:04:05.999999999Z07:00", "2006-01-02 15:04:05.999999999"} {
		if t, err := time.Parse(layout, s); err == nil {
			y := t.Year()
			return t.UTC(), y > 1900 && y < 2200
		}
	}
	return time.Time{}, false
}

// unknownFix is a fix without any values.
func unknownFix(line, part int) routes.Fix {
	return routes.Fix{Line: line, Part: part, LonDeg: math.NaN(), LatDeg: math.NaN(), SpeedMPS: math.NaN(), EngineRPM: math.NaN(), HeightM: math.NaN(), TempC: math.NaN()}
}

// capped ends with an error where a file is larger than it may be.
type capped struct {
	r    io.Reader
	left int64
}

func (c *capped) Read(p []byte) (int, error) {
	if c.left <= 0 {
		return 0, fmt.Errorf("over %d MiB", maxRecordingBytes>>20)
	}
	n, err := c.r.Read(p[:min(int64(len(p)), c.left)])
	c.left -= int64(n)
	return n, err
}
