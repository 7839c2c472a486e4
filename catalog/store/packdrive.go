package store

import (
	"encoding/binary"
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/compact"
	"gradeline/terrain"
)

// The heights of a pass are stored packed: mark, layout, count, then column by column in the steps
// below. The largest error is half a step.
const (
	driveMark    = 'd'
	driveLayout  = 1
	mostOfDrive  = 500_000 // heights of one pass
	mostDriveM   = 9000.0  // above any road
	mostDriveOff = 1000.0
)

// driveParts are the steps of each column, as parts of one.
var driveParts = [7]float64{10, 10, 1e7, 1e7, 100, 10, 100}

func driveFigure(f *catalog.DriveFix, k int) *float64 {
	return [7]*float64{&f.StationM, &f.OffM, &f.LonDeg, &f.LatDeg, &f.HeightM, &f.TimeS, &f.SpeedMPS}[k]
}

// packDrive writes the heights of a pass. It refuses what unpackDrive would.
func packDrive(fixes []catalog.DriveFix) ([]byte, error) {
	b := binary.AppendUvarint([]byte{driveMark, driveLayout}, uint64(len(fixes)))
	column := make([]float64, len(fixes))
	rounded := make([]catalog.DriveFix, len(fixes))
	for k, parts := range driveParts {
		for i := range fixes {
			column[i] = math.Round(*driveFigure(&fixes[i], k)*parts) / parts
			*driveFigure(&rounded[i], k) = column[i]
		}
		b = compact.AppendFloats(b, column, nil)
	}
	if why := driveFault(rounded); why != "" {
		return nil, &Fault{Kind: terrain.ErrInput, What: "a drive with " + why, Fix: "check the recording"}
	}
	return b, nil
}

// unpackDrive reads what packDrive wrote; anything else is a fault.
func unpackDrive(b []byte) ([]catalog.DriveFix, error) {
	damaged := &Fault{Kind: terrain.ErrRead, What: "a kept drive is damaged", Fix: "forget it, and import the recording again"}
	if len(b) < 3 || b[0] != driveMark || b[1] != driveLayout {
		return nil, damaged
	}
	n, used := binary.Uvarint(b[2:])
	if used <= 0 || n > mostOfDrive || n > uint64(len(b))*64 {
		return nil, damaged
	}
	r := compact.NewReader(b[2+used:])
	fixes, column := make([]catalog.DriveFix, n), make([]float64, n)
	for k := range driveParts {
		r.Floats(column, nil)
		for i := range fixes {
			*driveFigure(&fixes[i], k) = column[i]
		}
	}
	if r.Err() != nil || len(r.Rest()) > 0 || driveFault(fixes) != "" {
		return nil, damaged
	}
	return fixes, nil
}

// driveFault says what is impossible in a pass; empty where nothing is.
func driveFault(fixes []catalog.DriveFix) string {
	if len(fixes) < 2 || len(fixes) > mostOfDrive {
		return fmt.Sprintf("%d heights", len(fixes))
	}
	for i := range fixes {
		f := &fixes[i]
		switch {
		case !(f.StationM >= 0 && f.StationM <= maxRouteM) || !(math.Abs(f.OffM) <= mostDriveOff) || !(terrain.Point{LonDeg: f.LonDeg, LatDeg: f.LatDeg}).Valid():
			return fmt.Sprintf("a place at station %g that is none", f.StationM)
		case !(math.Abs(f.HeightM) <= mostDriveM):
			return fmt.Sprintf("a height of %g m", f.HeightM)
		case !(f.TimeS >= 0) || i > 0 && f.TimeS < fixes[i-1].TimeS:
			return "times that do not rise"
		case f.SpeedMPS < 0 || f.SpeedMPS > 100:
			return fmt.Sprintf("a speed of %g m/s", f.SpeedMPS)
		}
	}
	return ""
}
