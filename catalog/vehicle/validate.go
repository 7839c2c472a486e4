package vehicle

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gradeline/catalog"
)

// Validate returns what is impossible about a class as Faults, or nil.
func (c *Class) Validate() error {
	var faults Faults
	c.validate(func(path, what, fix string) {
		faults = append(faults, &catalog.Fault{Kind: catalog.ErrImpossible, Feature: strings.TrimSpace("class " + c.ID), What: path + ": " + what, Fix: fix})
	})
	if faults == nil {
		return nil
	}
	return faults
}

type report func(path, what, fix string)

func (c *Class) validate(bad report) {
	if !isID(c.ID) {
		bad("id", fmt.Sprintf("%q is no id", c.ID), "use small letters, digits and hyphens, at most 40")
	}
	if len(c.Name) < shortestText || len(c.Name) > 120 {
		bad("name", "is too short or too long", "name the class in 3 to 120 letters")
	}
	if !(c.MassMinKg >= 1000 && (c.MassMinKg <= c.MassMaxKg || c.MassMaxKg <= 0)) {
		bad("mass_min_kg", fmt.Sprintf("%g kg is not between 1,000 kg and the upper mass", c.MassMinKg), "give the lightest mass that runs in this class")
	}
	if !(c.MassMaxKg > 0 && c.MassMaxKg <= MostKg) {
		bad("mass_max_kg", fmt.Sprintf("%g kg is no mass of a road truck", c.MassMaxKg), fmt.Sprintf("give kilograms, at most %.0f", MostKg))
	}
	c.checkSource("legal", c.Legal.Document, c.Legal.Status, bad)
	within("speed_max_mps", c.SpeedMaxMPS, 5, 40, "m/s", bad)
	within("rollover_share", c.RolloverShare, 0.15, 1, "", bad)
	if len(c.Sources) > mostSources {
		bad("source", "there are too many", fmt.Sprintf("keep to %d", mostSources))
	}
	for i, s := range c.Sources {
		if s.Figure == "" {
			bad(fmt.Sprintf("source[%d].figure", i), "is empty", "name the figure")
		}
		c.checkSource(fmt.Sprintf("source[%d]", i), s.Source, s.Status, bad)
	}
	c.checkDriveline(bad)
	c.checkAxles(bad)
	c.checkRetarders(bad)
	c.checkServiceBrakes(bad)
}

func (c *Class) checkServiceBrakes(bad report) {
	b := c.Truck.ServiceBrakes
	switch b.Kind {
	case DiscBrakes:
		within("truck.service_brakes.disc_diameter_m", b.DiscDiameterM, 0.2, 0.6, "m", bad)
		within("truck.service_brakes.disc_mass_kg", b.DiscMassKg, 10, 120, "kg", bad)
	case DrumBrakes, "":
		if _, ok := chambers[b.Chamber]; !ok {
			bad("truck.service_brakes.chamber", fmt.Sprintf("%q is no chamber known here", b.Chamber), "use one of: "+chamberNames())
		}
		within("truck.service_brakes.adjusted_stroke_m", b.AdjustedStrokeM, 0.01, 0.08, "m", bad)
		if r := RatedStrokeM(b.Chamber); r > 0 && b.AdjustedStrokeM > r {
			bad("truck.service_brakes.adjusted_stroke_m", fmt.Sprintf("%g m is past the chamber's rated stroke of %g m: it has no force there", b.AdjustedStrokeM, r), "adjust the brakes")
		}
		within("truck.service_brakes.drum_diameter_m", b.DrumDiameterM, 0.2, 0.6, "m", bad)
		within("truck.service_brakes.drum_mass_kg", b.DrumMassKg, 10, 120, "kg", bad)
	default:
		bad("truck.service_brakes.kind", fmt.Sprintf("%q is no kind of service brake", b.Kind), `use "drum" or "disc"`)
	}
	if b.Count < 2 || b.Count > 64 {
		bad("truck.service_brakes", fmt.Sprintf("%d service brakes in all", b.Count), "check the brakes of each axle group")
	}
}

func (c *Class) checkDriveline(bad report) {
	t := &c.Truck
	if n := len(t.GearRatios); n == 0 || n > mostGears {
		bad("truck.gear_ratios", fmt.Sprintf("%d gears", n), fmt.Sprintf("give 1 to %d ratios, first gear first", mostGears))
	}
	for i, r := range t.GearRatios {
		if !(r >= 0.2 && r <= 40) {
			bad("truck.gear_ratios", fmt.Sprintf("gear %d: %g is no ratio of a truck's gearbox", i+1, r), "give the ratio, between 0.2 and 40")
			break
		}
		if i > 0 && !(r < t.GearRatios[i-1]) {
			bad("truck.gear_ratios", fmt.Sprintf("gear %d: %g is not under gear %d's %g", i+1, r, i, t.GearRatios[i-1]), "give them falling, first gear first")
			break
		}
	}
	if n := len(t.GearNames); n > 0 && n != len(t.GearRatios) {
		bad("truck.gear_names", fmt.Sprintf("%d names for %d gears", n, len(t.GearRatios)), "give one for each ratio, first gear first")
	}
	for _, name := range t.GearNames {
		if name == "" || len(name) > 12 {
			bad("truck.gear_names", fmt.Sprintf("%q is no name on a lever", name), "give what the lever or display shows, at most 12 letters")
			break
		}
	}
	within("truck.final_drive", t.FinalDrive, 1, 15, "", bad)
	within("truck.rolling_radius_m", t.RollingRadiusM, 0.25, 0.8, "m", bad)
	within("truck.driveline_efficiency", t.DrivelineEfficiency, 0.7, 1, "", bad)
	within("truck.engine_rpm_min", t.EngineMinRPM, 400, 4000, "rpm", bad)
	within("truck.engine_rpm_max", t.EngineMaxRPM, 400, 4000, "rpm", bad)
	if t.EngineMinRPM >= t.EngineMaxRPM {
		bad("truck.engine_rpm_max", "is not above engine_rpm_min", "give the governed speed")
	}
	within("truck.rolling_resistance", t.RollingResistance, 0.002, 0.02, "", bad)
	within("truck.drag_area_m2", t.DragAreaM2, 1, 15, "m²", bad)
	within("truck.reserve_pct", t.ReservePct, 5, 60, "%", bad)
	within("truck.altitude_full_m", t.AltitudeFullM, 0, HighestM, "m", bad)
	within("truck.altitude_loss_pct_per_km", t.AltitudeLossPctPerKM, 0, 30, "%/km", bad)
}

func (c *Class) checkAxles(bad report) {
	t := &c.Truck
	if n := len(t.Axles); n < 1 || n > mostAxles {
		bad("truck.axle", fmt.Sprintf("%d axle groups", n), fmt.Sprintf("give 1 to %d, each as [[class.truck.axle]]", mostAxles))
		return
	}
	var loadKg float64
	driven, retarded := false, false
	for i, a := range t.Axles {
		path := fmt.Sprintf("truck.axle[%d]", i)
		loadKg += a.LoadKg
		driven, retarded = driven || a.Driven, retarded || a.Retarded
		checkAxle(path, a, bad)
	}
	if !driven {
		bad("truck.axle", "no group is driven", "mark one with driven = true")
	} else if !retarded {
		bad("truck.axle", "no group is retarded", "leave retarded out on the driven group")
	}
	c.checkEmptyLoads(bad)
	if c.MassMaxKg > 0 && math.Abs(loadKg-c.MassMaxKg) > 0.005*c.MassMaxKg {
		bad("truck.axle", fmt.Sprintf("the groups carry %.0f kg, the class's upper mass is %.0f kg", loadKg, c.MassMaxKg), "give the loads at the upper mass")
	}
}

// checkAxle checks one axle group.
func checkAxle(path string, a AxleGroup, bad report) {
	if a.Axles < 1 || a.Axles > 6 {
		bad(path+".axles", fmt.Sprintf("a group of %d axles", a.Axles), "give 1 to 6; leave an empty group out")
	}
	if !(a.LoadKg > 0 && a.LoadKg <= MostKg) {
		bad(path+".load_kg", fmt.Sprintf("%g kg: an empty or impossible axle group", a.LoadKg), "give the group's load at the class's upper mass")
	}
	if a.Retarded && !a.Driven {
		bad(path+".retarded", "a retarder acts through the driveline, and this group isn't driven", "mark the driven group")
	}
	if a.Brakes < 0 || a.Brakes > 2*max(a.Axles, 0) {
		bad(path+".brakes", fmt.Sprintf("%d service brakes on %d axles", a.Brakes, a.Axles), "give at most two an axle")
	}
}

// checkEmptyLoads wants the loads of the empty truck for all groups or for none, and
// adding up to the class's lower mass.
func (c *Class) checkEmptyLoads(bad report) {
	var sum float64
	given := 0
	for i, a := range c.Truck.Axles {
		if a.EmptyKg != 0 {
			given++
		}
		sum += a.EmptyKg
		if !(a.EmptyKg >= 0 && a.EmptyKg <= a.LoadKg) {
			bad(fmt.Sprintf("truck.axle[%d].empty_kg", i), fmt.Sprintf("%g kg empty, %g kg loaded", a.EmptyKg, a.LoadKg), "give the group's load at the class's lower mass")
		}
	}
	switch {
	case given == 0:
	case given != len(c.Truck.Axles):
		bad("truck.axle", "some groups give empty_kg and some don't", "give it for all or for none")
	case math.Abs(sum-c.MassMinKg) > 0.05*c.MassMinKg:
		bad("truck.axle", fmt.Sprintf("the groups carry %.0f kg empty, the class's lower mass is %.0f kg", sum, c.MassMinKg), "give the loads at the lower mass")
	}
}

func (c *Class) checkRetarders(bad report) {
	t := &c.Truck
	if n := len(t.Retarders); n < 1 || n > mostRetards {
		bad("truck.retarder", fmt.Sprintf("%d retarders", n), fmt.Sprintf("give 1 to %d; an engine brake alone is one", mostRetards))
	}
	for i := range t.Retarders {
		r := &t.Retarders[i]
		path := fmt.Sprintf("truck.retarder[%d]", i)
		if len(r.StageSharePct) > 0 && (!isRising(r.StageSharePct) || r.StageSharePct[0] <= 0 || r.StageSharePct[len(r.StageSharePct)-1] != 100) {
			bad(path+".stage_share_pct", "must rise from above 0 to 100", "for instance [33, 67, 100]")
		}
		if r.StrongestPct != 0 {
			within(path+".strongest_pct", r.StrongestPct, 100, 200, "%", bad)
		}
		switch r.Kind {
		case EngineRetarder:
			if len(r.Stages) == 0 {
				bad(path, "has no curve", "give power_w_by_rpm")
			}
			for s := len(r.Stages); s >= 1; s-- { // the top stage first: others may be its shares
				checkCurve(path+".power_w_by_rpm", s, r.Stages[s-1], t, bad)
			}
		case DrivelineRetarder:
			within(path+".torque_limit_nm", r.TorqueLimitNm, 100, 20000, "Nm", bad)
			within(path+".sustained_power_w", r.SustainedPowerW, 5000, 800000, "W", bad)
			within(path+".cooling_temp_c", r.CoolingTempC, 0, 60, "°C", bad)
			if len(r.StageSharePct) == 0 {
				bad(path, "has no stage", "give stage_share_pct")
			}
		default:
			bad(path+".kind", fmt.Sprintf("%q is no kind of retarder", r.Kind), `use "engine" or "driveline"`)
		}
	}
}

// checkCurve wants a curve with power everywhere between the engine speeds at
// which the truck may retard: nothing is read beyond its ends.
func checkCurve(path string, stage int, c Curve, t *Truck, bad report) {
	label := fmt.Sprintf("stage %d: ", stage)
	if len(c) < 2 {
		bad(path, label+"a curve needs two points", "give the maker's curve, [[rpm, W], …]")
		return
	}
	for i, p := range c {
		if !(p.PowerW >= 1000 && p.PowerW <= 1e6) {
			bad(path, fmt.Sprintf("%s%g W at %g rpm: a retarder's power neither falls to zero nor passes 1,000 kW", label, p.PowerW, p.RPM), "give watts, and only where it retards")
			return
		}
		if !(p.RPM > 0 && p.RPM < 1e5) || i > 0 && p.RPM <= c[i-1].RPM {
			bad(path, fmt.Sprintf("%sthe engine speeds don't rise at point %d", label, i+1), "sort the points by engine speed")
			return
		}
	}
	if c[0].RPM > t.EngineMinRPM || c[len(c)-1].RPM < t.EngineMaxRPM {
		bad(path, fmt.Sprintf("%sruns from %g to %g rpm, the truck retards from %g to %g", label, c[0].RPM, c[len(c)-1].RPM, t.EngineMinRPM, t.EngineMaxRPM), "extend the curve, or narrow engine_rpm_min and engine_rpm_max")
	}
}

func (c *Class) checkSource(path, text, status string, bad report) {
	if len(text) < shortestText {
		bad(path+".source", "is missing", "name the document, or say who measured it")
	}
	if !slices.Contains(Statuses, status) {
		bad(path+".status", fmt.Sprintf("%q is no status", status), "use one of: "+strings.Join(Statuses, ", "))
	}
}

func within(path string, v, lo, hi float64, unit string, bad report) {
	if v >= lo && v <= hi {
		return
	}
	bad(path, strings.TrimSpace(fmt.Sprintf("%g %s", v, unit))+" is impossible", strings.TrimSpace(fmt.Sprintf("give a figure between %g and %g %s", lo, hi, unit)))
}

func isRising(v []float64) bool {
	for i := 1; i < len(v); i++ {
		if !(v[i] > v[i-1]) {
			return false
		}
	}
	return true
}

func isID(s string) bool {
	if s == "" || len(s) > 40 || s[0] == '-' {
		return false
	}
	for _, r := range s {
		if (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '-' {
			return false
		}
	}
	return true
}
