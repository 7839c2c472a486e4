package vehicle

import (
	"fmt"

	"gradeline/catalog"
)

// Defaults for figures that a class file may leave out, each at its unsafe end.
const (
	defaultEfficiency      = 1.0    // no loss: no help counted
	defaultRolling         = 0.0053 // lowest axle figure of NRC 2010 table G-1, published
	defaultDragM2          = 5.0    // from memory: a smooth tractor and van body
	defaultReservePct      = 15.0
	defaultAltitudeFullM   = 1500.0
	defaultAltitudeLossPct = 3 / catalog.FootM // 3 % for each 1,000 ft
	defaultRollover        = 0.35
	defaultStrongestPct    = 115.0 // 31 over 27 kW a litre
	defaultEmptyShare      = 0.75
	defaultSpeedMaxMPS     = 25.0
	defaultCoolingTempC    = 40.0
	defaultStrokeM         = 2 * catalog.InchM
	defaultDrumDiameterM   = 16.5 * catalog.InchM
	defaultDrumMassKg      = 45.0
	defaultDiscDiameterM   = 0.43
	defaultDiscMassKg      = 33.0
)

// builder turns one class of the file into a Class and notes each default.
type builder struct {
	c   *Class
	rep *reporter
}

func classFromTOML(in *classTOML, rep *reporter) Class {
	var c Class
	b := builder{&c, rep}
	c.ID = b.text("id", in.ID)
	rep.id = c.ID
	c.Name = b.text("name", in.Name)
	c.MassMinKg = b.need("mass_min_kg", in.MassMinKg)
	c.MassMaxKg = b.need("mass_max_kg", in.MassMaxKg)
	c.Units = b.units(in.Units)
	if in.Legal == nil {
		rep.key("legal", "is missing", `say where the upper mass comes from: legal = { source = "…", status = "…" }`)
	} else {
		c.Legal = catalog.Source{Document: in.Legal.Text, Status: in.Legal.Status}
	}
	c.SpeedMaxMPS = b.or("speed_max_mps", in.SpeedMaxMPS, defaultSpeedMaxMPS, "m/s", "90 km/h, the European truck limiter; Directive 92/6/EEC", "from memory")
	c.RolloverShare = b.or("rollover_share", in.RolloverShare, defaultRollover, "of g", "7 of 17 tank trucks tested lay under it; National Research Council Canada tilt tests", "published")
	for _, s := range in.Sources {
		c.Sources = append(c.Sources, FigureSource{s.Figure, s.Text, s.Status})
	}
	if in.Truck == nil {
		rep.key("truck", "is missing", "add [class.truck]")
		return c
	}
	b.truck(in.Truck)
	c.validate(rep.key)
	return c
}

func (b builder) truck(in *truckTOML) {
	t := &b.c.Truck
	t.GearRatios = in.GearRatios
	b.gearNames(in)
	t.FinalDrive = b.need("truck.final_drive", in.FinalDrive)
	t.RollingRadiusM = b.radius(in)
	t.EngineMinRPM = b.need("truck.engine_rpm_min", in.EngineMinRPM)
	t.EngineMaxRPM = b.need("truck.engine_rpm_max", in.EngineMaxRPM)
	t.DrivelineEfficiency = b.or("truck.driveline_efficiency", in.DrivelineEfficiency, defaultEfficiency, "", "no loss counted, the unsafe end", "default")
	if t.RollingResistance = b.axleRolling(in); t.RollingResistance == 0 {
		t.RollingResistance = b.or("truck.rolling_resistance", in.RollingResistance, defaultRolling, "", "lowest axle figure of National Research Council 2010, table G-1", "published")
	}
	t.DragAreaM2 = b.or("truck.drag_area_m2", in.DragAreaM2, defaultDragM2, "m²", "a smooth tractor and van body", "from memory")
	t.ReservePct = b.or("truck.reserve_pct", in.ReservePct, defaultReservePct, "%", "the share kept in hand", "default")
	t.AltitudeFullM = b.or("truck.altitude_full_m", in.AltitudeFullM, defaultAltitudeFullM, "m", "a turbocharger makes up for thin air so far", "default")
	t.AltitudeLossPctPerKM = b.or("truck.altitude_loss_pct_per_km", in.AltitudeLossPctPerKM, defaultAltitudeLossPct, "%/km", "3 % for each 1,000 ft, a truck maker's driver manual for engines without a turbocharger; taken for engine brakes as a bound", "published")
	for i, a := range in.Axles {
		path := fmt.Sprintf("truck.axle[%d]", i)
		g := AxleGroup{Name: a.Name, Driven: a.Driven, Retarded: a.Driven}
		if a.Retarded != nil {
			g.Retarded = *a.Retarded
		}
		g.LoadKg = b.need(path+".load_kg", a.LoadKg)
		if a.EmptyKg != nil {
			g.EmptyKg = *a.EmptyKg
		}
		if a.Axles == nil {
			b.rep.key(path+".axles", "is missing", "say how many axles the group has")
		} else {
			g.Axles = *a.Axles
		}
		g.Brakes = 2 * g.Axles
		if a.Brakes != nil {
			g.Brakes = *a.Brakes
		}
		t.ServiceBrakes.Count += g.Brakes
		t.Axles = append(t.Axles, g)
	}
	b.emptyLoads(in)
	for i := range in.Retarders {
		t.Retarders = append(t.Retarders, b.retarder(i, &in.Retarders[i]))
	}
	b.serviceBrakes(in.ServiceBrakes)
}

func (b builder) serviceBrakes(s *brakesTOML) {
	const path = "truck.service_brakes."
	k := &b.c.Truck.ServiceBrakes
	if s == nil {
		s = &brakesTOML{}
	}
	k.Kind = DrumBrakes
	if s.Kind != nil {
		k.Kind = *s.Kind
	} else {
		b.note(path+"kind", DrumBrakes, "taken as drums unless the carrier knows better", "default")
	}
	k.PoorLining = true
	if s.PoorLining != nil {
		k.PoorLining = *s.PoorLining
	} else {
		b.note(path+"poor_lining", "true", "taken as poor unless the carrier knows better", "default")
	}
	if k.IsDisc() {
		k.DiscDiameterM = b.or(path+"disc_diameter_m", s.DiscDiameterM, defaultDiscDiameterM, "m", "430 mm, the usual disc for 22.5 in wheels", "from memory")
		k.DiscMassKg = b.or(path+"disc_mass_kg", s.DiscMassKg, defaultDiscMassKg, "kg", "the usual disc for 22.5 in wheels", "from memory")
		if s.Chamber != nil || s.AdjustedStrokeM != nil || s.DrumDiameterM != nil || s.DrumMassKg != nil {
			b.rep.key("truck.service_brakes", "disc brakes have no drum and no stroke to adjust", `remove chamber, adjusted_stroke_m and the drum's keys, or say kind = "drum"`)
		}
		return
	}
	if s.DiscDiameterM != nil || s.DiscMassKg != nil {
		b.rep.key("truck.service_brakes", "drum brakes have no disc", `remove the disc's keys, or say kind = "disc"`)
	}
	k.Chamber = "30"
	if s.Chamber != nil {
		k.Chamber = *s.Chamber
	} else {
		b.note(path+"chamber", "30", "clamp type 30, standard stroke", "default")
	}
	k.AdjustedStrokeM = b.or(path+"adjusted_stroke_m", s.AdjustedStrokeM, defaultStrokeM, "m", "at the adjustment limit of a type 30, 2 in: 49 CFR 393.47", "second-hand")
	k.DrumDiameterM = b.or(path+"drum_diameter_m", s.DrumDiameterM, defaultDrumDiameterM, "m", "16.5 in, the usual drum", "common practice")
	k.DrumMassKg = b.or(path+"drum_mass_kg", s.DrumMassKg, defaultDrumMassKg, "kg", "about 100 lb, the usual drum", "from memory")
}

// axleRolling is the load-weighted resistance where each axle group gives its
// own; 0 where none does.
func (b builder) axleRolling(in *truckTOML) float64 {
	var loads, resistances []float64
	for _, a := range in.Axles {
		if a.Rolling != nil && a.LoadKg != nil {
			loads, resistances = append(loads, *a.LoadKg), append(resistances, *a.Rolling)
		}
	}
	switch {
	case len(loads) == 0:
		return 0
	case len(loads) != len(in.Axles):
		b.rep.key("truck.axle", "some groups give rolling_resistance and some don't", "give it for all or for none")
	case in.RollingResistance != nil:
		b.rep.key("truck.rolling_resistance", "is given for the truck and for its axle groups", "give one of them")
	}
	return RollingResistanceFromAxles(loads, resistances)
}

func (b builder) retarder(i int, in *retarderTOML) Retarder {
	path := fmt.Sprintf("truck.retarder[%d]", i)
	r := Retarder{Kind: RetarderKind(in.Kind), Name: in.Name, StageSharePct: in.StageSharePct}
	if r.Kind == DrivelineRetarder {
		r.TorqueLimitNm = b.need(path+".torque_limit_nm", in.TorqueLimitNm)
		r.SustainedPowerW = b.need(path+".sustained_power_w", in.SustainedPowerW)
		r.CoolingTempC = b.or(path+".cooling_temp_c", in.CoolingTempC, defaultCoolingTempC, "°C", "air up to which the sustained power is carried", "default")
		if len(in.PowerWByRPM) > 0 || len(in.Stages) > 0 {
			b.rep.key(path, "a driveline retarder has a torque limit and a sustained power, no curve by engine speed", "remove the curve, or say kind = \"engine\"")
		}
	} else if in.TorqueLimitNm != nil || in.SustainedPowerW != nil || in.CoolingTempC != nil {
		b.rep.key(path, "an engine retarder has a curve, no torque limit, sustained power or cooling temperature", "remove them, or say kind = \"driveline\"")
	}
	r.StrongestPct = 100
	if r.Kind == EngineRetarder || in.StrongestPct != nil {
		r.StrongestPct = b.or(path+".strongest_pct", in.StrongestPct, defaultStrongestPct, "%", "the strongest compression brakes of a class over its weakest, 31 to 27 kW a litre", "from memory")
	}
	if len(r.StageSharePct) == 0 && len(in.Stages) == 0 {
		r.StageSharePct = []float64{100}
		b.note(path+".stage_share_pct", "100 %", "one stage, on or off", "default")
	}
	if r.Kind == EngineRetarder {
		b.engineStages(path, in, &r)
	}
	return r
}

// engineStages takes the curves of an engine brake: one a stage, or one with its shares.
func (b builder) engineStages(path string, in *retarderTOML, r *Retarder) {
	switch {
	case len(in.Stages) > 0 && len(in.PowerWByRPM) > 0:
		b.rep.key(path, "gives both power_w_by_rpm and stages_power_w_by_rpm", "give one curve with stage_share_pct, or one curve a stage")
	case len(in.Stages) > mostStages || len(r.StageSharePct) > mostStages:
		b.rep.key(path, fmt.Sprintf("has over %d stages", mostStages), "give the stages of the lever")
	case len(in.Stages) > 0:
		for s, points := range in.Stages {
			r.Stages = append(r.Stages, b.curve(fmt.Sprintf("%s.stages_power_w_by_rpm", path), fmt.Sprintf("stage %d ", s+1), points))
		}
	case len(in.PowerWByRPM) > 0:
		top := b.curve(path+".power_w_by_rpm", "", in.PowerWByRPM)
		for _, share := range r.StageSharePct {
			r.Stages = append(r.Stages, top.Scaled(share/100))
		}
	default:
		b.rep.key(path+".power_w_by_rpm", "is missing", "give the maker's curve, [[rpm, W], …]")
	}
}

// curve checks the shape of a curve's points; validate checks the figures.
func (b builder) curve(path, label string, points [][]float64) Curve {
	if len(points) > mostCurve {
		b.rep.key(path, fmt.Sprintf("%shas %d points", label, len(points)), fmt.Sprintf("keep to %d", mostCurve))
		return nil
	}
	var c Curve
	for i, p := range points {
		if len(p) != 2 {
			b.rep.key(path, fmt.Sprintf("%spoint %d has %d figures", label, i+1, len(p)), "write each point as [rpm, W]")
			return nil
		}
		c = append(c, CurvePoint{p[0], p[1]})
	}
	return c
}

// radius takes the one way in which the tyre is given.
func (b builder) radius(in *truckTOML) float64 {
	given := 0
	var m float64
	if in.RollingRadiusM != nil {
		given, m = given+1, *in.RollingRadiusM
	}
	if in.TyreRevsPerMi != nil {
		given, m = given+1, RollingRadiusMFromRevsPerMi(*in.TyreRevsPerMi)
	}
	if in.TyreSize != nil {
		var err error
		if m, err = RollingRadiusMFromTyreSize(*in.TyreSize); err != nil {
			b.rep.key("truck.tyre_size", err.Error(), "give the size on the sidewall, or tyre_revs_per_mi")
		}
		given++
	}
	if given != 1 {
		b.rep.key("truck.rolling_radius_m", fmt.Sprintf("the tyre is given %d times", given), "give one of rolling_radius_m, tyre_revs_per_mi and tyre_size")
	}
	return m
}

func (b builder) text(path string, v *string) string {
	if v == nil {
		b.rep.key(path, "is missing", "add it")
		return ""
	}
	return *v
}

func (b builder) need(path string, v *float64) float64 {
	if v == nil {
		b.rep.key(path, "is missing", "add it; there is no safe default")
		return 0
	}
	return *v
}

// or takes the figure or its default, and notes the default.
func (b builder) or(path string, v *float64, def float64, unit, source, status string) float64 {
	if v != nil {
		return *v
	}
	value := fmt.Sprintf("%.4g", def)
	if unit != "" {
		value += " " + unit
	}
	b.note(path, value, source, status)
	return def
}

func (b builder) note(path, value, source, status string) {
	b.c.Defaults = append(b.c.Defaults, Default{b.c.ID, path, value, source, status})
}

// units takes the unit of the class's country, in which advice is rounded.
func (b builder) units(v *string) catalog.Units {
	if v == nil {
		b.note("units", "metric", "speeds in km/h", "default")
		return catalog.Metric
	}
	u, err := catalog.ParseUnits(*v)
	if err != nil {
		b.rep.key("units", fmt.Sprintf("%q is no unit system", *v), `use "us" or "metric"`)
	}
	return u
}

// gearNames takes the names on the lever, or the usual ones of a box with so many gears.
func (b builder) gearNames(in *truckTOML) {
	t := &b.c.Truck
	if in.GearNames != nil {
		t.GearNames = in.GearNames
		return
	}
	t.GearNames = UsualGearNames(len(in.GearRatios))
	if n := len(t.GearNames); n > 0 {
		b.note("truck.gear_names", t.GearNames[0]+" … "+t.GearNames[n-1], "the usual lever or display of a box with so many gears", "from memory")
	}
}

// emptyLoads fills in the loads of the empty truck where the file gives none: with
// three quarters of the loaded share on the retarded axles, the unsafe end for grip.
func (b builder) emptyLoads(in *truckTOML) {
	t := &b.c.Truck
	given := 0
	var full, on float64
	for i := range in.Axles {
		if in.Axles[i].EmptyKg != nil {
			given++
		}
		full += t.Axles[i].LoadKg
		if t.Axles[i].Retarded {
			on += t.Axles[i].LoadKg
		}
	}
	switch {
	case given == len(in.Axles) || full <= 0:
		return
	case given > 0:
		b.rep.key("truck.axle", "some groups give empty_kg and some don't", "give it for all or for none")
		return
	}
	b.note("truck.axle.empty_kg", fmt.Sprintf("%g of the loaded share on the retarded axles", defaultEmptyShare), "an empty truck has less of its mass there; the unsafe end for grip", "default")
	empty, onEmpty := b.c.MassMinKg, b.c.MassMinKg*defaultEmptyShare*on/full
	for i := range t.Axles {
		a := &t.Axles[i]
		if a.Retarded {
			a.EmptyKg = a.LoadKg / on * onEmpty
		} else {
			a.EmptyKg = a.LoadKg / (full - on) * (empty - onEmpty)
		}
	}
}
