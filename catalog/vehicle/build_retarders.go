package vehicle

import (
	"fmt"
	"slices"

	"gradeline/catalog"
)

func (b builder) retarder(i int, in *retarderTOML) Retarder {
	path := fmt.Sprintf("truck.retarder[%d]", i)
	r := Retarder{Kind: RetarderKind(in.Kind), Name: in.Name, StageSharePct: in.StageSharePct}
	if !slices.Contains(kindsInOrder, r.Kind) {
		return r // the checks say so
	}
	torqueNm := b.figure(path+".torque_limit_nm", in.TorqueLimitNm, in.TorqueLimit, catalog.DimensionTorqueNm)
	sustainedW := b.figure(path+".sustained_power_w", in.SustainedPowerW, in.SustainedPower, catalog.DimensionPowerW)
	coolingC := b.tempC(path+".cooling_temp_c", in.CoolingTempC, in.CoolingTemp)
	hasCurve, hasStages := isAnyGiven(in.curveKeys()), isAnyGiven(in.stageKeys())
	if r.Kind == EngineRetarder {
		if torqueNm != nil || sustainedW != nil || coolingC != nil {
			b.rep.fault(path, "an engine retarder has a curve, no torque limit, sustained power or cooling temperature", "remove them, or say kind = \"driveline\"")
		}
	} else {
		r.TorqueLimitNm = b.need(path+".torque_limit_nm", torqueNm)
		r.SustainedPowerW = b.need(path+".sustained_power_w", sustainedW)
		if hasCurve || hasStages {
			b.rep.fault(path, fmt.Sprintf("a %s retarder has a torque limit and a sustained power, no curve by engine speed", in.Kind), "remove the curve, or say kind = \"engine\"")
		}
	}
	b.cooling(path, in, coolingC, &r)
	b.battery(path, in, &r)
	r.StrongestPct = 100
	if r.Kind == EngineRetarder || in.StrongestPct != nil {
		r.StrongestPct = b.or(path+".strongest_pct", in.StrongestPct, defaultStrongestPct, "%", "the strongest compression brakes of a class over its weakest, 31 to 27 kW a litre", "from memory")
	}
	if len(r.StageSharePct) == 0 && !hasStages {
		r.StageSharePct = []float64{100}
		b.note(path+".stage_share_pct", "100 %", "one stage, on or off; the lever's own steps lock the wheels less, so give them", "default")
	}
	if r.Kind == EngineRetarder {
		b.engineStages(path, in, &r)
	}
	return r
}

// cooling takes where a retarder's sustained power is carried off.
func (b builder) cooling(path string, in *retarderTOML, tempC *float64, r *Retarder) {
	if r.Kind == DrivelineRetarder || r.Kind == TrailerRetarder {
		r.CoolingTempC = b.or(path+".cooling_temp_c", tempC, defaultCoolingTempC, "°C", "air up to which the sustained power is carried", "default")
	}
	switch {
	case r.Kind == DrivelineRetarder:
		r.CoolingRPM = b.or(path+".cooling_rpm", in.CoolingRPM, b.c.Truck.EngineMaxRPM, "rpm", "the governed speed: the slower the engine, the slower the coolant's pump; a bound", "default")
	case in.CoolingRPM != nil:
		b.rep.fault(path+".cooling_rpm", "only a driveline retarder is cooled by the engine's pump", "remove it")
	}
}

// battery takes what recuperation fills. Without a charge at the crest the battery counts
// as full there: recuperation then holds nothing.
func (b builder) battery(path string, in *retarderTOML, r *Retarder) {
	wh := b.figure(path+".battery_wh", in.BatteryWh, in.Battery, catalog.DimensionEnergyWh)
	if r.Kind != Recuperation && (r.Kind != TrailerRetarder || wh == nil) {
		if wh != nil || in.ChargeAtCrestPct != nil || in.ChargeFullPct != nil {
			b.rep.fault(path, "only recuperation and an electric trailer axle have a battery", "remove its keys, or say kind = \"recuperation\"")
		}
		return
	}
	r.Battery = Battery{
		CapacityWh: b.need(path+".battery_wh", wh),
		FullPct:    b.or(path+".charge_full_pct", in.ChargeFullPct, defaultChargeFullPct, "%", "from here on batteries take less and less", "from memory"),
	}
	r.Battery.CrestPct = b.or(path+".charge_at_crest_pct", in.ChargeAtCrestPct, r.Battery.FullPct, "%", "full at the crest, the unsafe end: recuperation is not counted", "default")
}

// engineStages takes the curves of an engine brake: one a stage, or one with its shares.
func (b builder) engineStages(path string, in *retarderTOML, r *Retarder) {
	curvePath := path + ".power_w_by_rpm" // of which the checks speak
	stages, unit, hasStages := onlyOne(b, path+".", curvePath, in.stageKeys())
	if hasStages && isAnyGiven(in.curveKeys()) {
		b.rep.fault(path, "gives one curve and one curve a stage", "give one curve with stage_share_pct, or one curve a stage")
		return
	}
	if len(stages) > mostStages || len(r.StageSharePct) > mostStages {
		b.rep.fault(path, fmt.Sprintf("has over %d stages", mostStages), "give the stages of the lever")
		return
	}
	if hasStages {
		for s, points := range stages {
			r.Stages = append(r.Stages, b.curve(curvePath, fmt.Sprintf("stage %d ", s+1), points, unit))
		}
		return
	}
	points, unit, isGiven := onlyOne(b, path+".", curvePath, in.curveKeys())
	if !isGiven {
		b.rep.fault(curvePath, "is missing", "give the maker's curve: power_kw_by_rpm, power_hp_by_rpm or torque_nm_by_rpm")
		return
	}
	top := b.curve(curvePath, "", points, unit)
	for _, share := range r.StageSharePct {
		r.Stages = append(r.Stages, top.Scaled(share/100))
	}
}

// curve checks the shape of a curve's points; validate checks the figures. One point is
// taken down to the lowest retarding speed as the square of the engine speed.
func (b builder) curve(path, label string, points [][]float64, unit pointUnit) Curve {
	if len(points) > mostCurve {
		b.rep.fault(path, fmt.Sprintf("%shas %d points", label, len(points)), fmt.Sprintf("keep to %d", mostCurve))
		return nil
	}
	var c Curve
	for i, p := range points {
		if len(p) != 2 {
			b.rep.fault(path, fmt.Sprintf("%spoint %d has %d figures", label, i+1, len(p)), "write each point as [rpm, figure]")
			return nil
		}
		c = append(c, CurvePoint{p[0], unit.powerW(p[0], p[1])})
	}
	if least := b.c.Truck.EngineMinRPM; len(c) == 1 && least > 0 && c[0].RPM > least && c[0].RPM < 1e4 {
		b.note(path, fmt.Sprintf("%s%.0f kW at %.0f rpm, falling as the square of engine speed", label, c[0].PowerW/1000, c[0].RPM), "one point given; compression brakes fall roughly as the power 1.5 to 2 of engine speed, and the square is the low end", "from memory")
		return c[0].downTo(least)
	}
	return c
}

// downTo is a curve from an engine speed up to the point, as the square of engine speed.
func (p CurvePoint) downTo(leastRPM float64) Curve {
	const stepRPM = 100.0
	var c Curve
	for rpm := leastRPM; rpm < p.RPM-1; rpm += stepRPM {
		c = append(c, CurvePoint{rpm, p.PowerW * (rpm / p.RPM) * (rpm / p.RPM)})
	}
	return append(c, p)
}

// engineDrag takes what the engine's own drag holds without an engine brake: a curve, or
// the displacement. An engine brake's curve counts that drag already.
func (b builder) engineDrag(in *truckTOML) {
	t := &b.c.Truck
	const path = "truck.engine_drag_w_by_rpm"
	points, unit, isGiven := onlyOne(b, "truck.", path, powerKeys("engine_drag_%s_by_rpm", in.EngineDragWByRPM, in.EngineDragKWByRPM, in.EngineDragHPByRPM))
	litres := b.figure("truck.engine_displacement_l", in.EngineDisplacementL, in.EngineDisplacement, catalog.DimensionVolumeL)
	switch {
	case t.hasEngineBrake() && isGiven:
		b.rep.fault(path, "the engine brake's curve counts the engine's own drag already", "remove it")
	case t.hasEngineBrake():
	case isGiven:
		t.EngineDrag = b.curve(path, "", points, unit)
	case in.EngineDisplacement != nil && litres == nil:
		b.rep.tellNoMore("truck.retarder") // it is not missing, but unreadable
	case litres != nil && !(*litres >= leastEngineL && *litres <= mostEngineL):
		within("truck.engine_displacement_l", *litres, leastEngineL, mostEngineL, "l", b.rep)
		b.rep.tellNoMore("truck.retarder")
	case litres != nil:
		t.EngineDrag = EngineDragFromDisplacement(*litres, t.EngineMinRPM, t.EngineMaxRPM)
		b.note(path, fmt.Sprintf("%.0f kW at %.0f rpm", t.EngineDrag.PowerW(t.EngineMaxRPM)/1000, t.EngineMaxRPM), "from the displacement: a mean pressure of 75 kPa + 48 kPa for each 1,000 rpm, Heywood, Internal Combustion Engine Fundamentals, section 13.6, its term of piston speed left out", "from memory")
	}
}

// tank takes what part-full liquid leaves of the rollover threshold.
func (b builder) tank(in *classTOML) {
	c := b.c
	c.PartFullTank = in.PartFullTank
	switch {
	case c.PartFullTank:
		c.SurgeShare = b.or("surge_share", in.SurgeShare, defaultSurgeShare, "", "liquid that swings to the outside of a curve, at first up to twice as far as it settles; a bound", "from memory")
	case in.SurgeShare != nil:
		b.rep.fault("surge_share", "is for part-full tankers", "say part_full_tank = true, or remove it")
	}
}
