package holding

import (
	"fmt"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// StandardGrade is a plain grade for testing a class file.
type StandardGrade struct {
	DowngradePct float64 `json:"downgrade_pct"`
	LengthM      float64 `json:"length_m"`
}

// StandardGrades are 6 % for 6 miles, 8 % for 3 miles and 4 % for 10 miles.
var StandardGrades = []StandardGrade{{6, 6 * catalog.MileM}, {8, 3 * catalog.MileM}, {4, 10 * catalog.MileM}}

// ClassCheck is the advice for a class on one standard grade, or, with Hold nil, a remark about the
// class.
type ClassCheck struct {
	Class  string         `json:"class"`
	Grade  *StandardGrade `json:"grade,omitempty"`
	Hold   *catalog.Hold  `json:"hold,omitempty"`
	Remark string         `json:"remark,omitempty"`
}

// Check tests classes on the standard grades, in the weather and at the altitude that advice for a
// plain grade is for, and adds remarks about figures that may be mistakes.
// ParseClasses refuses impossible figures; Check reports unusual ones.
func Check(classes []vehicle.Class, u catalog.Units) ([]ClassCheck, error) {
	var out []ClassCheck
	for _, c := range classes {
		for _, r := range remarks(&c, u) { // first: among the defaults nobody would see them
			out = append(out, ClassCheck{Class: c.ID, Remark: r})
		}
		for _, d := range c.Defaults {
			out = append(out, ClassCheck{Class: c.ID, Remark: "not given, so a default is used: " + d.String()})
		}
		for i := range StandardGrades {
			g := StandardGrades[i]
			h, err := Advise(PlainHill(g.DowngradePct, g.LengthM), c, Options{Weather: UsualWeather()})
			if err != nil {
				return nil, err
			}
			out = append(out, ClassCheck{Class: c.ID, Grade: &g, Hold: &h})
		}
	}
	return out, nil
}

// strongEngineBrakeW is over what the strongest engine brakes of road trucks give (from memory: some
// 500 kW at 16 to 17 L).
const strongEngineBrakeW = 520_000

// remarks name unusual figures of a class.
func remarks(c *vehicle.Class, u catalog.Units) []string {
	var out []string
	t := &c.Truck
	for g := 1; g < t.GearCount(); g++ {
		// In a step wider than the band no speed between two gears can be held.
		if low, high := t.SpeedFromRPM(g+1, t.EngineMinRPM), t.SpeedFromRPM(g, t.EngineMaxRPM); low > high {
			out = append(out, fmt.Sprintf("between gears %s and %s no speed from %s to %s can be retarded: the step is wider than the engine's band", t.GearName(g), t.GearName(g+1), u.Speed(high), u.Speed(low)))
		}
	}
	if top := t.SpeedFromRPM(t.GearCount(), t.EngineMaxRPM); top < c.SpeedMaxMPS {
		out = append(out, fmt.Sprintf("top gear runs to %s at the governed speed, under the class's own limit: check final_drive and the tyre", u.Speed(top)))
	}
	if t.RollingResistance > 0.0075 {
		out = append(out, "rolling_resistance is above what low-resistance tyres have; the low end is the safe one")
	}
	if t.ReservePct < 10 {
		out = append(out, "reserve_pct under 10 leaves little reserve")
	}
	if len(t.Retarders) == 0 {
		out = append(out, fmt.Sprintf("no retarder: engine drag alone holds %s on up to %.1f %%, the empty truck on up to %.1f %%; any steeper hill is NOT HELD",
			u.Mass(c.MassMaxKg), SteepestHeldPct(c, c.MassMaxKg), SteepestHeldPct(c, c.MassMinKg)))
	}
	out = append(out, sizeRemarks(c, u)...)
	for _, r := range t.Retarders {
		if w, rpm := r.MostPowerW(); r.Kind == vehicle.EngineRetarder && w > strongEngineBrakeW {
			out = append(out, fmt.Sprintf("%.0f kW at %.0f rpm is more than the strongest engine brakes of road trucks give (about 500 kW, from memory): were horsepower written as kilowatts? Too strong a curve gives advice that does not hold", w/1000, rpm))
		}
		if r.Kind != vehicle.EngineRetarder {
			continue
		}
		top := r.Stages[len(r.Stages)-1]
		if low, high := top.PowerW(t.EngineMinRPM), top.PowerW(t.EngineMaxRPM); low > high {
			out = append(out, "the engine retarder is stronger at the lowest engine speed than at the governed speed: check the curve")
		}
	}
	return out
}

// What no road truck has, or hardly any; beyond it a figure was probably written in another unit.
const (
	heavyAxleKg    = 14_000.0 // most roads allow 7 to 13 t (Directive 96/53/EC, US bridge formula; from memory)
	lightAxleKg    = 4_000.0  // of a loaded truck of four axles and more (no source)
	smallTyreM     = 0.37     // rolling radius of 17.5 in tyres, the smallest over 12 t (from memory)
	strongTorqueNm = 5_000.0  // driveline retarders: 4,100 Nm (trade press, published), 4,700 Nm (from memory)
	heavyTruckKg   = 12_000.0
	manyAxles      = 4
)

// sizeRemarks name figures that are possible, but look like another unit's.
func sizeRemarks(c *vehicle.Class, u catalog.Units) []string {
	var out []string
	t := &c.Truck
	axles := 0
	for _, a := range t.Axles {
		axles += a.Axles
	}
	if c.AxleLoadKg > heavyAxleKg {
		out = append(out, fmt.Sprintf("an axle carries %s, more than roads allow (%s to %s): were pounds written as kilograms?", u.Mass(c.AxleLoadKg), u.Mass(7000), u.Mass(13_000)))
	}
	if mean := c.MassMaxKg / float64(max(1, axles)); axles >= manyAxles && mean < lightAxleKg {
		out = append(out, fmt.Sprintf("the loaded truck has only %s on an axle: were kilograms written as pounds? Advice is for no truck over %s", u.Mass(mean), u.Mass(c.MassMaxKg)))
	}
	if c.MassMaxKg > heavyTruckKg && t.RollingRadiusM < smallTyreM {
		out = append(out, fmt.Sprintf("a rolling radius of %.3f m is a van's, under a truck of %s: check the tyre, and whether its revolutions are for a mile or a kilometre. Too small a radius gives too high a gear", t.RollingRadiusM, u.Mass(c.MassMaxKg)))
	}
	for _, r := range t.Retarders {
		if r.Kind == vehicle.DrivelineRetarder && r.TorqueLimitNm > strongTorqueNm {
			out = append(out, fmt.Sprintf("a torque of %.0f Nm is more than driveline retarders of road trucks give (4,100 to 4,700 Nm): were newton metres written as pound-feet, or is it the torque at the wheels?", r.TorqueLimitNm))
		}
	}
	return out
}

// SteepestHeldPct is the steepest even downgrade, to 0.1 % and never above the truth, on
// which some gear holds a mass of the class over a mile; 0 where none does.
func SteepestHeldPct(c *vehicle.Class, massKg float64) float64 {
	holds := func(tenths int) bool {
		h, err := Advise(PlainHill(float64(tenths)/10, catalog.MileM), *c, Options{MassKg: massKg, Weather: UsualWeather()})
		return err == nil && h.Holds
	}
	lo, hi := 0, int(vehicle.SteepestPct*10)
	for lo < hi {
		if mid := (lo + hi + 1) / 2; holds(mid) {
			lo = mid
		} else {
			hi = mid - 1
		}
	}
	return float64(lo) / 10
}
