package survey

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/grade"
	"gradeline/routes/recorded"
	"gradeline/routes/vector"
	"gradeline/terrain"
)

// Drives are recorded drives with heights from a barometer. Of each fix 32 bytes stay in
// memory, of at most mostDriveFixes in all.
type Drives struct {
	list []readDrive
	sum  string
}

type readDrive struct {
	file  string
	fixes []driveFix
	box   orb.Bound
}

// driveFix is the part of a fix that the grade line needs.
type driveFix struct {
	LonDeg, LatDeg float64
	TimeNs         int64
	HeightM        float32
	SpeedCMPS      uint16 // noSpeed where unknown
	AirDC          int16  // of the air outside, tenths of a degree Celsius; noAir where unknown
}

const (
	noSpeed = math.MaxUint16
	noAir   = math.MinInt16
)

// newDriveFix keeps a fix; a temperature only of the air outside.
func newDriveFix(f *routes.Fix, isAirTemp bool) driveFix {
	d := driveFix{f.LonDeg, f.LatDeg, f.At.UnixNano(), float32(f.HeightM), noSpeed, noAir}
	if v := math.Round(f.SpeedMPS * 100); v >= 0 && v < noSpeed {
		d.SpeedCMPS = uint16(v)
	}
	if c := math.Round(f.TempC * 10); isAirTemp && math.Abs(c) <= math.MaxInt16 {
		d.AirDC = int16(c)
	}
	return d
}

// fix converts it back, so that it can be matched to a road.
func (f *driveFix) fix() routes.Fix {
	out := routes.Fix{At: time.Unix(0, f.TimeNs), LonDeg: f.LonDeg, LatDeg: f.LatDeg, HeightM: float64(f.HeightM), SpeedMPS: math.NaN(), TempC: math.NaN()}
	if f.SpeedCMPS != noSpeed {
		out.SpeedMPS = float64(f.SpeedCMPS) / 100
	}
	if f.AirDC != noAir {
		out.TempC = float64(f.AirDC) / 10
	}
	return out
}

const (
	mostDriveFixes = 10_000_000
	driveBoxPadDeg = 0.002 // more than the distance of a fix from a road may be
)

// DriveUse says whether a drive was used on a route, and why not.
type DriveUse struct {
	File       string           `json:"file"`
	IsUsed     bool             `json:"used"`
	Why        string           `json:"why"` // not
	Direction  routes.Direction `json:"direction"`
	FromM      float64          `json:"from_m"`
	ToM        float64          `json:"to_m"`
	MisfitRMSM float64          `json:"misfit_rms_m"`
	HasAirTemp bool             `json:"air_temp_used"` // its temperature narrows the scale of its heights
	AirWhy     string           `json:"air_temp_why"`  // not, although it was recorded
}

// ReadDrives reads the recordings of files and folders (GPX, FIT, NMEA, CSV; folders are read
// without their links). The second result names files that are not recordings, or
// without heights from a barometer. elevationsAreBarometric says that the <ele> of a
// GPX file comes from a barometer, which the file does not state. A named file that
// can't be read is an error.
func ReadDrives(ctx context.Context, paths []string, elevationsAreBarometric bool) (*Drives, []routes.Skipped, error) {
	d, known, total := &Drives{}, newSameDrives(), 0
	var skipped []routes.Skipped
	files, err := driveFiles(paths)
	if err != nil {
		return nil, nil, err
	}
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return nil, nil, err
		}
		recs, err := vector.ReadRecordings([]string{f.path}, nil)
		if err != nil && f.isNamed {
			return nil, nil, err
		}
		if err != nil {
			skipped = append(skipped, routes.Skipped{Where: f.path, Why: strings.TrimPrefix(err.Error(), f.path+": ")})
			continue
		}
		rec := &recs[0]
		if rec.Heights == routes.HeightUnknown && elevationsAreBarometric {
			rec.Heights = routes.HeightBarometric
		}
		one, why := driveFrom(f.path, rec)
		if why != "" {
			skipped = append(skipped, routes.Skipped{Where: f.path, Why: why})
			continue
		}
		if total += len(one.fixes); total > mostDriveFixes {
			return nil, nil, &routes.Fault{Kind: terrain.ErrInput, File: f.path, What: fmt.Sprintf("over %d fixes of drives", mostDriveFixes), Fix: "name fewer recordings, only those of these roads"}
		}
		if as := known.find(one.fixes); as != "" {
			skipped = append(skipped, routes.Skipped{Where: f.path, Why: "it has the same heights as " + as + ", which is used once"})
			continue
		}
		known.add(one.fixes, f.path)
		d.list = append(d.list, one)
	}
	d.sum = stampOf(d.list)
	return d, skipped, nil
}

// stampOf is a fingerprint of drives; empty where there are none.
func stampOf(list []readDrive) string {
	if len(list) == 0 {
		return ""
	}
	sum := sha256.New()
	for i := range list {
		fmt.Fprintf(sum, "%q %d\n", list[i].file, len(list[i].fixes))
		_ = binary.Write(sum, binary.LittleEndian, list[i].fixes) // a hash takes everything
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// recordingEndings are those of the files that are read from a folder.
var recordingEndings = []string{".gpx", ".csv", ".fit", ".nmea", ".nma"}

type driveFile struct {
	path    string
	isNamed bool // by the user, not found in a folder
}

// driveFiles lists the files of paths, those of a folder in the order of their names.
func driveFiles(paths []string) ([]driveFile, error) {
	var out []driveFile
	for _, p := range paths {
		info, err := os.Stat(p)
		if err != nil {
			return nil, &routes.Fault{Kind: terrain.ErrRead, File: p, Err: err, Fix: "check the path of the drives"}
		}
		if !info.IsDir() {
			out = append(out, driveFile{p, true})
			continue
		}
		err = filepath.WalkDir(p, func(path string, e fs.DirEntry, err error) error {
			ending := strings.ToLower(filepath.Ext(path))
			if err == nil && e.Type().IsRegular() && slices.Contains(recordingEndings, ending) {
				out = append(out, driveFile{path, false})
			}
			return err
		})
		if err != nil {
			return nil, &routes.Fault{Kind: terrain.ErrRead, File: p, Err: err, Fix: "check the folder of the drives"}
		}
	}
	return out, nil
}

// driveFrom keeps the fixes that have a height, or says why the drive can't be used.
func driveFrom(path string, rec *routes.Recording) (d readDrive, why string) {
	if rec.Heights == routes.HeightSatellite {
		return d, "its heights come from a satellite receiver and are too noisy for a grade"
	}
	d = readDrive{file: path, box: orb.Bound{Min: orb.Point{180, 90}, Max: orb.Point{-180, -90}}}
	steps := map[float64]bool{}
	for _, f := range rec.Fixes {
		if math.IsNaN(f.HeightM) {
			continue
		}
		d.fixes = append(d.fixes, newDriveFix(&f, rec.IsAirTemp))
		d.box = d.box.Extend(orb.Point{f.LonDeg, f.LatDeg})
		if len(steps) < 3 {
			steps[f.HeightM] = true
		}
	}
	switch {
	case len(d.fixes) == 0:
		return d, "it has no heights; in CSV they are the columns baro_m or pressure_hpa"
	case rec.Heights == routes.HeightUnknown:
		return d, "nothing states that its heights come from a barometer; heights from a map or a satellite would mislead (use --drive-heights barometer if they do)"
	case len(steps) < 3:
		return d, "its heights do not change: the barometer did not work"
	}
	if n, several := recorded.AreSeveral(rec.Fixes); several {
		return d, fmt.Sprintf("its places jump %d times faster than any truck: it holds two vehicles, or its receiver was wrong; split it by vehicle", n)
	}
	return d, ""
}

// Stamp is the fingerprint of all drives; empty where there are none.
func (d *Drives) Stamp() string {
	if d == nil {
		return ""
	}
	return d.sum
}

// fuse improves a grade line with the drives that pass over it.
func (d *Drives) fuse(ctx context.Context, p *routes.Profile) (*routes.Profile, []DriveUse, error) {
	if d == nil || len(d.list) == 0 {
		return p, nil, nil
	}
	uses, passes := d.onRoad(p)
	if len(passes) == 0 {
		return p, nil, nil
	}
	q, fits, err := grade.Fuse(ctx, p, passes)
	if err != nil {
		return nil, nil, err
	}
	for i := range fits {
		uses[i].setFit(&fits[i])
	}
	return q, uses, nil
}

// onRoad lays the drives on a profile's line and cuts them into passes.
func (d *Drives) onRoad(p *routes.Profile) (uses []DriveUse, passes []grade.Drive) {
	stations, box := make([]float64, p.Count()), orb.MultiPoint(p.Points).Bound().Pad(driveBoxPadDeg)
	for i := range stations {
		stations[i] = math.Min(p.StationM(i), p.LengthM)
	}
	line, ok := recorded.NewLine(p.Points, stations, p.Points[len(p.Points)/2])
	if !ok {
		return nil, nil
	}
	for i := range d.list {
		one := &d.list[i]
		if !one.box.Intersects(box) {
			continue
		}
		var near []routes.Fix
		for k := range one.fixes {
			if f := &one.fixes[k]; box.Contains(orb.Point{f.LonDeg, f.LatDeg}) {
				near = append(near, f.fix())
			}
		}
		on, _ := line.Lay(near)
		list, rising := recorded.Passes(on)
		for k, places := range list {
			g, use := grade.Drive{IsBackward: !rising[k]}, DriveUse{File: one.file}
			if g.IsBackward {
				use.Direction = routes.Backward
			}
			for _, v := range []*[]float64{&g.StationM, &g.HeightM, &g.SpeedMPS, &g.TempC} {
				*v = make([]float64, 0, len(places))
			}
			for _, at := range places {
				g.StationM, g.HeightM = append(g.StationM, at.DistanceM), append(g.HeightM, at.Fix.HeightM)
				g.SpeedMPS, g.TempC = append(g.SpeedMPS, at.Fix.SpeedMPS), append(g.TempC, at.Fix.TempC)
			}
			if lo, hi := slices.Min(g.StationM), slices.Max(g.StationM); hi-lo < grade.DriveLeastM {
				continue // it crosses the road, or turns off at once
			}
			uses, passes = append(uses, use), append(passes, g)
		}
	}
	return uses, passes
}

// usedOn counts the drives used between two stations.
func usedOn(list []DriveUse, aM, bM float64) int {
	lo, hi, files := math.Min(aM, bM), math.Max(aM, bM), map[string]bool{}
	for _, u := range list {
		if u.IsUsed && u.FromM < hi && u.ToM > lo {
			files[u.File] = true
		}
	}
	return len(files)
}
