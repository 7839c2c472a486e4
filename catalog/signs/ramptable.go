package signs

import (
	"fmt"
	"math"

	"gradeline/catalog"
)

// RampStationTable gives ramp stations as rows, one for each kind of ramp, in the units of u.
// Speeds and lengths are rounded up; where a run-down is faster than the 90 mph that ramps are
// designed for, a cell has both figures.
func RampStationTable(stations []RampStation, u catalog.Units) (header []string, rows [][]string) {
	header = []string{"station", "why", "entry, brakes gone", "entry, brakes faded", "kind", "bed", "ramp grade", "length"}
	for i := range stations {
		k := &stations[i]
		entry := speedUp(u, k.EntryMPS)
		if k.Late {
			entry = fmt.Sprintf("%d %s (runs down at %s)", int(math.Round(k.EntryMPS/u.SpeedUnitMPS())), u.SpeedName(), speedUp(u, k.FreeMPS))
		}
		for j, l := range k.Lengths {
			row := []string{"", "", "", "", l.Kind, l.Material, fmt.Sprintf("%.0f %%", l.GradePct), rampLength(l.LaidOutLengthM, u)}
			if k.Late {
				row[7] += " (" + rampLength(l.LengthM, u) + ")"
			}
			if j == 0 {
				row[0], row[1], row[2], row[3] = u.Station(k.StationM), k.WhyIn(u), entry, speedUp(u, k.FadedMPS)
			}
			rows = append(rows, row)
		}
	}
	return header, rows
}

// RatingTable gives rated ramps as rows, in the units of u: the used length is rounded up, the
// ramp's length and the highest entry speed down.
func RatingTable(ratings []Rating, u catalog.Units) (header []string, rows [][]string) {
	header = []string{"station", "ramp", "kind", "entry", "stops it", "used", "length", "short by", "highest entry"}
	for _, r := range ratings {
		stops, used, short := "NO", "all", "its last bed would not, at any length"
		switch {
		case r.Stops:
			stops, used, short = "yes", roundedLength(u, r.UsedM, math.Ceil), ""
		case r.ShortByM > 0:
			short = roundedLength(u, r.ShortByM, math.Ceil)
		}
		entry := speedUp(u, r.EntryMPS)
		if r.RunsDownMPS > 0 {
			entry = fmt.Sprintf("%d %s (runs down at %s)", int(math.Round(r.EntryMPS/u.SpeedUnitMPS())), u.SpeedName(), speedUp(u, r.RunsDownMPS))
			stops += map[bool]string{true: " (yes)", false: " (NO)"}[r.RunDownStops]
		}
		rows = append(rows, []string{u.Station(r.StationM), r.Name, r.Kind, entry, stops, used, roundedLength(u, r.LengthM, math.Floor), short, u.Speed(r.HighestEntryMPS)})
	}
	return header, rows
}

// rampLength writes a length that a ramp must have, rounded up to 10 ft or 5 m.
func rampLength(lengthM float64, u catalog.Units) string {
	if u == catalog.US {
		return u.Height(math.Ceil(catalog.FtFromM(lengthM)/10-1e-9) * 10 * catalog.FootM)
	}
	return u.Height(math.Ceil(lengthM/5-1e-9) * 5)
}

func roundedLength(u catalog.Units, lengthM float64, round func(float64) float64) string {
	if u == catalog.US {
		return u.Height(round(catalog.FtFromM(lengthM)) * catalog.FootM)
	}
	return u.Height(round(lengthM))
}

// speedUp rounds a speed up to a whole mph or km/h: for an entry speed the safe side.
func speedUp(u catalog.Units, speedMPS float64) string {
	return fmt.Sprintf("%d %s", int(math.Ceil(speedMPS/u.SpeedUnitMPS()-1e-6)), u.SpeedName())
}
