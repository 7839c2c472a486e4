package survey

import "math"

// sameDrives recognises a recording, or a part of it, that was read before: from a copy of the file,
// from another format of it, or from the catalogue. Two drives over one road never have the same
// run of heights and speeds.
type sameDrives struct {
	runs map[[sameRun]int64]string
}

const (
	sameRun    = 24 // fixes that must agree
	sameEvery  = 50 // of a known drive, each 50th run is remembered
	sameLeastN = 8  // different values in a run; an idle truck repeats itself
)

func newSameDrives() *sameDrives { return &sameDrives{map[[sameRun]int64]string{}} }

// figure is a height and a speed in hundredths.
func (f *driveFix) figure() int64 {
	v := int64(math.Round(float64(f.HeightM)*100)) << 20
	if f.SpeedCMPS != noSpeed {
		v += int64(f.SpeedCMPS)
	}
	return v
}

func runAt(fixes []driveFix, i int) (run [sameRun]int64, ok bool) {
	different := 0
	for k := range sameRun {
		run[k] = fixes[i+k].figure()
		if k == 0 || run[k] != run[k-1] {
			different++
		}
	}
	return run, different >= sameLeastN
}

// add remembers a drive under a name.
func (s *sameDrives) add(fixes []driveFix, name string) {
	for i := 0; i+sameRun <= len(fixes); i += sameEvery {
		if run, ok := runAt(fixes, i); ok {
			s.runs[run] = name
		}
	}
}

// find names the drive that has a run of these fixes; empty where none has.
func (s *sameDrives) find(fixes []driveFix) string {
	if len(s.runs) == 0 {
		return ""
	}
	for i := 0; i+sameRun <= len(fixes); i++ {
		if run, ok := runAt(fixes, i); ok {
			if name, found := s.runs[run]; found {
				return name
			}
		}
	}
	return ""
}
