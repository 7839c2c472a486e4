package signs

import (
	"fmt"
	"strings"

	"gradeline/catalog"
	"gradeline/terrain"
)

// ParseRamp reads an existing escape ramp of one bed as it is typed: station, material, length and
// grade, as in "11922m, pea gravel, 150m, 8%". The grade is positive where the bed rises.
func ParseRamp(text string) (Ramp, error) {
	bad := func(what string) (Ramp, error) {
		return Ramp{}, &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("escape ramp %q: %s", text, what),
			Fix: "write STATION, MATERIAL, LENGTH, GRADE, as in 11922m, pea gravel, 150m, 8%"}
	}
	parts := strings.Split(text, ",")
	if len(parts) != 4 {
		return bad("four values are needed")
	}
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	stationM, err := catalog.LengthM(parts[0])
	if err != nil {
		return bad("station " + err.Error())
	}
	lengthM, err := catalog.LengthM(parts[2])
	if err != nil {
		return bad("length " + err.Error())
	}
	gradePct, err := catalog.DowngradePct(parts[3])
	if err != nil {
		return bad("grade " + err.Error())
	}
	if strings.HasPrefix(parts[3], "-") { // a bed that falls
		gradePct = -gradePct
	}
	return Ramp{Name: parts[1], StationM: stationM, Beds: []RampBed{{Material: parts[1], LengthM: lengthM, GradePct: gradePct}}}, nil
}
