package signs

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
)

// Ramps are designed for entry at 80 to 90 mph (Wyoming DOT sheet; published). A station where a
// runaway is faster than the higher speed is too late.
const (
	rampEntryMPS     = 80 * catalog.MilePerHourMPS
	mostRampEntryMPS = 90 * catalog.MilePerHourMPS
)

// RampStation is a station where an escape ramp exists or would still help, with the entry speeds
// and the length for each kind of ramp.
type RampStation struct {
	StationM float64 `json:"station_m"`
	Why      string  `json:"why"` // in both unit systems; see WhyIn
	FreeMPS  float64 `json:"entry_speed_mps"`
	FadedMPS float64 `json:"faded_entry_speed_mps"`
	// EntryMPS is FreeMPS, but at most the 90 mph that ramps are designed for.
	EntryMPS float64      `json:"laid_out_entry_mps"`
	Late     bool         `json:"late"`      // faster here than any ramp is designed for, 90 mph
	IsRecord bool         `json:"on_record"` // an existing ramp; its bed is unknown
	Lengths  []RampChoice `json:"lengths"`

	reasons []rampReason
}

// RampChoice is a kind of ramp and the length that stops the free runaway.
type RampChoice struct {
	Material string  `json:"material"`
	GradePct float64 `json:"grade_pct"`
	LengthM  float64 `json:"length_m"` // for FreeMPS
	// LaidOutLengthM is the length for EntryMPS; the same where FreeMPS is not higher.
	LaidOutLengthM float64 `json:"laid_out_length_m"`
	Kind           string  `json:"kind"` // one of the Ramp… kinds
}

// The kinds of escape ramp by their grade (AASHTO Green Book, from memory).
const (
	RampAscending  = "ascending"
	RampLevel      = "level"
	RampDescending = "descending"
)

// rampGradesPct are the grades for which lengths are listed, per cent, rising positive.
var rampGradesPct = []float64{-5, 0, 5, 10}

// rampReason is the reason for a ramp before a place.
type rampReason struct {
	text             string // with %s for the place and the speed where there are any
	curveM, curveMPS float64
}

// in writes the reason in one unit system.
func (r rampReason) in(u catalog.Units) string {
	if r.curveMPS == 0 {
		return r.text
	}
	return fmt.Sprintf(r.text, u.Station(r.curveM), u.Speed(r.curveMPS))
}

// WhyIn says why a ramp would help here, in one unit system.
func (c *RampStation) WhyIn(u catalog.Units) string {
	var words []string
	for _, r := range c.reasons {
		words = append(words, r.in(u))
	}
	return strings.Join(words, "; ")
}

// rampStationAt is a ramp's place with the length for each kind.
func rampStationAt(s SpeedAt) RampStation {
	c := RampStation{StationM: s.StationM, FreeMPS: s.FreeMPS, FadedMPS: s.FadedMPS, EntryMPS: math.Min(s.FreeMPS, mostRampEntryMPS), Late: s.FreeMPS > mostRampEntryMPS}
	for _, b := range Beds()[2:] { // paved and compacted beds are lanes, not beds
		for _, g := range rampGradesPct {
			laidOutM, err := RampLengthM(c.EntryMPS, b.Resistance, g)
			if err != nil {
				continue // stops nothing
			}
			over := c.FreeMPS / c.EntryMPS
			fullM := laidOutM * over * over // the length is proportional to the speed squared
			c.Lengths = append(c.Lengths, RampChoice{b.Material, g, fullM, laidOutM, rampKind(g)})
		}
	}
	return c
}

func rampKind(gradePct float64) string {
	switch {
	case gradePct > 0:
		return RampAscending
	case gradePct < 0:
		return RampDescending
	}
	return RampLevel
}

// because adds a reason, in the words of both unit systems.
func (c *RampStation) because(r rampReason) {
	c.reasons = append(c.reasons, r)
	text := r.text
	if r.curveMPS > 0 {
		at := catalog.Metric.Station(r.curveM) + " (" + catalog.US.Station(r.curveM) + ")"
		text = fmt.Sprintf(r.text, at, bothSpeeds(r.curveMPS))
	}
	if c.Why != "" {
		text = c.Why + "; " + text
	}
	c.Why = text
}

// RampCandidates names the last places where a ramp can stop a runaway: before each
// curve that would roll it over, where it passes 80 mph, and before the foot if it is
// still faster there than where it began. They are leadM upstream (default 200), off
// bridges and outside tunnels.
func RampCandidates(in RunawayInput, run []SpeedAt, leadM float64) []RampStation {
	if len(run) < 2 {
		return nil
	}
	if leadM <= 0 {
		leadM = 200
	}
	var out []RampStation
	add := func(at int, r rampReason) {
		i := clearBefore(&in, run, at, leadM)
		if n := len(out); n == 0 || math.Abs(out[n-1].StationM-run[i].StationM) >= 2*leadM {
			out = append(out, rampStationAt(run[i]))
		}
		out[len(out)-1].because(r)
	}
	inCurve, past := false, false
	for i, s := range run {
		over := s.CurveMPS > 0 && s.FreeMPS > s.CurveMPS
		if over && !inCurve {
			add(i, rampReason{"before the curve at station %s, which rolls a loaded truck over at %s", s.StationM, s.CurveMPS})
		}
		inCurve = over
		if !past && s.FreeMPS > rampEntryMPS {
			past = true
			add(i, rampReason{text: "before the runaway passes 80 mph, the lowest design speed of ramps"})
		}
	}
	if last := run[len(run)-1]; last.FreeMPS > run[0].FreeMPS {
		add(len(run)-1, rampReason{text: "before the foot"})
	}
	return out
}

// clearBefore is the index leadM upstream of another, off bridges and outside tunnels.
func clearBefore(in *RunawayInput, run []SpeedAt, at int, leadM float64) int {
	i := at
	for i > 0 && math.Abs(run[i].StationM-run[at].StationM) < leadM {
		i--
	}
	for i > 0 && onStructure(in.Profile, run[i].StationM) {
		i--
	}
	return i
}

// RampsOnRecord rates the existing escape ramps of a descent for the run: the entry speed of each
// and the length that each kind of bed would need there. A catalogue does not record a ramp's bed;
// use RateRamp for a known bed.
func RampsOnRecord(in RunawayInput, run []SpeedAt, sites []catalog.Site) []RampStation {
	var out []RampStation
	for _, site := range sites {
		if site.Kind != catalog.EscapeRamp || !site.Serves(in.Descent.Direction) || len(run) == 0 {
			continue
		}
		travelM := in.Descent.TravelFromStationM(*site.StationM)
		if travelM < in.Descent.TravelFromStationM(run[0].StationM) || travelM > in.Descent.TravelFromStationM(run[len(run)-1].StationM) {
			continue
		}
		c := rampStationAt(SpeedNear(run, *site.StationM))
		c.StationM, c.IsRecord = *site.StationM, true
		name := site.Name
		if name == "" {
			name = "escape ramp"
		}
		c.because(rampReason{text: "stands: " + name})
		out = append(out, c)
	}
	return out
}

// SpeedNear is the run at the station nearest to a given one; of two equally near ones the faster,
// because a ramp may be between them.
func SpeedNear(run []SpeedAt, stationM float64) SpeedAt {
	var best SpeedAt
	bestM := math.Inf(1)
	for _, s := range run {
		d := math.Abs(s.StationM - stationM)
		if d < bestM-1e-9 || d < bestM+1e-9 && s.FreeMPS > best.FreeMPS {
			best, bestM = s, d
		}
	}
	return best
}
