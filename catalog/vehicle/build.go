package vehicle

import (
	"fmt"
	"math"

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
	defaultPowerWPerKg     = 5.0
	defaultSurgeShare      = 0.5
	defaultChargeFullPct   = 90.0
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
	c.MassMinKg = b.need("mass_min_kg", b.figure("mass_min_kg", in.MassMinKg, in.MassMin, catalog.DimensionMassKg))
	c.MassMaxKg = b.need("mass_max_kg", b.figure("mass_max_kg", in.MassMaxKg, in.MassMax, catalog.DimensionMassKg))
	country := b.country(in.Country)
	c.Units = b.units(in.Units, country)
	if in.Legal == nil {
		rep.fault("legal", "is missing", `say where the upper mass comes from: legal = { source = "…", status = "…" }`)
	} else {
		c.Legal = catalog.Source{Document: in.Legal.Text, Status: in.Legal.Status}
	}
	speedMPS := b.figure("speed_max_mps", in.SpeedMaxMPS, in.SpeedMax, catalog.DimensionSpeedMPS)
	c.SpeedMaxMPS = b.or("speed_max_mps", speedMPS, defaultSpeedMaxMPS, "m/s", "90 km/h, the European truck limiter; Directive 92/6/EEC", "from memory")
	c.RolloverShare = b.or("rollover_share", in.RolloverShare, defaultRollover, "of g", "7 of 17 tank trucks tested lay under it; National Research Council Canada tilt tests", "published")
	b.tank(in)
	for _, s := range in.Sources {
		c.Sources = append(c.Sources, FigureSource{s.Figure, s.Text, s.Status})
	}
	if in.Truck == nil {
		rep.fault("truck", "is missing", "add [class.truck]")
		return c
	}
	b.truck(in.Truck, country)
	b.signLimits(in)
	c.validate(rep)
	return c
}

func (b builder) truck(in *truckTOML, country string) {
	t := &b.c.Truck
	t.GearRatios = in.GearRatios
	b.gearNames(in)
	t.FinalDrive = b.need("truck.final_drive", in.FinalDrive)
	t.RollingRadiusM = b.radius(in)
	t.EngineMinRPM = b.need("truck.engine_rpm_min", in.EngineMinRPM)
	t.EngineMaxRPM = b.need("truck.engine_rpm_max", in.EngineMaxRPM)
	t.DrivelineEfficiency = b.or("truck.driveline_efficiency", in.DrivelineEfficiency, defaultEfficiency, "", "no loss counted, the unsafe end", "default")
	areaM2 := b.figure("truck.drag_area_m2", in.DragAreaM2, in.DragArea, catalog.DimensionAreaM2)
	t.DragAreaM2 = b.or("truck.drag_area_m2", areaM2, defaultDragM2, "m²", "a smooth tractor and van body", "from memory")
	t.ReservePct = b.or("truck.reserve_pct", in.ReservePct, defaultReservePct, "%", "the share kept in reserve", "default")
	heightM := b.figure("truck.altitude_full_m", in.AltitudeFullM, in.AltitudeFull, catalog.DimensionHeightM)
	t.AltitudeFullM = b.or("truck.altitude_full_m", heightM, defaultAltitudeFullM, "m", "a turbocharger makes up for thin air so far", "default")
	t.AltitudeLossPctPerKM = b.or("truck.altitude_loss_pct_per_km", in.AltitudeLossPctPerKM, defaultAltitudeLossPct, "%/km", "3 % for each 1,000 ft, a truck maker's driver manual for engines without a turbocharger; taken for engine brakes as a bound", "published")
	for i, a := range in.Axles {
		path := fmt.Sprintf("truck.axle[%d]", i)
		g := AxleGroup{Name: a.Name, Driven: a.Driven, Retarded: a.Driven}
		if a.Retarded != nil {
			g.Retarded = *a.Retarded
		}
		in.Axles[i].LoadKg = b.figure(path+".load_kg", a.LoadKg, a.Load, catalog.DimensionMassKg)
		in.Axles[i].EmptyKg = b.figure(path+".empty_kg", a.EmptyKg, a.Empty, catalog.DimensionMassKg)
		g.LoadKg = b.need(path+".load_kg", in.Axles[i].LoadKg)
		if kg := in.Axles[i].EmptyKg; kg != nil {
			g.EmptyKg = *kg
		}
		if a.Axles == nil {
			b.rep.fault(path+".axles", "is missing", "say how many axles the group has")
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
	if t.RollingResistance = b.axleRolling(in); t.RollingResistance == 0 {
		t.RollingResistance = b.or("truck.rolling_resistance", in.RollingResistance, defaultRolling, "", "lowest axle figure of National Research Council 2010, table G-1", "published")
	}
	b.emptyLoads(in)
	for i := range in.Retarders {
		t.Retarders = append(t.Retarders, b.retarder(i, &in.Retarders[i]))
	}
	b.engineDrag(in)
	b.serviceBrakes(in.ServiceBrakes, country)
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
		b.rep.fault("truck.axle", "some groups give rolling_resistance and some don't", "give it for all or for none")
	case in.RollingResistance != nil:
		b.rep.fault("truck.rolling_resistance", "is given for the truck and for its axle groups", "give one of them")
	}
	return RollingResistanceFromAxles(loads, resistances)
}

// radius takes the one way in which the tyre is given.
func (b builder) radius(in *truckTOML) float64 {
	const path = "truck.rolling_radius_m"
	given, as := 0, writtenKey{}
	var m float64
	if r := b.figure(path, in.RollingRadiusM, in.RollingRadius, catalog.DimensionLengthM); r != nil {
		given, m = given+1, *r
	}
	for _, k := range []struct {
		key, otherKey string
		perM, otherM  float64
		written       *float64
	}{{"tyre_revs_per_mi", "tyre_revs_per_km", catalog.MileM, 1000, in.TyreRevsPerMi}, {"tyre_revs_per_km", "tyre_revs_per_mi", 1000, catalog.MileM, in.TyreRevsPerKM}} {
		if k.written != nil {
			given, m = given+1, k.perM/(2*math.Pi**k.written)
			if least, most := k.perM/(2*math.Pi*mostRadiusM), k.perM/(2*math.Pi*leastRadiusM); !(*k.written >= least && *k.written <= most) {
				b.rep.fault("truck."+k.key, fmt.Sprintf("%g is impossible", *k.written), fmt.Sprintf("give a figure between %.0f and %.0f", math.Ceil(least), math.Floor(most))+otherRevs(k.otherKey, k.otherM, *k.written))
				b.rep.tellNoMore(path)
			}
			as = writtenKey{path: "truck." + k.key, show: func(si float64) string { return fmt.Sprintf("%.0f", k.perM/(2*math.Pi*si)) }}
		}
	}
	if in.TyreSize != nil {
		var err error
		if m, err = RollingRadiusMFromTyreSize(*in.TyreSize); err != nil {
			b.rep.fault("truck.tyre_size", err.Error(), "a size without a slash, such as 11R22.5, does not state the tyre's height: give tyre_revs_per_mi or tyre_revs_per_km of the tyre maker")
		}
		given++
		as = writtenKey{path: "truck.tyre_size", text: *in.TyreSize}
	}
	switch {
	case given == 1 && as.path != "":
		b.rep.writes(path, as)
	case given != 1 && in.RollingRadius == nil:
		what := "is given more than once"
		if given == 0 {
			what = "is not given"
		}
		b.rep.fault(path, "the tyre "+what, "give one of rolling_radius_m, tyre_revs_per_mi, tyre_revs_per_km and tyre_size")
	}
	return m
}

// otherRevs names the key for the other length of road, where a figure fits that one.
func otherRevs(key string, perM, revs float64) string {
	if m := perM / (2 * math.Pi * revs); m >= leastRadiusM && m <= mostRadiusM {
		return ", or say " + key
	}
	return ""
}

func (b builder) text(path string, v *string) string {
	if v == nil {
		b.rep.fault(path, "is missing", "add it")
		return ""
	}
	return *v
}

func (b builder) need(path string, v *float64) float64 {
	if v == nil {
		b.rep.fault(path, "is missing", "add it; there is no safe default")
		return 0
	}
	return *v
}

// or returns the figure or its default, and notes the default.
func (b builder) or(path string, v *float64, def float64, unit, source, status string) float64 {
	if v != nil {
		return *v
	}
	value := fmt.Sprintf("%.4g", def)
	if def >= 10_000 { // no 2e+05
		value = fmt.Sprintf("%.0f", def)
	}
	if unit != "" {
		value += " " + unit
	}
	b.note(path, value, source, status)
	return def
}

func (b builder) note(path, value, source, status string) {
	b.c.Defaults = append(b.c.Defaults, Default{b.c.ID, path, value, source, status})
}

// gearNames reads the names on the lever, or uses the usual ones of a gearbox with that number of
// gears.
func (b builder) gearNames(in *truckTOML) {
	t := &b.c.Truck
	if in.GearNames != nil {
		t.GearNames = in.GearNames
		return
	}
	t.GearNames = UsualGearNames(len(in.GearRatios))
	if n := len(t.GearNames); n > 0 {
		b.note("truck.gear_names", t.GearNames[0]+" … "+t.GearNames[n-1], "the usual lever or display of a gearbox with this number of gears", "from memory")
	}
}

// emptyLoads fills in the loads of the empty truck where the file has none: with
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
		b.rep.fault("truck.axle", "some groups give empty_kg and some don't", "give it for all or for none")
		return
	}
	b.note("truck.axle.empty_kg", fmt.Sprintf("%g of the loaded share on the retarded axles", defaultEmptyShare), "an empty truck has less of its mass there; the unsafe end for grip", "default")
	empty, onEmpty := b.c.MassMinKg, b.c.MassMinKg*defaultEmptyShare*on/full
	if on >= full { // every axle is retarded
		onEmpty = empty
	}
	for i := range t.Axles {
		a := &t.Axles[i]
		if a.Retarded {
			a.EmptyKg = a.LoadKg / on * onEmpty
		} else {
			a.EmptyKg = a.LoadKg / (full - on) * (empty - onEmpty)
		}
	}
}
