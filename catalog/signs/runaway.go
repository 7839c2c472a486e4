package signs

import (
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/terrain"
)

// RunawayInput is a truck that has lost its retarder on a descent. Zero fields
// take the defaults that RunawayFigures names.
type RunawayInput struct {
	Descent           routes.Descent
	Profile           *routes.Profile
	FromM             *float64 // station where it starts to run; nil is the crest
	FromMPS           float64  // its speed there
	MassKg            float64
	RollingResistance float64 // the low, unsafe end
	DragAreaM2        float64 // the low, unsafe end
	FadedDecelMPS2    float64 // what faded service brakes still give, everywhere
}

// Defaults of a runaway, each the end that makes it faster.
const (
	DefaultRunawayMassKg     = 36287.39 // 80,000 lb
	DefaultRunawayResistance = 0.0053   // NRC 2010, table G-1, lowest axle value; published
	DefaultRunawayDragM2     = 5.5      // Cd 0.55 (NRC 2010, table G-1; published) on 10 m² (from memory)
	DefaultFadedDecelMPS2    = 0.4      // ours, no source: under a tenth of cold service brakes
)

// RunawayFigures lists the assumptions of a runaway with their sources, in the units of u.
func RunawayFigures(o RunawayInput, u catalog.Units) []catalog.FigureStatus {
	given := [4]bool{o.MassKg != 0, o.RollingResistance != 0, o.DragAreaM2 != 0, o.FadedDecelMPS2 != 0}
	o.fillDefaults()
	out := []catalog.FigureStatus{
		{Figure: "mass " + u.Mass(o.MassKg), Status: StatusPractice, Source: "US five-axle combination"},
		{Figure: fmt.Sprintf("rolling resistance %g", o.RollingResistance), Status: StatusPublished, Source: "National Research Council 2010, table G-1, lowest axle value"},
		{Figure: "drag area " + area(u, o.DragAreaM2), Status: StatusMemory, Source: "Cd 0.55 from National Research Council 2010, table G-1; frontal area " + area(u, 10) + " from memory"},
		{Figure: "faded service brakes " + acceleration(u, o.FadedDecelMPS2), Status: StatusOurs, Source: "no source: under a tenth of what cold ones give"},
	}
	for i := range out {
		if given[i] {
			out[i].Status, out[i].Source = StatusGiven, "as requested"
		}
	}
	return out
}

// area writes an area in square feet or metres.
func area(u catalog.Units, areaM2 float64) string {
	if u == catalog.US {
		return fmt.Sprintf("%.0f ft²", areaM2/(catalog.FootM*catalog.FootM))
	}
	return fmt.Sprintf("%g m²", areaM2)
}

// acceleration writes an acceleration in feet or metres per second squared.
func acceleration(u catalog.Units, mps2 float64) string {
	if u == catalog.US {
		return fmt.Sprintf("%.1f ft/s²", catalog.FtFromM(mps2))
	}
	return fmt.Sprintf("%g m/s²", mps2)
}

// SpeedAt is where a runaway would be how fast: with neither retarder nor
// service brakes, and with faded service brakes. Speeds are upper ends: the 95 %
// bound of the mean grade from there to the foot is added, and where smoothing may
// have taken more than that off a steep part, so much.
type SpeedAt struct {
	StationM     float64 `json:"station_m"`
	FreeMPS      float64 `json:"free_speed_mps"`
	FadedMPS     float64 `json:"faded_speed_mps"`
	DowngradePct float64 `json:"downgrade_pct"`
	// CurveMPS is the speed at which the curve here would roll a loaded truck
	// over; 0 where the line is straight.
	CurveMPS float64 `json:"rollover_speed_mps"`
}

// rolloverShareOfG is the steady lateral acceleration at which a loaded
// combination rolls over: about 0.35 g, from memory.
const rolloverShareOfG = 0.35

// Runaway runs a truck down the grade line from where it lost its retarder to
// the foot: d(v²) = 2g·dh − 2g·Crr·dx − 2a·dx − (ρ·CdA/m)·v²·dx, solved exactly
// over each station's constant grade, air as thin as at the crest (US Standard
// Atmosphere 1976). A truck that stops stays stopped until the grade moves it.
//
// Errors: those of a descent that is not the profile's, and terrain.ErrInput for
// a start outside the descent or a figure that is none.
func Runaway(in RunawayInput) ([]SpeedAt, error) {
	t, err := newTravel(&in.Descent, in.Profile)
	if err != nil {
		return nil, err
	}
	from := 0.0
	if in.FromM != nil {
		from = t.pastM(*in.FromM)
	}
	in.fillDefaults()
	if err := in.check(from, t.lenM); err != nil {
		return nil, err
	}
	plain, bound := t.bound.MeanErrPct(t.lenM-from, t.interpolatedM(from, t.lenM)), t.errPct(from, t.lenM)
	if math.IsInf(bound, 1) {
		return nil, &Fault{Kind: terrain.ErrInput, Feature: in.Descent.ID, What: "the grade line carries no error bound", Fix: "give a recovered profile"}
	}
	k := vehicle.AirDensityKgM3(t.heightM[0], nil) * in.DragAreaM2 / in.MassKg // 1/m
	if math.IsNaN(k) {
		return nil, &Fault{Kind: terrain.ErrInput, Feature: in.Descent.ID, What: fmt.Sprintf("the crest is at %.0f m, where the standard atmosphere is not defined", t.heightM[0]), Fix: "check the elevation's unit and datum"}
	}
	free, faded := in.FromMPS*in.FromMPS, in.FromMPS*in.FromMPS
	var out []SpeedAt
	first := int(math.Ceil(from/t.stepM - 1e-9))
	for i := first; i < len(t.heightM); i++ {
		x := float64(i) * t.stepM
		s := SpeedAt{StationM: t.stationM(x), FreeMPS: math.Sqrt(free), FadedMPS: math.Sqrt(faded)}
		if r := t.radiusM(x); !math.IsInf(r, 1) {
			s.CurveMPS = math.Sqrt(rolloverShareOfG * vehicle.GravityMPS2 * r)
		}
		if i+1 < len(t.heightM) {
			s.DowngradePct = 100 * (t.heightM[i] - t.heightM[i+1]) / t.stepM
			here := math.Max(bound, plain+t.easedPct(x, x+t.stepM))
			pull := 2 * vehicle.GravityMPS2 * ((s.DowngradePct+here)/100 - in.RollingResistance) // of v², per metre
			free = roll(free, pull, k, t.stepM)
			faded = roll(faded, pull-2*in.FadedDecelMPS2, k, t.stepM)
		} else if n := len(out); n > 0 {
			s.DowngradePct = out[n-1].DowngradePct
		}
		out = append(out, s)
	}
	return out, nil
}

func (in *RunawayInput) fillDefaults() {
	fill := func(v *float64, def float64) {
		if *v == 0 {
			*v = def
		}
	}
	fill(&in.MassKg, DefaultRunawayMassKg)
	fill(&in.RollingResistance, DefaultRunawayResistance)
	fill(&in.DragAreaM2, DefaultRunawayDragM2)
	fill(&in.FadedDecelMPS2, DefaultFadedDecelMPS2)
}

// check refuses a start outside the descent, fromM past the crest, or a figure that is none.
func (in *RunawayInput) check(fromM, lengthM float64) error {
	if !(fromM >= 0 && fromM < lengthM) {
		return &Fault{Kind: terrain.ErrInput, Feature: in.Descent.ID, StationM: in.FromM, What: "the runaway starts outside the descent", Fix: "give a station between crest and foot"}
	}
	isSpeed := in.FromMPS >= 0 && in.FromMPS < 70
	if !isSpeed || !(in.MassKg > 0) || !(in.RollingResistance >= 0) || !(in.DragAreaM2 >= 0) || !(in.FadedDecelMPS2 >= 0) {
		return &Fault{Kind: terrain.ErrInput, Feature: in.Descent.ID, What: "a negative or impossible figure for the runaway", Fix: "give speed, mass, rolling resistance, drag area and deceleration as positive numbers"}
	}
	return nil
}

// roll solves w' = pull − k·w over dx; a truck never rolls backward.
func roll(w, pull, k, dxM float64) float64 {
	if k*dxM < 1e-12 {
		return math.Max(0, w+pull*dxM)
	}
	end := pull / k
	return math.Max(0, end+(w-end)*math.Exp(-k*dxM))
}

func onStructure(p *routes.Profile, stationM float64) bool {
	for _, s := range p.Structures {
		if stationM >= s.FromM && stationM <= s.ToM {
			return true
		}
	}
	return false
}
