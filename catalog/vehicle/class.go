package vehicle

import (
	"strconv"

	"gradeline/catalog"
)

// Class is a weight class: a truck, a mass range and the legal source of its
// upper end. Advice is for the upper end unless a mass is given.
type Class struct {
	ID, Name             string
	Units                catalog.Units // of its country: advice is rounded down in it
	MassMinKg, MassMaxKg float64
	Legal                catalog.Source // Document holds its text
	SpeedMaxMPS          float64        // the truck's speed limit on any road, by its governor or by order
	RolloverShare        float64        // static rollover threshold: lateral acceleration as a share of g
	PartFullTank         bool           // carries liquid in a tank that is not full
	SurgeShare           float64        // what that leaves of RolloverShare; 0 without it
	// What road signs limit; 0 where it is not known. They choose roads and leave advice alone.
	HeightM, LengthM float64
	AxleLoadKg       float64 // of the heaviest axle at MassMaxKg
	IsHazmat         bool    // its load is hazardous
	Truck            Truck
	Sources          []FigureSource // where each figure comes from
	Defaults         []Default      // figures that the file left out
}

// CurveRolloverShare is the rollover threshold that curve speeds are taken by: less for a
// part-full tank.
func (c *Class) CurveRolloverShare() float64 {
	if c.PartFullTank {
		return c.RolloverShare * c.SurgeShare
	}
	return c.RolloverShare
}

// Statuses are the words for the reliability of a source.
var Statuses = []string{"published", "second-hand", "from memory", "computed", "common practice", "default", "measured", "maker"}

// FigureSource is the source of one named figure.
type FigureSource struct {
	Figure string `json:"figure"`
	Source string `json:"source"`
	Status string `json:"status"`
}

// Default is a figure that the file left out and the value used in its place.
type Default struct {
	Class  string
	Figure string
	Value  string // with its unit
	Source string
	Status string
}

// Truck is the vehicle of a class, a combination counted as one.
type Truck struct {
	Axles               []AxleGroup
	GearRatios          []float64 // first gear first, falling
	GearNames           []string  // as on the lever or display, one for each ratio
	FinalDrive          float64
	RollingRadiusM      float64
	DrivelineEfficiency float64    // engine to wheels, 0 to 1
	EngineMinRPM        float64    // lowest engine speed at which it may retard
	EngineMaxRPM        float64    // governed speed: never passed
	EnginePowerW        float64    // at the flywheel, for the speed of climbs; 0: not known
	RollingResistance   float64    // the low end
	DragAreaM2          float64    // the low end
	ReservePct          float64    // share of the retarder, kept in reserve
	Retarders           []Retarder // none: the engine's drag alone holds the truck
	EngineDrag          Curve      // power at the flywheel with neither fuel nor engine brake; used only without an engine brake
	ServiceBrakes       ServiceBrakes
	// Engine brakes depend on air density: up to AltitudeFullM they have their full power, above it
	// they lose AltitudeLossPctPerKM for each 1,000 m.
	AltitudeFullM        float64
	AltitudeLossPctPerKM float64
}

// AxleGroup is one or more axles that share a load. LoadKg is at the class's upper
// mass, EmptyKg at its lower one; EmptyKg of 0 in all groups means loads in proportion to the mass.
type AxleGroup struct {
	Name     string
	Axles    int
	LoadKg   float64
	EmptyKg  float64
	Driven   bool
	Retarded bool // by a retarder: through the driveline where Driven, else the trailer's own
	Brakes   int  // service brakes on the group
}

// RetarderKind is the part of the truck on which a retarder acts.
type RetarderKind string

// The kinds, in the order in which their stages are set. An exhaust brake is an engine
// retarder with its own curve.
const (
	EngineRetarder    RetarderKind = "engine"
	DrivelineRetarder RetarderKind = "driveline"
	TrailerRetarder   RetarderKind = "trailer"
	Recuperation      RetarderKind = "recuperation"
)

// kindsInOrder are the kinds in the order in which their stages are set: recuperation last, so that
// it is used only where the rest does not hold.
var kindsInOrder = []RetarderKind{EngineRetarder, DrivelineRetarder, TrailerRetarder, Recuperation}

// Retarder is one device that takes power from the wheels without friction.
//
// An engine brake has one curve for each stage, weakest first: power at the flywheel,
// including the engine's own drag. A driveline retarder acts on the gearbox's output
// shaft: TorqueLimitNm there, and the power that its cooling sustains for any length of
// hill at sea level in air of up to CoolingTempC, with the engine at CoolingRPM or faster. A trailer retarder acts on the trailer's own axle:
// TorqueLimitNm there. Recuperation acts on the motor's shaft: TorqueLimitNm there, and
// the power that goes into the battery until it is full.
type Retarder struct {
	Kind            RetarderKind
	Name            string
	Stages          []Curve // engine: the last is the top stage
	TorqueLimitNm   float64 // all but engine
	SustainedPowerW float64 // all but engine
	CoolingTempC    float64 // driveline and trailer
	CoolingRPM      float64 // driveline; 0: its cooling does not depend on the engine
	Battery         Battery // recuperation
	StageSharePct   []float64
	StrongestPct    float64 // the strongest that the class may be fitted with, of the stated power or torque; 0: 100
}

// MostPowerW is the highest power of an engine brake's curves and its engine speed; 0 for other kinds.
func (r *Retarder) MostPowerW() (powerW, rpm float64) {
	for _, c := range r.Stages {
		for _, p := range c {
			if p.PowerW > powerW {
				powerW, rpm = p.PowerW, p.RPM
			}
		}
	}
	return powerW, rpm
}

// ServiceBrakes are the brakes that advice never uses and that emergency stops rely on.
type ServiceBrakes struct {
	Count           int
	Kind            string  // "drum" or "disc"; empty: drum
	DiscDiameterM   float64 // disc
	DiscMassKg      float64 // disc, of one
	Chamber         string  // clamp type: "30" or "30L" (long stroke)
	AdjustedStrokeM float64 // pushrod stroke at full application, cold
	DrumDiameterM   float64
	DrumMassKg      float64 // of one drum
	PoorLining      bool    // loses a third of its effectiveness above 600 °F
}

// IsDisc reports whether these are disc brakes: no stroke, pads instead of linings.
func (b ServiceBrakes) IsDisc() bool { return b.Kind == DiscBrakes }

// The kinds of service brakes.
const (
	DrumBrakes = "drum"
	DiscBrakes = "disc"
)

// GearName is the name of a gear, counted from 1, on the lever or display.
func (t *Truck) GearName(gear int) string {
	if gear < 1 || gear > len(t.GearRatios) {
		return ""
	}
	if len(t.GearNames) == len(t.GearRatios) {
		return t.GearNames[gear-1]
	}
	return strconv.Itoa(gear)
}

// GearCount is the number of forward gears.
func (t *Truck) GearCount() int { return len(t.GearRatios) }

// CurvePoint is one point of a power curve.
type CurvePoint struct{ RPM, PowerW float64 }

// Curve is power against engine speed, by rising speed.
type Curve []CurvePoint

// PowerW returns the power at an engine speed between the first and last point.
// Outside them it returns 0: a curve is not defined beyond its ends.
//
// Between points it takes the lower of a straight line in power and a straight
// line in torque. For a power that goes as any n^p with 0 ≤ p ≤ 2 the lower of
// the two never lies above the truth.
func (c Curve) PowerW(rpm float64) float64 {
	const slack = 1e-9 // of the speed: an end reached through a ratio is the end
	n := len(c)
	if n == 0 || !(rpm >= c[0].RPM*(1-slack)) || rpm > c[n-1].RPM*(1+slack) {
		return 0
	}
	lo, hi := 0, n-1
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; c[mid].RPM <= rpm {
			lo = mid
		} else {
			hi = mid
		}
	}
	if hi == lo {
		return c[lo].PowerW
	}
	a, b := c[lo], c[hi]
	t := min(1, max(0, (rpm-a.RPM)/(b.RPM-a.RPM)))
	byPower := a.PowerW + t*(b.PowerW-a.PowerW)
	byTorque := rpm * (a.PowerW/a.RPM + t*(b.PowerW/b.RPM-a.PowerW/a.RPM))
	return min(byPower, byTorque)
}

// Scaled returns the curve with every power multiplied by share.
func (c Curve) Scaled(share float64) Curve {
	out := make(Curve, len(c))
	for i, p := range c {
		out[i] = CurvePoint{p.RPM, p.PowerW * share}
	}
	return out
}
