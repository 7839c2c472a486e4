// Package catalog holds the types of the catalogue: entries, holds, review states, sites,
// provenance, cautions, and the units that people read and type.
package catalog

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"gradeline/routes"
	"gradeline/terrain"
)

// Fault is this module's error, which names a place; see terrain.Fault.
type Fault = routes.Fault

// Kinds of fault that the catalogue adds, for errors.Is.
var (
	ErrQuantity   = errors.New("quantity")
	ErrNotOurs    = errors.New("not a gradeline catalogue")
	ErrNewer      = errors.New("written by a newer version")
	ErrBusy       = errors.New("in use by another writer")
	ErrNotFound   = errors.New("not found")
	ErrClass      = errors.New("weight class")
	ErrImpossible = errors.New("impossible figure")
)

// Schema names the JSON contract; every --json answer has it.
const Schema = "gradeline/1"

// Hold is the advice for one weight class on one descent, on the retarder alone. Where nothing
// holds, Gear, Stage and SpeedMPS are 0; MissingPowerW and HeaviestMassKg say how much is missing.
type Hold struct {
	Class             string   `json:"class"`
	MassKg            float64  `json:"mass_kg"`
	Holds             bool     `json:"holds"`
	Gear              int      `json:"gear"`
	Ratio             float64  `json:"ratio"`
	Stage             int      `json:"stage"`
	SpeedMPS          float64  `json:"speed_mps"`             // advised, rounded down to a whole mph or km/h
	EngineRPM         float64  `json:"engine_rpm"`            // at SpeedMPS
	RetarderUsePct    float64  `json:"retarder_use_pct"`      // at SpeedMPS, of the top stage, on the stretch that uses most; independent of ReservePct
	LimitedBy         string   `json:"limited_by"`            // one of the Limit… values
	HeaviestMassKg    float64  `json:"heaviest_mass_kg"`      // heaviest mass that any gear holds; at most HeaviestSearchedKg
	MissingPowerW     float64  `json:"missing_power_w"`       // 0 when it holds
	FrictionNeeded    float64  `json:"friction_needed"`       // at the retarded axles
	ServiceBrakeTempC *float64 `json:"service_brake_temp_c"`  // if the service brakes had to do the rest; nil when nothing remains
	Cautions          []string `json:"cautions"`              // in the unit of the class's country; see CautionsIn
	CautionsUS        []string `json:"cautions_us,omitempty"` // the same in the other unit system, where the text differs
	CautionsMetric    []string `json:"cautions_metric,omitempty"`

	GearName         string          `json:"gear_name"`          // as on the lever or display
	Levers           []Lever         `json:"levers"`             // of each retarding device; Stage is the first one's
	SpeedLowMPS      float64         `json:"speed_low_mps"`      // speed at which the stage is switched off; it is set again at SpeedMPS; 0 with the retarder off
	FrictionApplied  float64         `json:"friction_applied"`   // friction that the stage needs when switched on, at MassLightKg
	MassLightKg      float64         `json:"mass_light_kg"`      // lightest mass that the hold is for; MassKg is the heaviest
	Surfaces         []SurfaceAnswer `json:"surfaces"`           // best grip first
	RecoverySpeedMPS *float64        `json:"recovery_speed_mps"` // greatest speed from which the governed speed is never exceeded; nil when not held
	Stretches        []HoldStretch   `json:"stretches"`          // the advice by stretch, for a driver who changes speed and stage on the way
	SlowFromM        float64         `json:"slow_from_m"`        // station where the truck must begin to slow down, to be in gear at GearByM
	ApproachSpeedMPS float64         `json:"approach_speed_mps"` // assumed for SlowFromM and GearByM
	Charge           *Charge         `json:"charge,omitempty"`   // for the battery of a truck with recuperation
	Weather          *Weather        `json:"weather,omitempty"`  // that the hold is for; nil for the standard atmosphere, and in older catalogues
	ClassFigures     string          `json:"class_figures"`      // rules and figures of the class that were used (vehicle.Class.AdviceMark); empty in older catalogues

	GearByM         float64        `json:"gear_by_m"` // station before which the gear must be engaged
	TimeS           float64        `json:"time_s"`
	OneGearUp       string         `json:"one_gear_up"` // in words, in the survey's units; see OneGearUpIn
	GearUp          *GearUp        `json:"gear_up"`     // the same as data; nil where nothing holds, and in older catalogues
	SurfacesOut     []string       `json:"surfaces_excluded"`
	DemandPowerW    float64        `json:"demand_power_w"`    // on the stretch that comes closest to its limit
	AvailablePowerW float64        `json:"available_power_w"` // there, less what must stay unused
	ReservePct      float64        `json:"reserve_pct"`
	Defaults        []string       `json:"defaults_used"` // assumptions in place of figures that were not given
	Words           Words          `json:"explanation"`
	Sensitivity     []Sensitivity  `json:"sensitivity"`
	Heat            []HeatStation  `json:"heat"`
	HeatCase        string         `json:"heat_case"`       // in words, in the survey's units; see HeatCaseIn
	HeatFacts       *HeatCase      `json:"heat_case_facts"` // assumed use of the service brakes in Heat; nil in older catalogues
	Limits          []SpeedCeiling `json:"limits"`
	Statuses        []FigureStatus `json:"figure_status"`
	Gears           []GearOutcome  `json:"gears"`
}

// Words explains one answer in two plain sentences, in each unit system.
type Words struct {
	US     string `json:"us"`
	Metric string `json:"metric"`
}

// Sensitivity is the same descent with one thing changed.
type Sensitivity struct {
	Change   string  `json:"change"`
	Holds    bool    `json:"holds"`
	Gear     int     `json:"gear"`
	GearName string  `json:"gear_name"` // as on the lever or display; empty in older catalogues
	SpeedMPS float64 `json:"speed_mps"`
}

// OutcomeWords is the result of the change in words, in a unit system.
func (s *Sensitivity) OutcomeWords(u Units) string {
	if !s.Holds {
		return "NOT HELD"
	}
	return fmt.Sprintf("gear %s, %s", GearLabel(s.GearName, s.Gear), u.Speed(s.SpeedMPS))
}

// HeatStation is the state of the service brakes at one station if they did the work that the
// retarder does not.
type HeatStation struct {
	StationM   float64 `json:"station_m"`
	TempC      float64 `json:"temp_c"`      // grade-severity structure
	BalanceC   float64 `json:"balance_c"`   // first-principles heat balance, as a check
	StrokeM    float64 `json:"stroke_m"`    // pushrod stroke
	ForceShare float64 `json:"force_share"` // share of the cold braking force that remains
}

// SpeedCeiling is one thing that limits the speed and the speed it allows.
type SpeedCeiling struct {
	Reason   string  `json:"reason"` // one of the Limit… values
	SpeedMPS float64 `json:"speed_mps"`
	StationM float64 `json:"station_m"`
	LengthM  float64 `json:"length_m"` // the radius or sight distance that Note names; 0 if none
	Note     string  `json:"note"`
}

// FigureStatus names the source of a constant.
type FigureStatus struct {
	Figure string `json:"figure"`
	Status string `json:"status"` // published, second-hand, from memory, common practice, default
	Source string `json:"source"`
}

// GearOutcome is the result for one gear on the descent.
type GearOutcome struct {
	Gear     int     `json:"gear"`
	GearName string  `json:"gear_name"` // as on the lever or display; empty in older catalogues
	Ratio    float64 `json:"ratio"`
	Holds    bool    `json:"holds"`
	SpeedMPS float64 `json:"speed_mps"`
	Why      string  `json:"why"`
	StationM float64 `json:"station_m"` // where the limit is met
}

// The limits of an advised speed.
const (
	LimitRetarder    = "retarder"     // retarding power at that engine speed
	LimitEngineSpeed = "engine speed" // governed speed in the gear
	LimitSustained   = "sustained"    // the driveline retarder's cooling
	LimitPosted      = "posted"       // posted limit
	LimitCurve       = "curve"        // tightest curve
	LimitStopping    = "stopping"     // cool service brakes' emergency stop
	LimitFriction    = "friction"     // tyre grip at the retarded axles
	LimitFoot        = "foot"         // a stop or town at the foot
	LimitNothing     = "none holds"   // no gear holds
	LimitFreeRolling = "free rolling" // road load alone holds it; the retarder is not needed
	LimitTruckSpeed  = "truck speed"  // the class's own highest speed on any road
)

// ReviewState is the state of a descent in the office's review.
type ReviewState string

// The review states, in order.
const (
	Surveyed     ReviewState = "surveyed"
	FieldChecked ReviewState = "field-checked"
	Approved     ReviewState = "approved"
	Retired      ReviewState = "retired"
)

// ReviewStates are all of them, in order.
func ReviewStates() []ReviewState { return []ReviewState{Surveyed, FieldChecked, Approved, Retired} }

// ParseReviewState reads a state by its name. Other text is terrain.ErrInput.
func ParseReviewState(text string) (ReviewState, error) {
	if s := ReviewState(text); slices.Contains(ReviewStates(), s) {
		return s, nil
	}
	return "", &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%q is not a review state", text), Fix: "use surveyed, field-checked, approved or retired"}
}

// Review is one recorded look at a descent. InQuestion names the data, class or rules that have
// changed since; empty if none has.
type Review struct {
	State            ReviewState `json:"state"`
	By               string      `json:"by"`
	At               time.Time   `json:"at"`
	MeasuredGradePct *float64    `json:"measured_downgrade_pct"`
	Note             string      `json:"note"`
	Photo            string      `json:"photo_ref"`
	InQuestion       string      `json:"in_question"`
}

// Provenance lists the sources of an entry.
type Provenance struct {
	Tool       string    `json:"tool"` // name and version
	At         time.Time `json:"at"`
	Rasters    []string  `json:"rasters"` // name, CRS, datum, cell, fingerprint, as one line each
	RouteFile  string    `json:"route_file"`
	Credits    []string  `json:"credits,omitzero"` // credits that the licences of terrain and roads require in print
	VertDatum  string    `json:"vertical_datum"`
	CellM      float64   `json:"cell_m"`
	NoiseM     float64   `json:"noise_sigma_m"`
	Rules      string    `json:"rules"` // thresholds used
	FieldState string    `json:"field_state"`
	Invented   bool      `json:"invented"` // a demonstration, not a real place
	Drives     int       `json:"drives"`   // recorded drives whose heights were used for the grade line
}

// Entry is a descent with its advice, review and provenance. Line runs from crest to foot, in
// travel, with the grade line's height and station of each vertex.
type Entry struct {
	Descent    routes.Descent
	Line       []Vertex
	Holds      []Hold
	Review     Review
	Provenance Provenance
}

// Vertex is one vertex of an entry's line.
type Vertex struct {
	LonDeg, LatDeg, ElevationM, StationM float64
}

// Cautions are printed in every output that a driver may act on.
func Cautions() []string {
	return []string{
		"A planning aid, not a permission: posted signs and limits, local law, the vehicle maker's limits and the driver's judgement come first.",
		"Brakes in adjustment and checked at the brake check area before the descent; service brakes are kept cold for the emergency.",
		"The retarder only on the surfaces that the advice allows: on any other the driven wheels may lock.",
		"Made from elevation data with the error stated; not field-checked unless it says so.",
	}
}

// SignCaution is printed in sign schedules in addition to the Cautions.
const SignCaution = "Signs and ramps are a schedule for a licensed engineer to decide, under the edition named."
