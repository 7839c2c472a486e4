package vehicle

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"gradeline/catalog"
)

// Validate returns the impossible figures of a class as Faults, or nil.
func (c *Class) Validate() error {
	l := faultList{class: c.ID}
	c.validate(&l)
	if l.faults == nil {
		return nil
	}
	return l.faults
}

// report takes the faults that checks find; show writes a figure as its key was written.
type report interface {
	fault(path, what, fix string)
	show(path string, si float64, unit string) string
}

// faultList collects the faults of a class that came from no file.
type faultList struct {
	class  string
	faults Faults
}

func (l *faultList) fault(path, what, fix string) {
	l.faults = append(l.faults, &catalog.Fault{Kind: catalog.ErrImpossible, Feature: strings.TrimSpace("class " + l.class), What: path + ": " + what, Fix: fix})
}

func (l *faultList) show(path string, si float64, unit string) string { return showSI(path, si, unit) }

func (c *Class) validate(bad report) {
	if !isID(c.ID) {
		bad.fault("id", fmt.Sprintf("%q is not an id", c.ID), "use small letters, digits and hyphens, at most 40")
	}
	if len(c.Name) < shortestText || len(c.Name) > 120 {
		bad.fault("name", "is too short or too long", "name the class in 3 to 120 letters")
	}
	if !(c.MassMinKg >= lightestKg && (c.MassMinKg <= c.MassMaxKg || c.MassMaxKg <= 0)) {
		bad.fault("mass_min_kg", fmt.Sprintf("%s is not between %s and the upper mass", bad.show("mass_min_kg", c.MassMinKg, "kg"), bad.show("mass_min_kg", lightestKg, "kg")), "give the lightest mass that runs in this class")
	}
	if !(c.MassMaxKg > 0 && c.MassMaxKg <= MostKg) {
		bad.fault("mass_max_kg", bad.show("mass_max_kg", c.MassMaxKg, "kg")+" is not a possible mass of a road truck", "give at most "+bad.show("mass_max_kg", MostKg, "kg"))
	}
	c.checkSource("legal", c.Legal.Document, c.Legal.Status, bad)
	within("speed_max_mps", c.SpeedMaxMPS, 5, 40, "m/s", bad)
	within("rollover_share", c.RolloverShare, 0.15, 1, "", bad)
	if c.PartFullTank {
		within("surge_share", c.SurgeShare, 0.2, 1, "", bad)
	}
	c.checkLimits(bad)
	if len(c.Sources) > mostSources {
		bad.fault("source", "there are too many", fmt.Sprintf("keep to %d", mostSources))
	}
	for i, s := range c.Sources {
		if s.Figure == "" {
			bad.fault(fmt.Sprintf("source[%d].figure", i), "is empty", "name the figure")
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
			bad.fault("truck.service_brakes.chamber", fmt.Sprintf("%q is not a known chamber", b.Chamber), "use one of: "+chamberNames())
		}
		within("truck.service_brakes.adjusted_stroke_m", b.AdjustedStrokeM, 0.01, 0.08, "m", bad)
		if r := RatedStrokeM(b.Chamber); r > 0 && b.AdjustedStrokeM > r {
			const path = "truck.service_brakes.adjusted_stroke_m"
			bad.fault(path, fmt.Sprintf("%s is past the chamber's rated stroke of %s: it has no force there", bad.show(path, b.AdjustedStrokeM, "m"), bad.show(path, r, "m")), "adjust the brakes")
		}
		within("truck.service_brakes.drum_diameter_m", b.DrumDiameterM, 0.2, 0.6, "m", bad)
		within("truck.service_brakes.drum_mass_kg", b.DrumMassKg, 10, 120, "kg", bad)
	default:
		bad.fault("truck.service_brakes.kind", fmt.Sprintf("%q is not a kind of service brake", b.Kind), `use "drum" or "disc"`)
	}
	if (b.Count < 2 || b.Count > 64) && len(c.Truck.Axles) > 0 {
		bad.fault("truck.service_brakes", fmt.Sprintf("%d service brakes in all", b.Count), "check the brakes of each axle group")
	}
}

// checkFinalDrive tells a truck of few gears where the whole reduction of its electric axle belongs.
func (t *Truck) checkFinalDrive(bad report) {
	if t.FinalDrive > 15 && t.FinalDrive <= 600 && len(t.GearRatios) <= 4 {
		bad.fault("truck.final_drive", fmt.Sprintf("%g is more than an axle has", t.FinalDrive), "give the axle's own ratio and put the rest into gear_ratios; where only the whole is known, give it there, with final_drive = 1")
		return
	}
	within("truck.final_drive", t.FinalDrive, 1, 15, "", bad)
}

func (c *Class) checkDriveline(bad report) {
	t := &c.Truck
	if n := len(t.GearRatios); n == 0 || n > mostGears {
		bad.fault("truck.gear_ratios", fmt.Sprintf("%d gears", n), fmt.Sprintf("give 1 to %d ratios, first gear first", mostGears))
	}
	for i, r := range t.GearRatios {
		if !(r >= 0.2 && r <= 40) {
			bad.fault("truck.gear_ratios", fmt.Sprintf("gear %d: %g is not a possible ratio of a truck's gearbox", i+1, r), "give the ratio, between 0.2 and 40"+wholeRatios(t.GearRatios))
			break
		}
		if i > 0 && !(r < t.GearRatios[i-1]) {
			bad.fault("truck.gear_ratios", fmt.Sprintf("gear %d: %g is not below gear %d's %g", i+1, r, i, t.GearRatios[i-1]), "give them falling, first gear first"+wholeRatios(t.GearRatios))
			break
		}
	}
	if n := len(t.GearNames); n > 0 && n != len(t.GearRatios) {
		bad.fault("truck.gear_names", fmt.Sprintf("%d names for %d gears", n, len(t.GearRatios)), "give one for each ratio, first gear first")
	}
	for _, name := range t.GearNames {
		if !isLeverName(name) {
			bad.fault("truck.gear_names", fmt.Sprintf("%q is not a name on a lever", name), "give what the lever or display shows, at most 12 letters")
			break
		}
	}
	t.checkFinalDrive(bad)
	within("truck.rolling_radius_m", t.RollingRadiusM, leastRadiusM, mostRadiusM, "m", bad)
	within("truck.driveline_efficiency", t.DrivelineEfficiency, 0.7, 1, "", bad)
	lowRPM, highRPM := 400.0, 4000.0
	if t.IsElectric() || t.hasUnknownRetarder() { // a motor's
		lowRPM, highRPM = 10, 25000
	}
	within("truck.engine_rpm_min", t.EngineMinRPM, lowRPM, highRPM, "rpm", bad)
	within("truck.engine_rpm_max", t.EngineMaxRPM, lowRPM, highRPM, "rpm", bad)
	if t.EngineMinRPM >= t.EngineMaxRPM {
		bad.fault("truck.engine_rpm_max", "is not above engine_rpm_min", "give the governed speed")
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
		bad.fault("truck.axle", fmt.Sprintf("%d axle groups", n), fmt.Sprintf("give 1 to %d, each as [[class.truck.axle]]", mostAxles))
		return
	}
	var loadKg float64
	driven, retarded, trailer, isLoaded := false, false, false, true
	hasTrailerRetarder := t.stagesOf(TrailerRetarder) > 0
	for i, a := range t.Axles {
		path := fmt.Sprintf("truck.axle[%d]", i)
		loadKg += a.LoadKg
		isLoaded = isLoaded && a.LoadKg > 0
		driven, retarded = driven || a.Driven, retarded || a.Retarded && a.Driven
		trailer = trailer || a.Retarded && !a.Driven
		checkAxle(path, a, hasTrailerRetarder, bad)
	}
	if !driven {
		bad.fault("truck.axle", "no group is driven", "mark one with driven = true")
	} else if !retarded {
		bad.fault("truck.axle", "no driven group is retarded", "leave retarded out on the driven group")
	}
	if hasTrailerRetarder && !trailer {
		bad.fault("truck.axle", "no group carries the trailer's retarder", "mark the trailer's group with retarded = true")
	}
	c.checkEmptyLoads(bad)
	if c.MassMaxKg > 0 && isLoaded && math.Abs(loadKg-c.MassMaxKg) > 0.005*c.MassMaxKg {
		bad.fault("truck.axle", fmt.Sprintf("the groups carry %s, the class's upper mass is %s", bad.show("mass_max_kg", loadKg, "kg"), bad.show("mass_max_kg", c.MassMaxKg, "kg")), "give the loads at the upper mass")
	}
}

// checkAxle checks one axle group.
func checkAxle(path string, a AxleGroup, hasTrailerRetarder bool, bad report) {
	if a.Axles < 1 || a.Axles > 6 {
		bad.fault(path+".axles", fmt.Sprintf("a group of %d axles", a.Axles), "give 1 to 6; leave an empty group out")
	}
	if !(a.LoadKg > 0 && a.LoadKg <= MostKg) {
		bad.fault(path+".load_kg", bad.show(path+".load_kg", a.LoadKg, "kg")+": an empty or impossible axle group", "give the group's load at the class's upper mass")
	}
	if a.Retarded && !a.Driven && !hasTrailerRetarder {
		bad.fault(path+".retarded", "a retarder acts through the driveline, and this group isn't driven", "mark the driven group, or give a retarder of kind \"trailer\"")
	}
	if a.Brakes < 0 || a.Brakes > 2*max(a.Axles, 0) {
		bad.fault(path+".brakes", fmt.Sprintf("%d service brakes on %d axles", a.Brakes, a.Axles), "give at most two an axle")
	}
}

// checkEmptyLoads requires the loads of the empty truck for all groups or for none, with a sum
// equal to the class's lower mass.
func (c *Class) checkEmptyLoads(bad report) {
	var sum float64
	given := 0
	for i, a := range c.Truck.Axles {
		if a.EmptyKg != 0 {
			given++
		}
		sum += a.EmptyKg
		if !(a.EmptyKg >= 0 && (a.EmptyKg <= a.LoadKg || a.LoadKg == 0)) { // a load of 0 has its own fault
			path := fmt.Sprintf("truck.axle[%d].empty_kg", i)
			bad.fault(path, fmt.Sprintf("%s empty, %s loaded", bad.show(path, a.EmptyKg, "kg"), bad.show(path, a.LoadKg, "kg")), "give the group's load at the class's lower mass")
		}
	}
	switch {
	case given == 0:
	case given != len(c.Truck.Axles):
		bad.fault("truck.axle", "some groups give empty_kg and some don't", "give it for all or for none")
	case c.MassMinKg > 0 && math.Abs(sum-c.MassMinKg) > 0.05*c.MassMinKg:
		bad.fault("truck.axle", fmt.Sprintf("the groups carry %s empty, the class's lower mass is %s", bad.show("mass_min_kg", sum, "kg"), bad.show("mass_min_kg", c.MassMinKg, "kg")), "give the loads at the lower mass")
	}
}

func (c *Class) checkRetarders(bad report) {
	t := &c.Truck
	if n := len(t.Retarders); n > mostRetards {
		bad.fault("truck.retarder", fmt.Sprintf("%d retarders", n), fmt.Sprintf("keep to %d", mostRetards))
	} else if n == 0 && len(t.EngineDrag) == 0 {
		bad.fault("truck.retarder", "is missing", "add a [[class.truck.retarder]]; for a truck without one give engine_displacement_l, from which the engine's own drag is taken")
	}
	if len(t.EngineDrag) > 0 {
		checkCurve("truck.engine_drag_w_by_rpm", 0, t.EngineDrag, t, bad)
	}
	batteries := 0
	for i := range t.Retarders {
		r := &t.Retarders[i]
		path := fmt.Sprintf("truck.retarder[%d]", i)
		if r.Battery.CapacityWh != 0 {
			batteries++
		}
		if batteries > 1 {
			bad.fault(path+".battery_wh", "is the second battery", "give the one that is full first; leave the other retarder out")
		}
		n := len(r.StageSharePct)
		areShares := n == 0 || isRising(r.StageSharePct) && r.StageSharePct[0] > 0 && r.StageSharePct[n-1] == 100
		if !areShares {
			fix := "for instance [33, 67, 100]"
			if r.StageSharePct[n-1] == 1 {
				fix = "they are in per cent: " + fix
			}
			bad.fault(path+".stage_share_pct", "must rise from above 0 to 100", fix)
		}
		if r.StrongestPct != 0 {
			within(path+".strongest_pct", r.StrongestPct, 100, 200, "%", bad)
		}
		switch r.Kind {
		case EngineRetarder:
			if len(r.Stages) == 0 {
				bad.fault(path+".power_w_by_rpm", "is missing", "give the maker's curve")
			}
			for s := len(r.Stages); s >= 1 && areShares; s-- { // the top stage first: others may be its shares
				checkCurve(path+".power_w_by_rpm", s, r.Stages[s-1], t, bad)
			}
		case DrivelineRetarder, TrailerRetarder, Recuperation:
			r.check(path, bad)
			t.checkMotorTorque(r, path, bad)
		default:
			bad.fault(path+".kind", fmt.Sprintf("%q is not a kind of retarder", r.Kind), `use "engine" (compression or exhaust brake), "driveline" (hydraulic or electric, on the gearbox's output), "trailer" (on the trailer's axle) or "recuperation" (the motor of an electric or hybrid truck)`)
		}
	}
}

// check checks a retarder that has a torque limit.
func (r *Retarder) check(path string, bad report) {
	mostNm := 20000.0
	if r.Kind == TrailerRetarder { // at the wheels
		mostNm = 60000
	}
	within(path+".torque_limit_nm", r.TorqueLimitNm, 100, mostNm, "Nm", bad)
	within(path+".sustained_power_w", r.SustainedPowerW, 5000, 800000, "W", bad)
	if b := r.Battery; r.Kind == Recuperation || b.CapacityWh != 0 {
		within(path+".battery_wh", b.CapacityWh, 1000, 2e6, "Wh", bad)
		within(path+".charge_full_pct", b.FullPct, 10, 100, "%", bad)
		within(path+".charge_at_crest_pct", b.CrestPct, 0, 100, "%", bad)
		if b.CrestPct > 0 && b.CrestPct <= 1 { // read as it stands, the battery would be empty
			bad.fault(path+".charge_at_crest_pct", fmt.Sprintf("%g %% is an empty battery", b.CrestPct), inPerCent(b.CrestPct))
		}
	}
	if r.Kind != Recuperation {
		within(path+".cooling_temp_c", r.CoolingTempC, 0, 60, "°C", bad)
		within(path+".cooling_rpm", r.CoolingRPM, 0, 4000, "rpm", bad)
	}
	if len(r.StageSharePct) == 0 {
		bad.fault(path, "has no stage", "give stage_share_pct")
	}
}

// checkMotorTorque refuses a motor's torque that pushes with more than the weight on the driven axles
// in top gear: data sheets of electric axles give the torque at the wheels.
func (t *Truck) checkMotorTorque(r *Retarder, path string, bad report) {
	n := len(t.GearRatios)
	if r.Kind != Recuperation || n == 0 || !(t.RollingRadiusM > 0) || !(t.FinalDrive > 0) {
		return
	}
	var drivenKg float64
	for _, a := range t.Axles {
		if a.Driven {
			drivenKg += a.LoadKg
		}
	}
	ratio := t.GearRatios[n-1] * t.FinalDrive
	if r.TorqueLimitNm*ratio/t.RollingRadiusM <= drivenKg*GravityMPS2 {
		return
	}
	at := path + ".torque_limit_nm"
	bad.fault(at, fmt.Sprintf("%s at the motors' shaft is more than any tyre takes: through gears of %.4g it pushes with over the weight on the driven axles", bad.show(at, r.TorqueLimitNm, "Nm"), ratio),
		fmt.Sprintf("if the data sheet gives the torque at the wheels, divide it by the gears of the gear that it is for: %s in top gear", bad.show(at, r.TorqueLimitNm/ratio, "Nm")))
}

// hasUnknownRetarder reports whether the kind of a retarder is none that is known.
func (t *Truck) hasUnknownRetarder() bool {
	return slices.ContainsFunc(t.Retarders, func(r Retarder) bool { return !slices.Contains(kindsInOrder, r.Kind) })
}

// checkCurve requires a curve with power everywhere between the engine speeds at which the truck
// may retard: nothing is read beyond its ends.
func checkCurve(path string, stage int, c Curve, t *Truck, bad report) {
	label := fmt.Sprintf("stage %d: ", stage)
	if stage == 0 {
		label = ""
	}
	if len(c) < 2 {
		bad.fault(path, label+"a curve needs two points", "give the maker's curve, [[rpm, figure], …]; the one point of a data sheet is enough where engine_rpm_min is given and is lower")
		return
	}
	for i, p := range c {
		if !(p.PowerW >= 1000 && p.PowerW <= 1e6) {
			bad.fault(path, fmt.Sprintf("%s%s at %g rpm: a retarder's power neither falls to zero nor passes 1,000 kW", label, bad.show(path, p.PowerW, "W"), p.RPM), "give the power in the unit that the key ends in, and only where it retards")
			return
		}
		if !(p.RPM > 0 && p.RPM < 1e5) || i > 0 && p.RPM <= c[i-1].RPM {
			bad.fault(path, fmt.Sprintf("%sthe engine speeds don't rise at point %d", label, i+1), "sort the points by engine speed")
			return
		}
	}
	if c[0].RPM > t.EngineMinRPM || c[len(c)-1].RPM < t.EngineMaxRPM {
		bad.fault(path, fmt.Sprintf("%sruns from %g to %g rpm, the truck retards from %g to %g", label, c[0].RPM, c[len(c)-1].RPM, t.EngineMinRPM, t.EngineMaxRPM), "extend the curve, or narrow engine_rpm_min and engine_rpm_max")
	}
}

func (c *Class) checkSource(path, text, status string, bad report) {
	if len(text) < shortestText {
		bad.fault(path+".source", "is missing", "name the document, or say who measured it")
	}
	if !slices.Contains(Statuses, status) {
		bad.fault(path+".status", fmt.Sprintf("%q is not a status", status), "use one of: "+strings.Join(Statuses, ", "))
	}
}

func within(path string, v, lo, hi float64, unit string, bad report) {
	if v >= lo && v <= hi {
		return
	}
	fix := fmt.Sprintf("give a figure between %s and %s", bad.show(path, lo, unit), bad.show(path, hi, unit))
	switch {
	case unit == "" && v/100 >= lo && v/100 <= hi && hi <= 1:
		fix += fmt.Sprintf("; it is a share: %g %% is %g", v, v/100)
	case unit == "%" && v > 0 && v <= 1 && 100*v >= lo && 100*v <= hi:
		fix += "; " + inPerCent(v)
	}
	bad.fault(path, bad.show(path, v, unit)+" is impossible", fix)
}

func inPerCent(share float64) string {
	return fmt.Sprintf("it is in per cent: for a share of %g give %g", share, 100*share)
}

// isLeverName reports whether a name can be read: visible letters only, with spaces between them.
func isLeverName(name string) bool {
	isHidden := func(r rune) bool { return !unicode.IsPrint(r) || r == unicode.ReplacementChar }
	return name != "" && len(name) <= 12 && strings.TrimSpace(name) == name && !strings.ContainsFunc(name, isHidden)
}

// wholeRatios is a hint for ratios that are whole numbers alone: they were written with decimal commas.
func wholeRatios(ratios []float64) string {
	if slices.ContainsFunc(ratios, func(r float64) bool { return r != math.Trunc(r) }) {
		return ""
	}
	return ", and with points for decimals: [11.32, 9.16]"
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
