package signs

import (
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/terrain"
)

// Bed is a surface of an escape ramp with its rolling resistance R, as a share of weight.
type Bed struct {
	Material   string
	Resistance float64
	Source     catalog.Source
}

var greenBook = catalog.Source{Document: "AASHTO, A Policy on Geometric Design of Highways and Streets", Section: "emergency escape ramps",
	Edition: "as remembered", Status: StatusMemory, Note: "rolling resistance of ramp materials; length formula"}

// Beds are the published bed materials. Source: AASHTO Green Book, from memory.
func Beds() []Bed {
	return []Bed{
		{"asphalt", 0.012, greenBook}, {"compacted gravel", 0.015, greenBook}, {"loose crushed aggregate", 0.050, greenBook},
		{"loose gravel", 0.100, greenBook}, {"sand", 0.150, greenBook}, {"pea gravel", 0.250, greenBook},
	}
}

// BedByName finds a bed material. Error: catalog.ErrNotFound with the names.
func BedByName(name string) (Bed, error) {
	var names []string
	for _, b := range Beds() {
		if b.Material == name {
			return b, nil
		}
		names = append(names, b.Material)
	}
	return Bed{}, &Fault{Kind: catalog.ErrNotFound, What: fmt.Sprintf("no bed material is called %q", name), Fix: fmt.Sprintf("use one of %v", names)}
}

// RampLengthFt is the length in feet of a ramp of one bed and grade that stops a
// truck that enters at speedMPH: L = V²/(30(R + G)), G as a share, rising
// positive (gradePct is in per cent). No margin is added.
//
// Errors: catalog.ErrImpossible where R + G ≤ 0, because nothing would ever stop;
// terrain.ErrInput for an impossible speed, resistance or grade. Source: AASHTO Green
// Book, emergency escape ramps, from memory.
func RampLengthFt(speedMPH, resistance, gradePct float64) (float64, error) {
	V, R, G := speedMPH, resistance, gradePct/100
	switch {
	case !(V > 0 && V <= 200):
		return 0, &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%g mph is not an entry speed", V), Fix: "use a speed between 0 and 200 mph"}
	case !(R > 0 && R <= 1):
		return 0, &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%g is not a rolling resistance", R), Fix: "use a share of weight, as in 0.25 for pea gravel"}
	case !(math.Abs(G) <= 0.5):
		return 0, &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%g %% is not a ramp grade", gradePct), Fix: "use per cent, rising positive, within 50"}
	case R+G <= 1e-9:
		return 0, &Fault{Kind: catalog.ErrImpossible, What: fmt.Sprintf("a bed of resistance %g falling at %g %% stops nothing: R + G is not above 0", R, -gradePct),
			Fix: "choose a bed with more resistance or a ramp that rises"}
	}
	return V * V / (30 * (R + G)), nil
}

// RampLengthM is RampLengthFt in metres and metres per second.
func RampLengthM(speedMPS, resistance, gradePct float64) (float64, error) {
	ft, err := RampLengthFt(speedMPS/catalog.US.SpeedUnitMPS(), resistance, gradePct)
	return ft * catalog.FootM, err
}

// Ramp is an existing escape ramp: its beds in the order of travel.
type Ramp struct {
	Name     string
	StationM float64
	Beds     []RampBed
}

// RampBed is a length of one material and grade, rising positive.
type RampBed struct {
	Material string
	LengthM  float64
	GradePct float64
}

// Rating is the effect of an existing ramp at an entry speed.
type Rating struct {
	Name            string         `json:"name"`
	StationM        float64        `json:"station_m"`
	Kind            string         `json:"kind"` // ascending, level or descending, with or without an arrester bed
	EntryMPS        float64        `json:"entry_speed_mps"`
	RunsDownMPS     float64        `json:"runs_down_mps"`  // where the runaway is faster than EntryMPS; 0 else
	RunDownStops    bool           `json:"run_down_stops"` // whether it stops that speed too
	Stops           bool           `json:"stops"`
	UsedM           float64        `json:"used_m"` // used length; the full length if it does not stop
	LengthM         float64        `json:"length_m"`
	EndMPS          float64        `json:"end_speed_mps"`     // still left at its end
	ShortByM        float64        `json:"short_by_m"`        // of the last bed's kind; 0 if it stops
	HighestEntryMPS float64        `json:"highest_entry_mps"` // highest entry speed that it would stop
	Words           string         `json:"words"`
	Source          catalog.Source `json:"source"`
}

// RateRampOnRun rates a ramp for the speed at which a runaway reaches it, at most the
// 90 mph that ramps are designed for. Where the runaway is faster, the rating covers
// that speed too. Errors are those of RateRamp.
func RateRampOnRun(ramp Ramp, freeMPS float64) (Rating, error) {
	if freeMPS <= mostRampEntryMPS {
		return RateRamp(ramp, freeMPS)
	}
	r, err := RateRamp(ramp, mostRampEntryMPS)
	if err != nil {
		return r, err
	}
	r.RunsDownMPS, r.RunDownStops = freeMPS, freeMPS <= r.HighestEntryMPS
	return r, nil
}

// kind names a ramp by its rise from end to end, and says whether loose material is in it.
func (r *Ramp) kind() string {
	riseM, bed := 0.0, "no arrester bed"
	for _, b := range r.Beds {
		riseM += b.LengthM * b.GradePct / 100
		if m, err := BedByName(b.Material); err == nil && m.Resistance >= arresterResistance {
			bed = "arrester bed"
		}
	}
	return rampKind(riseM) + ", " + bed
}

// arresterResistance is the lowest resistance of the loose published bed materials.
const arresterResistance = 0.05

// RateRamp runs a truck into an existing ramp, bed after bed, by the same formula: V₂²
// = V₁² − 30·L·(R + G). A bed with R + G ≤ 0 speeds it up. No margin is added. Errors:
// terrain.ErrInput for a ramp without beds or with an impossible length or grade;
// catalog.ErrNotFound for its material.
func RateRamp(ramp Ramp, entryMPS float64) (Rating, error) {
	r := Rating{Name: ramp.Name, StationM: ramp.StationM, Kind: ramp.kind(), EntryMPS: entryMPS, Source: greenBook}
	bad := func(what, fix string) (Rating, error) {
		return Rating{}, &Fault{Kind: terrain.ErrInput, Feature: ramp.Name, StationM: &ramp.StationM, What: what, Fix: fix}
	}
	if len(ramp.Beds) == 0 {
		return bad("a ramp without a bed", "describe its beds with material, length and grade")
	}
	if !(entryMPS > 0 && entryMPS < 90) {
		return bad(fmt.Sprintf("%g m/s is not an entry speed", entryMPS), "use a speed above 0")
	}
	// K = 30(R+G) in ft per mph², brought to SI.
	k := catalog.US.SpeedUnitMPS() * catalog.US.SpeedUnitMPS() * 30 / catalog.FootM
	w, taken, most := entryMPS*entryMPS, 0.0, 0.0
	last := 0.0
	for _, b := range ramp.Beds {
		bed, err := BedByName(b.Material)
		if err != nil {
			return Rating{}, err
		}
		if !(b.LengthM > 0 && b.LengthM < 1e5) || !(math.Abs(b.GradePct) <= 50) {
			return bad(fmt.Sprintf("a bed of %g m at %g %%", b.LengthM, b.GradePct), "use a length in metres and a grade in per cent")
		}
		last = k * (bed.Resistance + b.GradePct/100)
		if !r.Stops {
			if need := w / last; last > 0 && need <= b.LengthM {
				r.Stops, r.UsedM = true, r.LengthM+need
			} else {
				w -= last * b.LengthM
			}
		}
		taken += last * b.LengthM
		most = math.Max(most, taken)
		r.LengthM += b.LengthM
	}
	r.HighestEntryMPS = math.Sqrt(most)
	if r.Stops {
		r.Words = fmt.Sprintf("stops it in %.0f of %.0f m", r.UsedM, r.LengthM)
		return r, nil
	}
	r.UsedM, r.EndMPS = r.LengthM, math.Sqrt(w)
	if last > 0 {
		r.ShortByM = w / last
		r.Words = fmt.Sprintf("does not stop it: %.0f m more of its last bed would be needed", r.ShortByM)
	} else {
		r.Words = "does not stop it, and its last bed would not at any length"
	}
	return r, nil
}
