package debrief

import (
	"time"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/recorded"
)

// Input is a recorded drive and the hill that it goes down.
type Input struct {
	Descent *routes.Descent
	Profile *routes.Profile // of its road; NaN where nothing is stored
	Class   *vehicle.Class
	Advice  *catalog.Hold // that the drive is compared with; nil where there is no valid advice
	MassKg  float64       // on the road; 0: the class's upper end
	File    string        // of the recording, for faults
	Drive   *routes.Recording
	Sites   []catalog.Site // on record; those of other roads are left out
	Pass    int            // which run down the hill, from 1; 0: the one that covers most of it
}

// Debrief is the analysis of a recorded drive down a descent. Distances are from the
// crest in travel, negative before it. Half-widths are 95 %.
type Debrief struct {
	Descent     string    `json:"descent"`
	Class       string    `json:"class"`
	MassKg      float64   `json:"mass_kg"`
	Pass        int       `json:"pass"`
	Passes      int       `json:"passes"` // down this hill in the recording
	From        time.Time `json:"from"`
	To          time.Time `json:"to"`
	HasAdvice   bool      `json:"has_advice"`
	AdvisedGear int       `json:"advised_gear"`
	AdvisedName string    `json:"advised_gear_name"` // as on the lever or display
	AdvisedMPS  float64   `json:"advised_speed_mps"` // 0 without advice

	MassIsTaken bool      `json:"mass_assumed"`       // the mass is the upper end of the class, because none was given
	IsBeyond    bool      `json:"mass_beyond_advice"` // heavier than the advice is for
	IsClock     bool      `json:"clock_known"`        // otherwise times count from Begin, an unknown moment
	Begin       time.Time `json:"recording_begins"`

	HighGearM       [][2]float64 `json:"high_gear_m"`        // on the hill in a recorded gear over the advised one
	HighGearUnheldM float64      `json:"high_gear_unheld_m"` // of it certainly over the advised speed or on the service brakes; 0 where that may be the recording's error

	Neutral   []Coast            `json:"in_neutral"` // moving out of gear, from where the gear is due to the foot
	NeutralS  float64            `json:"in_neutral_s"`
	Crest     CrestRule          `json:"crest"`
	Over      []OverStretch      `json:"over"`
	OverS     float64            `json:"over_s"`    // on the hill over the advised speed
	OnHillS   float64            `json:"on_hill_s"` // with points
	MostMPS   float64            `json:"most_mps"`  // highest speed on the hill
	MostAtM   float64            `json:"most_at_m"` // where
	OverMPS   float64            `json:"over_mps"`  // the most over the advised speed, beyond the bound; 0 if none
	Stops     []DriveStop        `json:"stops"`
	Places    []PassedPlace      `json:"places"`
	Brakes    BrakeBalance       `json:"service_brakes"`
	Applied   *BrakeUse          `json:"brake_use"` // null where no brake switch is recorded
	Off       []recorded.OffRoad `json:"off_road"`  // points too far from the road, left out
	Elsewhere int                `json:"points_elsewhere"`
	Gaps      []DriveGap         `json:"gaps"`

	Points         int     `json:"points"` // of the pass
	CoveredPct     float64 `json:"covered_pct"`
	SampleS        float64 `json:"sample_s"`
	IsSpeedOwn     bool    `json:"speed_recorded"` // the recorder's own speed, not from places
	SpeedErrMPS    float64 `json:"speed_err_mps"`  // median half-width
	SpeedWindowS   float64 `json:"speed_window_s"` // time over which a speed is a mean; 0 where recorded
	PlaceScatterM  float64 `json:"place_scatter_m"`
	HasGear        bool    `json:"has_gear"`
	HasRPM         bool    `json:"has_engine_rpm"`
	HasBrakeSignal bool    `json:"has_service_brake"`

	CannotTell []string `json:"cannot_tell"`
	Trace      Trace    `json:"trace"`
}

// Trace is the drive along the hill, point by point.
type Trace struct {
	DistanceM   []float64 `json:"distance_m"`
	SpeedMPS    []float64 `json:"speed_mps"`
	SpeedErrMPS []float64 `json:"speed_err_mps"`
	AfterGap    []bool    `json:"after_gap"`
}

// CrestRule is whether the gear was in and the speed down before the crest.
type CrestRule struct {
	Verdict       string  `json:"verdict"` // one of the Crest… values
	GearByM       float64 `json:"gear_by_m"`
	SpeedMPS      float64 `json:"speed_mps"` // at GearByM; 0 where the recording does not reach there
	SpeedErrMPS   float64 `json:"speed_err_mps"`
	CrestMPS      float64 `json:"crest_speed_mps"` // 0 likewise
	Gear          int     `json:"gear"`            // at GearByM; 0 where it is not known
	GearInAtM     float64 `json:"gear_in_at_m"`    // where the advised gear, or a lower one, was first in; meaningful with GearIsKnown
	GearIsKnown   bool    `json:"gear_known"`
	GearMostMPS   float64 `json:"gear_most_mps"` // above it the advised gear cannot be in
	DownByM       float64 `json:"down_by_m"`     // where the speed was first down to the advised
	IsNeutral     bool    `json:"in_neutral"`    // at GearByM
	DownByIsKnown bool    `json:"down_by_known"` // it was, somewhere on the hill or before it
}

// The verdicts on the crest rule.
const (
	CrestKept       = "kept"
	CrestSpeedKept  = "speed kept, gear not recorded"
	CrestTooFast    = "too fast"
	CrestGearLate   = "gear too late"
	CrestNeutral    = "out of gear"
	CrestNotCovered = "mass not covered by the advice"
	CrestCannotTell = "cannot tell"
)

// OverStretch is a stretch over the advised speed.
type OverStretch struct {
	FromM   float64 `json:"from_m"`
	ToM     float64 `json:"to_m"`
	TimeS   float64 `json:"time_s"`
	MostMPS float64 `json:"most_mps"` // highest speed on it
	AtM     float64 `json:"at_m"`
}

// Coast is a stretch driven out of gear, as recorded: there an engine's retarder does nothing.
type Coast struct {
	FromM   float64 `json:"from_m"`
	ToM     float64 `json:"to_m"`
	TimeS   float64 `json:"time_s"`
	MostMPS float64 `json:"most_mps"`
}

// DriveStop is a stop.
type DriveStop struct {
	AtM   float64   `json:"at_m"`
	At    time.Time `json:"at"`
	TimeS float64   `json:"time_s"`
}

// DriveGap is a stretch without points.
type DriveGap struct {
	FromM float64   `json:"from_m"`
	ToM   float64   `json:"to_m"`
	At    time.Time `json:"at"`
	TimeS float64   `json:"time_s"`
}
